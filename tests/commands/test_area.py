"""`reach area` as a user runs it: answers, files, refusals, and nothing left behind."""

from __future__ import annotations

import csv
import io
import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import rasterio

from reach.commands import area as area_command
from reach.coverage.area import memory

Run = Callable[..., subprocess.CompletedProcess[str]]

QUICK = ("--radius", "6 km", "--resolution", "120 m")


def test_one_repeater_into_every_kind_of_file(club: Path, reach_here: Run, tmp_path: Path) -> None:
    names = {kind: tmp_path / f"area.{kind}" for kind in ("tif", "geojson", "kml", "html", "json", "csv")}
    done = reach_here(
        "area", club, "qk3ra", *QUICK, "--kind", "handheld", "--geotiff", names["tif"],
        "--geojson", names["geojson"], "--kml", names["kml"], "--map", names["html"],
        "--json", names["json"], "--csv", names["csv"],
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("A handheld in the hand works QK3RA from ")
    assert "memory" in done.stderr and "Prediction, not a promise" in done.stdout
    with rasterio.open(names["tif"]) as raster:
        assert raster.descriptions == (
            "path_loss", "talk_in_margin", "talk_out_margin", "chance", "fresnel_clearance", "land",
        )  # fmt: skip
        assert raster.tags()["SITE"] == "QK3RA" and raster.shape == (101, 101)
        margin = np.where(raster.read(6) == 1.0, np.minimum(raster.read(2), raster.read(3)), np.nan)
    answer = json.loads(names["json"].read_text(encoding="utf-8"))["answers"]
    served = np.count_nonzero(margin >= 0.0) * 0.0144
    assert answer["sites"][0]["figures"]["served_km2"] == pytest.approx(served)
    rows = list(csv.DictReader(io.StringIO(names["csv"].read_text(encoding="utf-8"))))
    assert [row["grade"] for row in rows] == ["clear", "solid", "workable", "weak", "none"]
    assert sum(float(row["land_km2"]) for row in rows[:3]) == pytest.approx(served, abs=0.01)
    features = json.loads(names["geojson"].read_text(encoding="utf-8"))["features"]
    assert sum(f["properties"]["area_km2"] for f in features) <= 115.0
    by_grade = {f["properties"]["grade"]: f["properties"]["land_km2"] for f in features}
    for row in rows:
        if row["grade"] in by_grade:
            assert by_grade[row["grade"]] == pytest.approx(float(row["land_km2"]), abs=0.05)
    ElementTree.parse(names["kml"])
    page = names["html"].read_text(encoding="utf-8")
    assert "how sure a handheld in the hand is to work QK3RA" in page and "data:image/png;base64," in page
    assert "where the coverage is from" in page and '"links": []' in page.replace('"links":[]', '"links": []')
    assert sorted(tmp_path.iterdir()) == sorted(names.values())


def test_several_sites_together_and_kept_between_runs(club: Path, reach_here: Run, tmp_path: Path) -> None:
    keep, target = tmp_path / "kept", tmp_path / "best.tif"
    done = reach_here(
        "area", club, "QK3RA", "QK3RB", *QUICK, "--kind", "mobile", "--keep", keep, "--geotiff", target,
        "--map", tmp_path / "best.html",
    )  # fmt: skip
    drawn = (tmp_path / "best.html").read_text(encoding="utf-8")
    assert "how sure a mobile is to work QK3RA or QK3RB" in drawn
    assert "how many of QK3RA, QK3RB it works" in drawn and "2 of them" in drawn
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("A mobile works QK3RA or QK3RB from ") and "has neither." in done.stdout
    kept = {path: path.stat().st_mtime_ns for path in keep.iterdir()}
    assert len(kept) == 2
    with rasterio.open(target) as raster:
        assert raster.descriptions == ("best_margin", "best_chance", "served_by", "best_site", "land")
        assert raster.tags()["SITES"] == "QK3RA QK3RB"
        served_by, land = raster.read(3), raster.read(5)
        cell_km2 = raster.transform.a * -raster.transform.e / 1e6
    ashore = land == 1.0  # what the answer says, from the file alone
    said = [float(text.replace(",", "")) for text in re.findall(r"([\d,]+) km²", done.stdout.split(".")[0])]
    assert said == [
        round(np.count_nonzero(ashore & of) * cell_km2)
        for of in (served_by >= 1.0, served_by >= 2.0, served_by == 0.0)
    ]
    again = reach_here("area", club, "QK3RA", "QK3RB", *QUICK, "--kind", "mobile", "--keep", keep)
    assert again.returncode == 0
    assert {path: path.stat().st_mtime_ns for path in keep.iterdir()} == kept
    assert again.stdout == done.stdout


def test_the_headline_of_several_sites_is_counted_again_from_the_file_alone(
    club: Path, reach_here: Run, tmp_path: Path
) -> None:
    target = tmp_path / "best.tif"
    done = reach_here(
        "area", club, "QK3RB", "QK3RA", "QK3CDR", "--radius", "30 km", "--resolution", "200 m",
        "--geotiff", target, columns=400,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    with rasterio.open(target) as raster:
        tags = raster.tags()
        band = dict(zip(raster.descriptions, raster.read(), strict=True))
        cell_km2 = raster.res[0] * raster.res[1] / 1e6
    assert float(tags["CELL_M"]) ** 2 / 1e6 == pytest.approx(cell_km2)
    known_land = (band["land"] == 1.0) & ~np.isnan(band["best_margin"])
    assert np.count_nonzero(band["land"] == 0.0) > 0  # there is sea, and it must not count

    def km2(cells: np.ndarray) -> str:
        return f"{np.count_nonzero(known_land & cells) * cell_km2:,.0f} km²"

    served = band["served_by"] >= 1.0
    share = np.count_nonzero(known_land & served) / np.count_nonzero(known_land)
    best = ", ".join(
        f"{call} {km2(band['best_site'] == number)}" for number, call in enumerate(tags["SITES"].split())
    )
    *others, last = tags["SITES"].split()
    rebuilt = (
        f"A handheld in the hand works {', '.join(others)} or {last} "
        f"from {share:.0%} of the known land within {tags['RADIUS_KM']} km of any of them ({km2(served)}): "
        f"{km2(band['served_by'] >= 2.0)} has two or more, {km2(band['served_by'] == 0.0)} has none."
    )
    assert tags["HEADLINE"] == rebuilt
    first, second = done.stdout.splitlines()[:2]
    assert (first, second.strip()) == (rebuilt, f"Best served by: {best}.")
    assert "served_by >= 1" in tags["FIGURES"] and "land = 1" in tags["FIGURES"]


def test_outlines_tell_land_from_sea(club: Path, reach_here: Run, tmp_path: Path) -> None:
    done = reach_here(
        "area", club, "QK3RA", "--radius", "30 km", "--resolution", "200 m", "--kind", "mobile",
        "--kml", tmp_path / "a.kml", "--geojson", tmp_path / "a.geojson", "--json", tmp_path / "a.json",
        "--geotiff", tmp_path / "a.tif",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    figures = json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["answers"]["sites"][0]["figures"]
    assert figures["served_sea_km2"] > 10.0
    found = json.loads((tmp_path / "a.geojson").read_text(encoding="utf-8"))["features"]
    works = [f["properties"] for f in found if f["properties"]["readability"] >= 3]
    assert sum(one["land_km2"] for one in works) == pytest.approx(figures["served_km2"], abs=0.01)
    assert sum(one["sea_km2"] for one in works) == pytest.approx(figures["served_sea_km2"], abs=0.01)
    placemarks = ElementTree.parse(tmp_path / "a.kml").iter("{http://www.opengis.net/kml/2.2}Placemark")
    names = [mark[0].text or "" for mark in placemarks]
    said = [re.fullmatch(r".*, R(\d): ([\d,.]+) km² of land(?: and ([\d,.]+) km² of sea)?", n) for n in names]
    assert said and all(said)
    land_km2, sea_km2 = (
        sum(float((one[part] or "0").replace(",", "")) for one in said if one and int(one[1]) >= 3)
        for part in (2, 3)
    )
    assert land_km2 == pytest.approx(figures["served_km2"], abs=0.2)  # each is rounded to a tenth
    assert sea_km2 == pytest.approx(figures["served_sea_km2"], abs=0.2)
    with rasterio.open(tmp_path / "a.tif") as raster:
        band = dict(zip(raster.descriptions, raster.read(), strict=True))
        tags = raster.tags()
    works_here = (band["talk_in_margin"] >= 0.0) & (band["talk_out_margin"] >= 0.0)
    known_land = (band["land"] == 1.0) & ~np.isnan(band["chance"])
    share = np.count_nonzero(known_land & works_here) / np.count_nonzero(known_land)
    assert tags["HEADLINE"].startswith(f"A mobile works QK3RA from {share:.0%} of the ")


def test_a_member_on_simplex(club: Path, reach_here: Run) -> None:
    done = reach_here("area", club, "QK3CDR", *QUICK, "--kind", "base", "--json", "-")
    assert done.returncode == 0, done.stderr
    answer = json.loads(done.stdout)["answers"]
    assert answer["station_kind"] == "base" and answer["sites"][0]["call_sign"] == "QK3CDR"


def copied_club(club: Path, folder: Path) -> Path:
    """A folder with the club's files on the club's own terrain, to change."""
    folder.mkdir()
    for name in ("net.toml", "roster.csv"):
        (folder / name).write_text((club / name).read_text(encoding="utf-8"), encoding="utf-8")
    os.symlink(club / "terrain", folder / "terrain")
    return folder


def in_woods(club: Path, folder: Path) -> Path:
    """The club with woods on all its ground."""
    woods = copied_club(club, folder)
    with rasterio.open(
        woods / "cover.tif", "w", driver="GTiff", width=90, height=90, count=1, dtype="uint8",
        crs="EPSG:4326", transform=rasterio.Affine(0.01, 0, -38.5, 0, -0.01, 41.75),
    ) as sink:  # fmt: skip
        sink.write(np.full((90, 90), 10, np.uint8), 1)
    toml = (woods / "net.toml").read_text(encoding="utf-8")
    toml = toml.replace("[terrain]", '[terrain]\nland_cover = "cover.tif"')
    (woods / "net.toml").write_text(toml, encoding="utf-8")
    return woods


def test_what_stands_on_the_ground_counts_and_is_said(club: Path, reach_here: Run, tmp_path: Path) -> None:
    served = []
    for folder, words in (
        (club, "what stands round the stations"),
        (in_woods(club, tmp_path / "woods"), "land cover of the raster"),
    ):
        done = reach_here("area", folder, "QK3CDR", *QUICK, "--json", "-")
        assert done.returncode == 0, done.stderr
        answer = json.loads(done.stdout)
        said = " ".join(answer["assumed"])
        assert f"on the ground {words}" in said and "all of it taken as inland, the sea too" in said
        served.append(answer["answers"]["sites"][0]["figures"]["served_km2"])
    assert served[1] < served[0]


def test_a_model_without_a_sweep_is_refused_and_what_to_do_said(
    club: Path, reach_here: Run, tmp_path: Path
) -> None:
    other = copied_club(club, tmp_path / "itm")
    toml = (other / "net.toml").read_text(encoding="utf-8").replace("[net]", '[net]\nmodel = "itm"')
    (other / "net.toml").write_text(toml, encoding="utf-8")
    done = reach_here("area", other, "QK3RA", *QUICK)
    assert done.returncode == 2 and done.stdout == ""
    assert "areas cannot be computed by itm" in done.stderr and "set model in net.toml to auto" in done.stderr


def test_ground_beyond_the_tiles_is_marked_and_reported(club: Path, reach_here: Run, tmp_path: Path) -> None:
    page = tmp_path / "a.html"
    done = reach_here(
        "area", club, "QK3FRN", "--radius", "20 mi", "--resolution", "656 ft", "--json", tmp_path / "a.json",
        "--map", page,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    assert "the elevation tiles do not reach there" in done.stdout and "of the known land" in done.stdout
    answer = json.loads((tmp_path / "a.json").read_text(encoding="utf-8"))["answers"]
    figures = answer["sites"][0]["figures"]
    assert 0.1 < figures["unknown_share"] < 0.9
    assert figures["land_km2"] + figures["sea_km2"] == pytest.approx(
        figures["circle_km2"] * (1.0 - figures["unknown_share"])
    )
    assert answer["cell_m"] == pytest.approx(199.95, abs=0.01)
    assert answer["radius_km"] == pytest.approx(32.187, abs=0.001)
    drawn = page.read_text(encoding="utf-8")
    assert "beyond the area" in drawn and "not known: no elevation here" in drawn


def test_where_one_way_works_only_is_said_and_drawn(club: Path, reach_here: Run, tmp_path: Path) -> None:
    page = tmp_path / "a.html"
    done = reach_here(
        "area", club, "QK3RB", "--radius", "30 km", "--resolution", "300 m", "--map", page,
        "--geotiff", tmp_path / "a.tif",
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = re.search(r"from (\d+)% more it hears QK3RB but does not get in", " ".join(done.stdout.split()))
    assert found is not None, done.stdout
    with rasterio.open(tmp_path / "a.tif") as raster:
        land = (raster.read(6) == 1.0) & ~np.isnan(raster.read(4))
        only = land & (raster.read(3) >= 0.0) & (raster.read(2) < 0.0)
    assert int(found[1]) == round(100.0 * only.sum() / land.sum())
    drawn = page.read_text(encoding="utf-8")
    assert "where it works one way only" in drawn and "hears QK3RB, does not get in" in drawn
    assert "not known" not in drawn


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("QK3RA", "--radius", "30"), '--radius: "30" has no unit; write 30 km'),
        (("QK3RA", "--resolution", "30"), '--resolution: "30" has no unit'),
        (("QK3RAA",), "did you mean QK3RA"),
        (("QK3RA", "--radius", "far"), '--radius: "far" is not a distance; write 5 km'),
        (("QK3RA", "--radius", "0 km"), '--radius: "0 km" is outside 1 m to 500 km'),
        (("QK3RA", "--radius", "9000 km"), '"9000 km" is outside 1 m to 500 km'),
        (("QK3RA", "--radius", "-5 km"), '"-5 km" is outside 1 m to 500 km'),
        (("QK3RA", "--radius", "50 m"), "only 2 cells of 30 m"),
        (("QK3RA", "--resolution", "0 m"), '--resolution: "0 m" is outside 1 m to 500 km'),
        (("QK3RA", "--geotiff", "-"), "cannot go to standard output"),
        (("QK3RA", "--kml", "no/such/folder/a.kml"), "does not exist"),
        (("QK3RA", "--keep", "/dev/null"), "is not a folder"),
    ],
)
def test_bad_input_is_one_clear_line(
    club: Path, reach_here: Run, tmp_path: Path, arguments: tuple[str, ...], words: str
) -> None:
    done = reach_here("area", club, *arguments, cwd=tmp_path)
    assert done.returncode == 2
    assert words in done.stderr
    assert "Traceback" not in done.stderr and list(tmp_path.iterdir()) == []


def test_what_would_not_fit_in_memory_is_refused_first(
    club: Path, reach_here: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 1_000_000_000)
    done = reach_here("area", club, "QK3RA", "--radius", "50 km")
    assert done.returncode == 2 and "1.0 GB is free; take cells of" in done.stderr
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 50_000_000)
    done = reach_here("area", club, "QK3RA", "--radius", "5 km")
    assert done.returncode == 2 and "50 MB is free; free some first" in done.stderr


def test_a_site_outside_the_tiles_is_named(club: Path, reach_here: Run, tmp_path: Path) -> None:
    far = copied_club(club, tmp_path / "far")
    roster = (far / "roster.csv").read_text(encoding="utf-8").splitlines()
    header = roster[0].split(",")
    cells = next(csv.reader([next(line for line in roster if line.startswith("QK3CDR"))]))
    line = dict(zip(header, cells))
    latitude = next(name for name in header if name.startswith("lat"))
    line[latitude] = "30.0"
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerow([line[name] for name in header])
    changed = [out.getvalue().rstrip("\n") if row.startswith("QK3CDR") else row for row in roster]
    (far / "roster.csv").write_text("\n".join(changed) + "\n", encoding="utf-8")
    done = reach_here("area", far, "QK3CDR", *QUICK)
    assert done.returncode == 2 and "QK3CDR: no elevation at 30.0" in done.stderr, done.stderr


@pytest.mark.skipif(sys.platform == "win32", reason="sends SIGINT")
@pytest.mark.parametrize(
    ("calls", "after_s"), [(["QK3RA"], 0.3), (["QK3RA", "QK3RB"], 0.2), (["QK3RA", "QK3RB"], 2.0)]
)
def test_interrupted_it_leaves_nothing_half_written(
    calls: list[str], after_s: float, club: Path, tmp_path: Path
) -> None:
    out, scratch = tmp_path / "out", tmp_path / "scratch"
    out.mkdir()
    scratch.mkdir()
    running = subprocess.Popen(
        [sys.executable, "-m", "reach.commands.main", "area", str(club), *calls, "--radius", "35 km",
         "--resolution", "20 m", "--geotiff", str(out / "a.tif"), "--map", str(out / "a.html")],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={**os.environ, "TMPDIR": str(scratch)},
    )  # fmt: skip
    try:
        assert running.stderr is not None
        assert "of memory" in running.stderr.readline()  # from here on it computes
        time.sleep(after_s)
        running.send_signal(signal.SIGINT)
        _, err = running.communicate(timeout=90)
    finally:
        if running.poll() is None:
            running.kill()
    assert running.returncode in (130, -signal.SIGINT), err
    assert "nothing half-written is left" in err
    # while loops are compiled for the first time the compiler itself may report what it swallowed
    assert "Traceback" not in err or "ctypes callback" in err
    assert list(out.iterdir()) == [] and list(scratch.iterdir()) == []


def test_the_command_is_listed() -> None:
    from reach.commands.main import COMMANDS

    assert "area" in COMMANDS and area_command.command.name == "area"


def test_any_place_and_each_kind_of_station(club: Path, reach_here, tmp_path: Path) -> None:
    page = tmp_path / "each.html"
    run = reach_here(
        "area", club, "--at", "41.45,-38.05", "--power", "10 W", "--kind", "each", "--radius", "6 km",
        "--resolution", "120 m", "--map", page,
    )  # fmt: skip
    assert run.returncode == 0, run.stderr
    shares = [
        float(line.split("%")[0].split()[-1]) for line in run.stdout.splitlines() if line.startswith("PLACE ")
    ]
    assert len(shares) == 3 and shares == sorted(shares)  # handheld, car, base: each reaches further
    assumed = " ".join(run.stdout.split("Assumed", 1)[1].split())
    assert "PLACE: mast 8 m, antenna j-pole (usual portable)" in assumed
    assert "25 W" not in assumed  # the power was said
    drawn = page.read_text(encoding="utf-8")
    for kind in ("a handheld in the hand", "a mobile", "a base station"):
        assert f"how sure {kind} is to work PLACE" in drawn


@pytest.mark.parametrize(
    ("options", "says"),
    [
        ((), "no site is named"),
        (("QK3RA", "--mast", "12 m"), "are of a place"),
        (("--at", "hill"), '--at: "hill" is not a position'),
        (("--at", "41.45,-38.05", "--mast", "high"), "--mast"),
        (("QK3RA", "--kind", "each", "--csv", "-"), "one kind of station"),
        (("--at", "60,10"), "no elevation"),
    ],
)
def test_what_contradicts_itself_is_said_in_one_line(
    club: Path, reach_here, options: tuple[str, ...], says: str
) -> None:
    run = reach_here("area", club, *options)
    assert run.returncode == 2 and says in run.stderr and len(run.stderr.strip().splitlines()) <= 2

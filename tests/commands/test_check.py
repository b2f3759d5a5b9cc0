"""`reach check`: one sentence first, then everything a net folder holds, lacks and assumes."""

from __future__ import annotations

import csv
import io
import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.commands.main import main

TOML = """[net]
name = "Hill net"
[[channels]]
frequency_mhz = 146.52
[[repeaters]]
call_sign = "QK3RPT/R"
latitude = 41.05
longitude = -38.05
output_mhz = 146.94
offset_mhz = -0.6
"""
ROSTER = (
    "call_sign,name,latitude,longitude,category,antenna_height_m,shoe_size\n"
    'QK3ABC,"<b>{{ 7*7 }}</b>",41.02,-38.08,base,12,44\n'
    "QK3ABD,=1+1,41.08,-38.02,handheld,,\n"
    "QK3ABE,Cy,41.05,-38.03,internet,,\n"
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    folder = tmp_path / "net"
    (folder / "terrain").mkdir(parents=True)
    (folder / "net.toml").write_text(TOML, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    tile(folder / "terrain" / "hill.tif", west=-38.1, north=41.1)
    return folder


def tile(path: Path, *, west: float, north: float) -> None:
    heights = np.full((100, 100), 250, dtype=np.int16)
    with rasterio.open(
        path, "w", driver="GTiff", width=100, height=100, count=1, dtype="int16", crs="EPSG:4326",
        transform=from_origin(west, north, 0.001, 0.001),
    ) as data:  # fmt: skip
        data.write(heights, 1)
        data.set_band_unit(1, "m")


class Ran:
    def __init__(self, code: int, out: str, err: str) -> None:
        self.code, self.out, self.err = code, out, err


@pytest.fixture
def run(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]):  # type: ignore[no-untyped-def]
    monkeypatch.setenv("COLUMNS", "100")

    def run(*arguments: object) -> Ran:
        monkeypatch.setattr(sys, "argv", ["reach", *map(str, arguments)])
        with pytest.raises(SystemExit) as end:
            main()
        said = capsys.readouterr()
        return Ran(int(end.value.code or 0), said.out, said.err)

    return run


def test_the_first_line_answers(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    ran = run("check", folder)
    assert ran.code == 0 and ran.err == ""
    assert ran.out.splitlines()[0] == (
        "Hill net is ready to plan: 3 members, 1 repeater, all the elevation it needs is there."
    )
    assert "Members: 1 base, 1 portable, 1 internet." in ran.out
    assert "Elevation cells needed (one degree, by south-west corner): N41W039." in ran.out
    assert "antenna height 1.5 m (portable default): QK3ABD" in ran.out
    assert "- a relay link needs R3 both ways" in ran.out
    assert "shoe_size" in ran.out
    assert "250" in ran.out  # ground height
    assert "emergency number" in ran.out


def test_user_text_is_shown_as_text_and_output_is_plain(folder: Path, run, monkeypatch) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setenv("COLUMNS", "200")
    ran = run("check", folder)
    assert "<b>{{ 7*7 }}</b>" in ran.out
    assert "\x1b" not in ran.out


@pytest.mark.parametrize("columns", ["20", "40", "60", "80", "200"])
def test_it_fits_the_width(folder: Path, run, monkeypatch: pytest.MonkeyPatch, columns: str) -> None:  # type: ignore[no-untyped-def]
    monkeypatch.setenv("COLUMNS", columns)
    lines = run("check", folder).out.splitlines()
    assert max(map(len, lines)) <= max(40, int(columns))
    assert any(line.startswith("QK3ABC") for line in lines)


def test_missing_elevation_is_named_and_is_not_ready(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    with (folder / "roster.csv").open("a", encoding="utf-8") as file:
        file.write("QK3ABF,Di,42.01,-38.08,base,,\n")
    ran = run("check", folder)
    assert ran.code == 2
    assert "is not ready: elevation is missing in N41W039, N42W039" in ran.out.splitlines()[0]
    assert "QK3ABF stands where no tile has elevation" in " ".join(ran.out.split())


def test_without_tiles_it_still_says_which_are_needed(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    (folder / "terrain" / "hill.tif").unlink()
    ran = run("check", folder)
    assert ran.code == 2
    assert ran.out.startswith("Hill net is not ready: 1 fault to correct")
    assert "N41W039" in ran.out
    assert "no elevation raster was found" in ran.err
    (folder / "terrain").rmdir()
    ran = run("check", folder)
    assert ran.code == 2 and "N41W039" in ran.out and "terrain" in ran.err and "Traceback" not in ran.err


def test_a_net_without_any_radio(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    (folder / "net.toml").write_text("[[channels]]\nfrequency_mhz = 146.52\n", encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER.replace("base,12", "internet,").replace("handheld", "internet"))
    ran = run("check", folder)
    assert ran.code == 0 and "3 internet" in ran.out


def test_an_unknown_model_is_a_fault(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    (folder / "net.toml").write_text(
        TOML.replace('"Hill net"', '"Hill net"\nmodel = "guesswork"'), encoding="utf-8"
    )
    ran = run("check", folder)
    assert ran.code == 2 and '"guesswork" is not a path-loss model' in ran.err


def test_faults_are_a_line_each_and_nothing_else(folder: Path, tmp_path: Path, run) -> None:  # type: ignore[no-untyped-def]
    (folder / "roster.csv").write_text(ROSTER.replace("base,12", "boat,12 fee"), encoding="utf-8")
    target = tmp_path / "out.json"
    ran = run("check", folder, "--json", target)
    assert ran.code == 2 and ran.out == ""
    assert [line.partition(":")[0] for line in ran.err.splitlines()] == [
        "roster.csv, row 2, column category",
        "roster.csv, row 2, column antenna_height_m",
    ]
    assert not target.exists()


def test_json_for_machines(folder: Path, run) -> None:  # type: ignore[no-untyped-def]
    ran = run("check", folder, "--json", "-")
    found = json.loads(ran.out)
    assert found["headline"].startswith("Hill net is ready")
    assert found["needed_cells"] == ["N41W039"] and found["missing_cells"] == []
    assert found["ground_m"]["QK3ABC"] == 250.0
    assert [s["call_sign"] for s in found["net"]["stations"]] == ["QK3ABC", "QK3ABD", "QK3ABE"]


def test_csv_for_machines_starts_no_formula(folder: Path, tmp_path: Path, run) -> None:  # type: ignore[no-untyped-def]
    target = tmp_path / "members.csv"
    ran = run("check", folder, "--csv", target)
    assert ran.code == 0
    rows = list(csv.DictReader(io.StringIO(target.read_text(encoding="utf-8"))))
    assert [row["call_sign"] for row in rows] == ["QK3ABC", "QK3ABD", "QK3ABE", "QK3RPT/R"]
    assert rows[1]["name"] == "'=1+1"
    assert float(rows[0]["antenna_height_m"]) == 12.0 and rows[2]["antenna_height_m"] == ""


def test_nothing_is_written_over_unless_asked(folder: Path, tmp_path: Path, run) -> None:  # type: ignore[no-untyped-def]
    target = tmp_path / "members.csv"
    target.write_text("mine", encoding="utf-8")
    ran = run("check", folder, "--csv", target)
    assert ran.code == 2 and "add --replace" in ran.err and target.read_text(encoding="utf-8") == "mine"
    assert run("check", folder, "--csv", target, "--replace").code == 0
    assert target.read_text(encoding="utf-8").startswith("call_sign,")


@pytest.mark.parametrize(
    ("extra", "words"),
    [
        (("--json", "-", "--csv", "-"), "only one result can go to standard output"),
        (("--json", "no/such/x.json"), "does not exist; make it first"),
    ],
)
def test_outputs_that_cannot_be(folder: Path, run, extra: tuple[str, ...], words: str) -> None:  # type: ignore[no-untyped-def]
    ran = run("check", folder, *extra)
    assert ran.code == 2 and words in ran.err and ran.out == ""


def test_no_folder(tmp_path: Path, run) -> None:  # type: ignore[no-untyped-def]
    ran = run("check", tmp_path / "nowhere")
    assert ran.code == 2 and "there is no folder" in ran.err and len(ran.err.splitlines()) == 1


def test_a_terminal_without_unicode(folder: Path) -> None:
    ran = subprocess.run(
        [sys.executable, "-c", "from reach.commands.main import main; main()", "check", str(folder)],
        capture_output=True,
        env={"PYTHONIOENCODING": "ascii", "PATH": "/usr/bin:/bin", "COLUMNS": "80"},
        check=False,
    )
    assert ran.returncode == 0, ran.stderr
    ran.stdout.decode("ascii")

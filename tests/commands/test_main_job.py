"""Repeater, simplex and path on the demo club, run as a user runs them."""

from __future__ import annotations

import csv
import io
import json
import shutil
from pathlib import Path

import pytest

from reach.inputs.club import read_net
from reach.stations import Category

from .conftest import Run


def refused(run: object, *, mentions: str) -> None:
    assert run.returncode == 2, run.stderr  # type: ignore[attr-defined]
    assert "Traceback" not in run.stderr  # type: ignore[attr-defined]
    assert mentions in run.stderr  # type: ignore[attr-defined]


def test_help_names_every_command(reach: Run) -> None:
    text = reach("--help").stdout
    for name in ("demo", "new", "check", "repeater", "simplex", "path"):
        assert f"\n  {name} " in text


def test_the_demo_club_has_what_a_net_has(club: Path) -> None:
    net = read_net(club)
    assert len(net.stations) >= 22
    assert {station.category for station in net.stations} == set(Category)
    assert any(station.brief for station in net.stations)
    assert any(station.backup for station in net.stations)
    bands = sorted(round(repeater.output_mhz) for repeater in net.repeaters)
    assert bands == [147, 444]


def test_repeater_answers_first_and_warns_last(reach_here: Run, club: Path) -> None:
    run = reach_here("repeater", club, "QK3RA")
    assert run.returncode == 0, run.stderr
    lines = run.stdout.strip().splitlines()
    assert "get into QK3RA and hear it" in lines[0]
    assert "emergency number" in lines[-1]
    assert "no radio path: QK3IVY, QK3SDG" in run.stdout


def test_a_demo_member_hears_the_repeater_and_does_not_get_in(reach_here: Run, club: Path) -> None:
    rows = list(csv.DictReader(io.StringIO(reach_here("repeater", club, "QK3RA", "--csv", "-").stdout)))
    outcome = {row["station"]: row for row in rows}["QK3YEW"]
    assert outcome["outcome"] == "hears only"
    assert float(outcome["talk_in_margin_over_workable_db"]) < 0.0
    assert float(outcome["talk_out_margin_over_workable_db"]) >= 0.0


def test_a_demo_handheld_indoors_is_heard_by_few(reach_here: Run, club: Path) -> None:
    rows = csv.DictReader(io.StringIO(reach_here("simplex", club, "--csv", "-").stdout))
    heard = [row["station"] for row in rows if row["hears"] == "QK3WLW" and int(row["readability"]) >= 3]
    assert 1 <= len(heard) <= 3


def test_a_demo_valley_needs_the_relay_on_the_ridge(reach_here: Run, club: Path) -> None:
    answer = json.loads(reach_here("simplex", club, "--json", "-").stdout)
    plan = answer["answers"]["plan"]
    relays = {relay["call_sign"]: relay["serves"] for relay in plan["relays"]}
    assert "QK3MPL" in relays["QK3JUN"]
    assert plan["left_out"] == []
    assert answer["caution"].startswith("A prediction is not a promise")


def test_json_and_csv_agree_and_carry_units(reach_here: Run, club: Path, tmp_path: Path) -> None:
    target = tmp_path / "net.json"
    run = reach_here("simplex", club, "--json", target, "--csv", "-")
    assert run.returncode == 0, run.stderr
    rows = list(csv.DictReader(io.StringIO(run.stdout)))
    links = json.loads(target.read_text(encoding="utf-8"))["answers"]["links"]
    assert len(rows) == len(links) == 24 * 23
    for row, link in zip(rows, links):
        assert row["station"] == link["station"]
        assert float(row["received_dbm"]) == pytest.approx(link["received_dbm"], abs=1e-5)


@pytest.mark.parametrize("pair", [("QK3CDR", "QK3MPL"), ("qk3yew", "qk3ra")])
def test_path_draws_its_profile(reach_here: Run, club: Path, tmp_path: Path, pair: tuple[str, str]) -> None:
    picture = tmp_path / "profile.png"
    run = reach_here("path", club, *pair, "--picture", picture)
    assert run.returncode == 0, run.stderr
    assert picture.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    assert "delta_bullington" in run.stdout
    assert "margin over workable" in run.stdout


def test_the_same_run_twice_draws_the_same_map(reach: Run, club: Path, tmp_path: Path) -> None:
    first, second = tmp_path / "one.html", tmp_path / "two.html"
    for target in (first, second):
        assert reach("simplex", club, "--map", target).returncode == 0
    assert first.read_bytes() == second.read_bytes()


def test_an_existing_file_is_never_written_over_unasked(reach_here: Run, club: Path, tmp_path: Path) -> None:
    target = tmp_path / "mine.html"
    target.write_text("mine", encoding="utf-8")
    refused(reach_here("simplex", club, "--map", target), mentions="--replace")
    assert target.read_text(encoding="utf-8") == "mine"
    assert reach_here("simplex", club, "--map", target, "--replace").returncode == 0
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")


@pytest.mark.parametrize(
    ("arguments", "mentions"),
    [
        (("path", "CLUB", "QK3CDX", "QK3MPL"), "did you mean QK3CDR?"),
        (("path", "CLUB", "QK3CDR", "QK3CDR"), "give two call signs"),
        (("path", "CLUB", "QK3CDR", "QK3IVY"), "no radio path"),
        (("path", "CLUB", "QK3RA", "QK3RB"), "both repeaters"),
        (("path", "CLUB", "QK3CDR", "QK3MPL", "--picture", "x.jpg"), ".png, .svg or .pdf"),
        (("repeater", "CLUB", "QK3RC"), "did you mean"),
        (("repeater", "CLUB", "--map", "m.html"), "QK3RA, QK3RB"),
        (("simplex", "CLUB", "--channel", "two meters"), "did you mean two metres?"),
        (("simplex", "CLUB", "--control", "QK3BCH"), "not willing"),
        (("simplex", "CLUB", "--json", "-", "--csv", "-"), "standard output"),
        (("simplex", "CLUB", "--map", "nowhere/m.html"), "does not exist"),
        (("simplex", "no-such-folder"), "no-such-folder"),
        (("simplx", "CLUB"), 'No such command "simplx"; did you mean simplex?'),
        (("antenna", "CLUB"), "there are demo, guide, new, check"),
    ],
)
def test_bad_requests_get_one_clear_line_and_write_nothing(
    reach_here: Run, club: Path, tmp_path: Path, arguments: tuple[str, ...], mentions: str
) -> None:
    run = reach_here(*(club if word == "CLUB" else word for word in arguments), cwd=tmp_path)
    refused(run, mentions=mentions)
    assert list(tmp_path.iterdir()) == []


def test_all_faults_of_a_roster_come_at_once(reach_here: Run, club: Path, tmp_path: Path) -> None:
    folder = tmp_path / "net"
    shutil.copytree(club, folder)
    roster = (folder / "roster.csv").read_text(encoding="utf-8").splitlines()
    roster[1] = roster[1].replace("41.4040", "141.4040")
    roster[2] = roster[2].replace(",base,", ",boat,")
    (folder / "roster.csv").write_text("\n".join(roster), encoding="utf-8")
    run = reach_here("simplex", folder)
    refused(run, mentions="roster.csv, row 2")
    assert "roster.csv, row 3, column category" in run.stderr


@pytest.mark.parametrize("target", ["net.toml", "roster.csv", "terrain/tile", "terrain/../roster.csv"])
def test_no_result_takes_the_place_of_what_is_read(
    reach_here: Run, club: Path, tmp_path: Path, target: str
) -> None:
    folder = tmp_path / "net"
    shutil.copytree(club, folder)
    if target.endswith("tile"):
        target = str(next((folder / "terrain").glob("*.tif")).relative_to(folder))
    before = (folder / target).read_bytes()
    refused(
        reach_here("simplex", folder, "--csv", folder / target, "--replace"), mentions="net folder's own data"
    )
    refused(
        reach_here("simplex", "net", "--map", f"net/{target}", "--replace", cwd=tmp_path), mentions="own data"
    )
    assert (folder / target).read_bytes() == before
    assert reach_here("simplex", folder, "--csv", folder / "table.csv", "--replace").returncode == 0


def test_the_demo_writes_over_itself_only(reach_here: Run, club: Path, tmp_path: Path) -> None:
    shutil.copytree(club, tmp_path / "net")
    mine = (tmp_path / "net" / "net.toml").read_text(encoding="utf-8").replace("# The invented", "# Our", 1)
    (tmp_path / "net" / "net.toml").write_text(mine, encoding="utf-8")
    refused(reach_here("demo", tmp_path / "net", "--replace"), mentions="holds another net")
    assert (tmp_path / "net" / "net.toml").read_text(encoding="utf-8") == mine
    assert not (tmp_path / "net" / "maps").exists()


@pytest.mark.parametrize("question", [("simplex",), ("repeater",), ("path", "QK3CDR", "QK3MPL")])
def test_a_model_nobody_knows_is_said_with_its_place(
    reach_here: Run, club: Path, tmp_path: Path, question: tuple[str, ...]
) -> None:
    shutil.copytree(club, tmp_path / "net")
    text = (tmp_path / "net" / "net.toml").read_text(encoding="utf-8")
    (tmp_path / "net" / "net.toml").write_text(
        text.replace("[net]", '[net]\nmodel = "p1821"', 1), encoding="utf-8"
    )
    run = reach_here(question[0], tmp_path / "net", *question[1:])
    refused(run, mentions='net.toml, net.model: "p1821" is not a path-loss model; did you mean p1812?')


def test_a_station_off_the_tiles_names_the_missing_ground(
    reach_here: Run, club: Path, tmp_path: Path
) -> None:
    folder = tmp_path / "net"
    shutil.copytree(club, folder)
    text = (folder / "roster.csv").read_text(encoding="utf-8").replace("41.4040,-38.1990", "42.4040,-38.1990")
    (folder / "roster.csv").write_text(text, encoding="utf-8")
    refused(reach_here("simplex", folder), mentions="N42W039")


def test_ten_metres_is_ground_wave_and_says_so(reach_here: Run, club: Path) -> None:
    run = reach_here("path", club, "QK3CDR", "QK3ALD", "--channel", "ten metres")
    assert run.returncode == 0, run.stderr
    assert "typical_land (the net's)" in run.stdout and "extrapolated" in run.stdout
    assert "skywave is not modelled" in run.stdout
    for question in (("path", club, "QK3CDR", "QK3ALD"), ("repeater", club, "QK3RA")):
        assert "skywave is not modelled" not in " ".join(reach_here(*question).stdout.split())


def test_a_path_tells_its_worst_point_and_how_far_to_keep_away(reach_here: Run, club: Path) -> None:
    run = reach_here("path", club, "QK3CDR", "QK3MPL")
    text = " ".join(run.stdout.split())
    assert "from QK3CDR, " in text and "the first Fresnel radius there is" in text
    assert (
        "keep people at least" in text and "47 CFR 1.1310" in text and "own country's rules prevail" in text
    )
    (near, far) = json.loads(reach_here("path", club, "QK3CDR", "QK3MPL", "--json", "-").stdout)["answers"][
        "keep_away"
    ]
    assert [near["call_sign"], far["call_sign"]] == ["QK3CDR", "QK3MPL"]
    # the budget's e.i.r.p. in W, OET Bulletin 65 with factor 2.56 at 2 W/m2: sqrt(P 2.56 / (8 pi))
    for end in (near, far):
        eirp_w = 10.0 ** (end["eirp_dbm"] / 10.0) / 1000.0
        assert end["distance_m"] == pytest.approx((eirp_w * 2.56 / (8.0 * 3.14159265)) ** 0.5, rel=1e-6)


def test_defaults_are_told_in_short_to_people_and_whole_to_machines(reach_here: Run, club: Path) -> None:
    said = " ".join(reach_here("simplex", club).stdout.split())
    told = " ".join(json.loads(reach_here("simplex", club, "--json", "-").stdout)["assumed"])
    assert all(station.call_sign in told for station in read_net(club).stations if station.has_radio_path)
    assert said.count("Assumed") == 1 <= told.count("Assumed") <= 8
    assert "`reach check` lists them all" in said


def test_demo_draws_everything_and_keeps_what_is_there(reach_here: Run, tmp_path: Path) -> None:
    run = reach_here("demo", cwd=tmp_path)
    assert run.returncode == 0, run.stderr
    maps = {path.name for path in (tmp_path / "reach-demo" / "maps").iterdir()}
    assert {"simplex.html", "repeater-QK3RA.html", "repeater-QK3RB.html"} <= maps
    assert {path.suffix for path in (tmp_path / "reach-demo" / "maps").iterdir()} >= {".html", ".csv", ".png"}
    refused(reach_here("demo", cwd=tmp_path), mentions="--replace")

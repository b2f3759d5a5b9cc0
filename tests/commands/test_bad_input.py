"""What a hurried user gets wrong, and the one line that says what to do; what is no fault goes on."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from .conftest import Run


def one_line(run) -> str:
    """The only line of a refusal, nothing printed beside it."""
    assert run.returncode == 2 and run.stdout == "", run.stdout
    (line,) = run.stderr.strip().splitlines()
    return line


@pytest.fixture
def pair(club: Path, tmp_path: Path) -> Path:
    """The demo's ground with two members and no repeater."""
    folder = tmp_path / "pair"
    folder.mkdir()
    toml = (club / "net.toml").read_text(encoding="utf-8")
    start = toml.index("[[repeaters]]")
    rest = [part for part in toml[start:].split("\n[") if not part.lstrip("[").startswith("repeaters]")]
    (folder / "net.toml").write_text(toml[:start] + "".join(f"\n[{part}" for part in rest), encoding="utf-8")
    rows = (club / "roster.csv").read_text(encoding="utf-8").splitlines()
    (folder / "roster.csv").write_text("\n".join(rows[:3]) + "\n", encoding="utf-8")
    os.symlink(club / "terrain", folder / "terrain")
    return folder


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (("relays", "--control", "qk3ald", "--without", "QK3ALD"), "QK3ALD is away tonight; name somebody"),
        (("sheet", "--control", "QK3ALD", "--without", "QK3ALD"), "QK3ALD is away tonight; name somebody"),
        (("simplex", "--control", "QK3ALD", "--without", "QK3ALD"), "QK3ALD is away tonight; name somebody"),
        (("kit", "QK3ALD", "--without", "QK3ALD"), "QK3ALD is away tonight; name somebody who is there"),
        (("backup", "--case", "Z"), 'B (QK3RA down), C (QK3RB down)'),
        (("backup", "--down", "QK9ZZZ"), '"QK9ZZZ" is no member or repeater of Saltmarsh Valley evening net'),
        (("sites", "--near", "60,10"), "lies outside the elevation tiles; add tiles that cover it, or move"),
        (("sites", "--inside", "none.geojson"), "none.geojson: there is no such file here; check how"),
        (
            ("sites", "--link", "QK3YEW", "--near", "QK3FRN", "--within", "500 m", "--power", "10 mW",
             "--mast", "1 m"),
            "no cell works any of QK3YEW; try a wider search area, a higher mast, more power",
        ),
        (
            ("sites", "--for", "QK3YEW", "--within", "300 m", "--power", "10 mW"),
            "within 300 m of QK3YEW no cell lets QK3YEW",
        ),
    ],
)  # fmt: skip
def test_refused_in_one_line_that_says_what_to_do(
    reach_here: Run, club: Path, tmp_path: Path, asked: tuple[str, ...], words: str
) -> None:
    command, *rest = asked
    assert words in one_line(reach_here(command, club, *rest, cwd=tmp_path))
    assert list(tmp_path.iterdir()) == []


def changed(club: Path, folder: Path, name: str, old: str, new: str) -> Path:
    """The club with one text of one file changed."""
    folder.mkdir()
    for each in ("net.toml", "roster.csv", "places.csv"):
        text = (club / each).read_text(encoding="utf-8")
        if each == name:
            assert old in text
            text = text.replace(old, new, 1)
        (folder / each).write_text(text, encoding="utf-8")
    os.symlink(club / "terrain", folder / "terrain")
    return folder


@pytest.mark.parametrize("command", ["simplex", "backup", "kit", "exercise"])
def test_a_member_outside_the_tiles(reach_here: Run, club: Path, tmp_path: Path, command: str) -> None:
    far = changed(club, tmp_path / "far", "roster.csv", "41.4040", "60.0")
    line = one_line(reach_here(command, far))
    assert "no elevation where QK3ALD stands, at 60.00000" in line
    assert line.endswith("add tiles that cover N60W039, or correct the position.")


def test_a_member_outside_the_tiles_of_a_search(reach_here: Run, club: Path, tmp_path: Path) -> None:
    far = changed(club, tmp_path / "far", "roster.csv", "41.4040", "60.0")
    asked = ("--near", "QK3ELM", "--within", "2 km", "--resolution", "200 m")
    assert "QK3ALD: no elevation where it stands; add a tile that covers it, or correct its position." in (
        one_line(reach_here("sites", far, *asked))
    )


def test_a_served_place_outside_the_tiles(reach_here: Run, club: Path, tmp_path: Path) -> None:
    first = (club / "places.csv").read_text(encoding="utf-8").splitlines()[2]
    far = changed(club, tmp_path / "far", "places.csv", first, "Far hall,hall,60.0,10.0")
    assert one_line(reach_here("places", far)) == (
        "places.csv: Far hall (hall) lies where there is no elevation; add a tile, or correct its place."
    )


@pytest.mark.parametrize("command", ["relays", "control", "sheet"])
def test_one_member_left_tonight_is_no_net_and_says_who_is_away(
    reach_here: Run, pair: Path, command: str
) -> None:
    assert one_line(reach_here(command, pair, "--without", "QK3ASH")) == (
        "without QK3ASH only one station (QK3ALD) has a radio path; a net needs two. Leave fewer members out."
    )


def test_a_case_that_leaves_one_station_is_said_and_is_no_fault(reach_here: Run, pair: Path) -> None:
    """It is a finding about the net, and the plan for it: exit 0."""
    alone = reach_here("backup", pair, "--down", "QK3ASH", columns=200)
    assert alone.returncode == 0
    assert alone.stdout.startswith(
        "QK3ASH absent: there is no net (with nothing lost 2 of 2 take part): only QK3ALD is left on the air."
    )
    nobody = reach_here("backup", pair, "--down", "QK3ASH", "--down", "QK3ALD", columns=200)
    assert nobody.returncode == 0 and "nobody is left on the air." in nobody.stdout.splitlines()[0]
    kit = reach_here("kit", pair, "QK3ALD", columns=200)
    assert kit.returncode == 0 and "no net comes together" in kit.stdout


def test_a_relay_that_works_almost_nobody_is_an_answer(reach_here: Run, club: Path) -> None:
    run = reach_here(
        "sites",
        club,
        "--mast",
        "1 m",
        "--power",
        "1 mW",
        "--near",
        "QK3YEW",
        "--within",
        "300 m",
        columns=400,
    )
    assert run.returncode == 0
    assert " links 1 of 24 members" in run.stdout.splitlines()[0]

"""--share as a user runs it: no exact place in any file that is written, searched byte by byte."""

from __future__ import annotations

import csv
import re
import shutil
import subprocess
import zlib
from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from reach.inputs.locators import locator_of
from reach.inputs.net_folder import read_net_folder
from reach.stations import Position

Run = Callable[..., subprocess.CompletedProcess[str]]

COMMANDS = {
    "simplex": (
        ["--map", "s.html", "--json", "s.json", "--csv", "s.csv", "--picture", "s.svg"],
        [],
    ),
    "repeater": (["--map", "r.html", "--json", "r.json", "--csv", "r.csv"], ["QK3RA"]),
    "backup": (
        ["--map", "b.html", "--json", "b.json", "--csv", "b.csv"],
        ["--down", "QK3RA", "--page", "w.html", "--pdf", "w.pdf", "--text", "w.txt"],
    ),
    "relays": (["--json", "l.json", "--csv", "l.csv"], []),
    "control": (["--calendar", "c.ics", "--json", "c.json", "--csv", "c.csv"], []),
    "sheet": (["--page", "p.html", "--pdf", "p.pdf", "--text", "p.txt"], []),
    "kit": (["--page", "k.html", "--pdf", "k.pdf", "--text", "k.txt"], []),
}
LIKE_A_PLACE = re.compile(r"-?\d{2}\.\d{3,}")


@pytest.fixture(scope="module")
def net(club: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The club with places to six decimals, so that a figure found again is no accident; one by locator."""
    folder = tmp_path_factory.mktemp("share") / "club"
    folder.mkdir()
    shutil.copy(club / "net.toml", folder)
    (folder / "terrain").symlink_to(club / "terrain", target_is_directory=True)
    with open(club / "roster.csv", encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for number, row in enumerate(rows):
        row["latitude"] = f"{float(row['latitude']) + 0.000137 + 0.000011 * number:.6f}"
        row["longitude"] = f"{float(row['longitude']) - 0.000219 - 0.000013 * number:.6f}"
        row["locator"] = ""
    rows[0]["locator"] = locator_of(
        Position(float(rows[0]["latitude"]), float(rows[0]["longitude"])), characters=10
    )
    rows[0]["latitude"] = rows[0]["longitude"] = ""
    with open(folder / "roster.csv", "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, rows[0].keys())
        writer.writeheader()
        writer.writerows(rows)
    return folder


def decoded(file: Path) -> str:
    """All text of a file; the streams of a PDF unpacked."""
    data = file.read_bytes()
    text = data.decode("utf-8", errors="replace")
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", data, re.DOTALL):
        try:
            text += zlib.decompress(stream).decode("latin-1")
        except zlib.error:
            continue
    return text


def numbers(text: str) -> list[float]:
    return [float(found) for found in LIKE_A_PLACE.findall(text)]


@pytest.mark.parametrize("command", list(COMMANDS))
def test_no_exact_place_in_any_file(reach_here: Run, net: Path, tmp_path: Path, command: str) -> None:
    options, arguments = COMMANDS[command]
    for folder, more in (("planner", []), ("shared", ["--share"])):
        (tmp_path / folder).mkdir()
        told = reach_here(command, net, *arguments, *options, *more, cwd=tmp_path / folder)
        assert told.returncode == 0, told.stderr
    members = read_net_folder(net).net
    parties = (*members.stations, *members.repeaters)
    for file in sorted((tmp_path / "shared").iterdir()):
        text = decoded(file)
        for party in parties:
            at = party.position
            for exact in (at.latitude_deg, at.longitude_deg):
                for shown in (f"{exact:.5f}", f"{exact:.6f}", f"{exact:.6f}"[:-1]):
                    assert shown not in text, f"{file.name}: {party.call_sign}"
            for characters in (8, 10):
                locator = locator_of(at, characters=characters)
                assert locator.lower() not in text.lower(), f"{file.name}: {party.call_sign}"
            if party in members.stations and len(party.name) > 3:
                assert party.name not in text, f"{file.name}: {party.name}"
        # pairs of figures that lie within 300 m of anybody's place, whatever the order
        found = numbers(text)
        for first, second in pairwise(found):
            for party in parties:
                at = party.position
                near = abs(first - at.latitude_deg) < 0.0003 and abs(second - at.longitude_deg) < 0.0004
                assert not near, f"{file.name}: {first}, {second} is {party.call_sign}"


def test_the_ground_under_a_map_gives_nobody_away(reach_here: Run, net: Path, tmp_path: Path) -> None:
    """The picture's corners follow from the outermost places: those shown, not the real ones."""
    texts = []
    for name, more in (("planner", []), ("shared", ["--share"])):
        told = reach_here("simplex", net, "--map", f"{name}.html", *more, cwd=tmp_path)
        assert told.returncode == 0, told.stderr
        texts.append((tmp_path / f"{name}.html").read_text(encoding="utf-8"))
    private, public = texts
    corners = {number for number in numbers(private) if 40.9 < number < 42.0 or -39.0 < number < -37.0}
    assert len(corners) > 20  # the planner's page has them: the search works
    assert not corners & set(numbers(public))


WRITTEN = (("simplex", "m.html"), ("backup", "b.html"), ("backup", "w.txt"), ("sheet", "s.txt"))


def test_who_a_page_is_for_is_said(reach_here: Run, net: Path, tmp_path: Path) -> None:
    for command, file in WRITTEN:
        option = "--map" if file.endswith(".html") else "--text"
        told = reach_here(command, net, option, file, cwd=tmp_path)
        assert told.returncode == 0, told.stderr
        assert "For the planner" in " ".join((tmp_path / file).read_text(encoding="utf-8").split())
        told = reach_here(
            command, net, option, file, "--replace", "--share", "--square", "5 km", cwd=tmp_path
        )
        assert told.returncode == 0, told.stderr
        assert "its square of 5 km" in " ".join((tmp_path / file).read_text(encoding="utf-8").split())


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (["--square", "5 km"], "--square says how to share"),
        (["--names"], "--names says how to share"),
        (["--share", "--square", "20 m"], "no use"),
        (["--share", "--square", "far"], "far"),
    ],
)
def test_options_that_do_not_fit(reach_here: Run, net: Path, options: list[str], said: str) -> None:
    told = reach_here("simplex", net, *options)
    assert told.returncode == 2
    assert said in told.stderr


@pytest.mark.parametrize("command", ["area", "path", "sites", "check", "places"])
def test_what_shows_places_themselves_is_refused_with_the_reason(
    command: str, reach_here: Run, club: Path
) -> None:
    told = reach_here(command, club, "--share")
    assert told.returncode == 2 and "never for sharing" in told.stderr
    assert len(told.stderr.strip().splitlines()) == 1

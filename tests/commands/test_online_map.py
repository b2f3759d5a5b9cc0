"""An online map is offered only when asked for, with its owner's credit, and every slip is named."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from .conftest import Run

TILES = "https://tiles.example.invalid/{z}/{x}/{y}.png?style=plain"
CREDIT = "Map: the <b>invented</b> survey"
ASKED = {
    "simplex": (),
    "repeater": ("QK3RA",),
    "backup": (),
    "sites": ("--near", "QK3ALD", "--within", "2 km", "--resolution", "300 m"),
}


def image_sources(page: str) -> list[str]:
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', page)
    assert policy is not None
    return policy[1].split("img-src ", 1)[1].split(";", 1)[0].split()


@pytest.mark.parametrize("command", sorted(ASKED))
def test_the_page_offers_it_switched_off(club: Path, reach_here: Run, tmp_path: Path, command: str) -> None:
    told = reach_here(
        command, club, *ASKED[command], "--map", tmp_path / "m.html", "--online", TILES, "--credit", CREDIT
    )
    assert told.returncode == 0, told.stderr
    page = (tmp_path / "m.html").read_text(encoding="utf-8")
    (box,) = re.findall(r'<input type="checkbox" data-layer="online"[^>]*>', page)
    assert "checked" not in box
    assert image_sources(page) == ["data:", "blob:", "https://tiles.example.invalid"]
    assert "<b>invented</b>" not in page and "invented" in page


def test_without_it_no_page_knows_an_address(club: Path, reach_here: Run, tmp_path: Path) -> None:
    assert reach_here("repeater", club, "QK3RA", "--map", tmp_path / "m.html").returncode == 0
    page = (tmp_path / "m.html").read_text(encoding="utf-8")
    assert 'data-layer="online"' not in page
    assert image_sources(page) == ["data:", "blob:"]


@pytest.mark.parametrize(
    ("options", "words"),
    [
        (("--map", "m.html", "--online", TILES), "--online needs --credit"),
        (("--map", "m.html", "--online", TILES, "--credit", " "), "--online needs --credit"),
        (("--map", "m.html", "--credit", CREDIT), "add --online"),
        (("--online", TILES, "--credit", CREDIT), "add --map"),
        (("--map", "m.html", "--online", "http://a.invalid/{z}/{x}/{y}", "--credit", CREDIT), "not an https"),
        (("--map", "m.html", "--online", "https://a.invalid/{z}/{x}", "--credit", CREDIT), "{y}"),
    ],
)
@pytest.mark.parametrize("command", sorted(ASKED))
def test_a_slip_is_one_line_and_nothing_is_written(
    club: Path, reach_here: Run, tmp_path: Path, command: str, options: tuple[str, ...], words: str
) -> None:
    told = reach_here(command, club, *ASKED[command], *options, cwd=tmp_path)
    assert (told.returncode, told.stdout) == (2, "")
    assert words in told.stderr and len(told.stderr.splitlines()) == 1
    assert list(tmp_path.iterdir()) == []

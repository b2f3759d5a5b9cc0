"""The guide: it is shipped whole, names only commands there are, and needs no network."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from reach.commands.main import COMMANDS, LazyCommands, reach
from reach.commands.speaking import open_page
from reach.drawings.guide.book import guide_place, whole_guide
from tests.guide import MARK, facts, said

TEXT = guide_place().read_text(encoding="utf-8")
SAID = [
    re.sub(r"<[^>]+>", "", found)
    for found in re.findall(r"<(?:code|pre)>(.*?)</(?:code|pre)>", TEXT, re.DOTALL)
]
LINES = [line.split() for said in SAID for line in said.splitlines() if line.startswith("reach ")]


def test_it_says_where_it_is_and_hands_on_a_copy(reach_here, tmp_path: Path) -> None:
    told = reach_here("guide", "--no-browser")
    assert told.returncode == 0 and str(guide_place()) in told.stdout + told.stderr
    copy = tmp_path / "guide.html"
    assert reach_here("guide", "--page", copy).returncode == 0
    assert copy.read_text(encoding="utf-8") == whole_guide()
    assert reach_here("guide", "--page", copy).returncode == 2  # never over a file that is there


def test_nothing_is_fetched_and_every_picture_is_there() -> None:
    whole = whole_guide()
    assert not re.search(r'(?:src|href)="(?!data:|#)', whole)
    assert whole.count("data:image/jpeg;base64,") == TEXT.count(".jpg") == 4
    assert len(whole) < 1_000_000
    assert all(re.search(r'alt="[^"]{20,}"', image) for image in re.findall(r"<img [^>]+>", TEXT))


@pytest.mark.parametrize("words", LINES, ids=lambda words: " ".join(words[1:]))
def test_every_command_it_names_exists_with_its_options(words: list[str]) -> None:
    assert words[1] in COMMANDS
    assert isinstance(reach, LazyCommands)
    command = reach.get_command(None, words[1])  # type: ignore[arg-type]
    known = {option for parameter in command.params for option in parameter.opts}  # type: ignore[union-attr]
    assert {word for word in words if word.startswith("--")} <= known


def test_the_cautions_stand_in_front() -> None:
    head = " ".join(TEXT.split("<nav", 1)[0].split())
    for caution in ("no promise", "emergency number first", "power lines", "your licence"):
        assert caution in head


def test_what_it_says_of_the_demo_is_so(club: Path) -> None:
    known = facts(club)
    stands = said(TEXT)
    assert stands == [(name, known[name]) for name, _ in stands], "run `python tests/guide.py`"
    assert {name for name, _ in stands} == set(known)


def test_no_call_sign_or_count_stands_there_unchecked() -> None:
    """Outside the marked sentences: no call sign but in a command, no figure but chapters and margins."""
    plain = re.sub(
        r"<style>.*?</style>|<(code|pre|figure)\b.*?</\1>", " ", MARK.sub("", TEXT), flags=re.DOTALL
    )
    plain = re.sub(r"<[^>]+>", " ", plain)
    assert not re.search(r"\bQK", plain)
    figures = re.findall(r"\d+(?:\.\d+)?(?: dB)?|R\d", plain)
    assert set(figures) <= {"1", "2", "3", "4", "5", "R5", "R1", "3 dB", "10 dB", "20 dB"}, figures


@pytest.mark.parametrize(
    ("screen", "opened"), [({}, 0), ({"DISPLAY": ":0"}, 1), ({"WAYLAND_DISPLAY": "w"}, 1)]
)
def test_a_page_is_opened_only_where_there_is_a_screen(
    monkeypatch: pytest.MonkeyPatch, screen: dict[str, str], opened: int
) -> None:
    """Without one a browser of text would take the terminal."""
    asked: list[str] = []
    monkeypatch.setattr("webbrowser.open", asked.append)
    monkeypatch.setattr("sys.platform", "linux")
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    for name, value in screen.items():
        monkeypatch.setenv(name, value)
    open_page(guide_place())
    assert len(asked) == opened

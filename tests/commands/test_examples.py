"""The committed drawings in maps/ are what the commands draw today."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from .conftest import Run

MAPS = Path(__file__).resolve().parents[2] / "maps"

pytestmark = pytest.mark.skipif(not MAPS.is_dir(), reason="the examples are not beside these tests")


def test_every_picture_and_page_that_is_shown_is_there() -> None:
    shown = re.findall(r"\]\(([^)#:]+)\)", (MAPS / "README.md").read_text(encoding="utf-8"))
    assert len(shown) >= 15
    assert [name for name in shown if not (MAPS / name).is_file()] == []


@pytest.mark.parametrize(
    ("page", "arguments"),
    [("simplex", ("simplex", "CLUB")), ("repeater-QK3RA", ("repeater", "CLUB", "QK3RA"))],
)
def test_the_tables_hold_what_is_computed_today(
    reach_here: Run, club: Path, page: str, arguments: tuple[str, ...]
) -> None:
    words = [club if word == "CLUB" else word for word in arguments]
    today = reach_here(*words, "--csv", "-").stdout.splitlines()
    kept = (MAPS / f"{page}.csv").read_text(encoding="utf-8").splitlines()
    assert kept[0] == today[0]
    assert len(kept) == len(today)
    for old, new in zip(kept, today):
        for was, now in zip(old.split(","), new.split(",")):
            if re.fullmatch(r"-?\d+\.\d+", now):
                assert float(was) == pytest.approx(float(now), abs=2e-3)  # other processors round otherwise
            else:
                assert was == now


def test_the_pages_open_with_todays_answer(reach_here: Run, club: Path) -> None:
    answer = reach_here("simplex", club, columns=400).stdout.splitlines()[0]
    assert answer in (MAPS / "simplex.html").read_text(encoding="utf-8")

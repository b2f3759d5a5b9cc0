"""The starter files name every kind there is, and every key they show is known."""

from __future__ import annotations

import re
from importlib import resources
from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.club import read_net
from reach.inputs.equipment import ANTENNAS, FEED_LINES
from reach.stations import Net, Surrounding

STARTER = resources.files("reach.inputs").joinpath("starter")


def note(start: str) -> list[str]:
    """The names listed in a note of net.toml that begins with the words given, up to its first full stop."""
    notes = "\n".join(
        line.lstrip("# ") for line in STARTER.joinpath("net.toml").read_text(encoding="utf-8").splitlines()
    )
    found = re.search(re.escape(start) + r": (.*?)\.\s", notes, re.DOTALL)
    assert found
    return [" ".join(name.split()) for name in found.group(1).split(",")]


@pytest.mark.parametrize(
    ("start", "names"),
    [
        ("Antennas known by name", [*ANTENNAS]),
        ("Feed lines known by name", [*FEED_LINES]),
        ("Extra loss known by name", [surrounding.value for surrounding in Surrounding]),
    ],
)
def test_the_kinds_listed_are_the_kinds_there_are(start: str, names: list[str]) -> None:
    assert note(start) == names


def test_every_value_shown_in_a_note_can_be_switched_on(tmp_path: Path) -> None:
    text = STARTER.joinpath("net.toml").read_text(encoding="utf-8")
    opened = re.sub(r"^# (?=\[|[a-z_]+ = )", "", text, flags=re.MULTILINE)
    assert opened != text
    with pytest.raises(InputProblem, match="stands beside") as refused:
        _read(tmp_path, opened)
    assert [fault.key or fault.problem for fault in refused.value.faults][1:] == ["nets[1].script"]
    (tmp_path / "thursday.txt").write_text("[opening]", encoding="utf-8")
    one_only = re.sub(r"^\[schedule\](\n.+)*", "", opened, flags=re.MULTILINE)
    net = _read(tmp_path, one_only)
    assert net.warnings == ()
    assert net.land_cover and net.elevation_unit == "m" and net.k_factor == 1.333


def _read(tmp_path: Path, opened: str) -> Net:
    (tmp_path / "net.toml").write_text(opened, encoding="utf-8")
    (tmp_path / "roster.csv").write_text(
        STARTER.joinpath("roster.csv").read_text(encoding="utf-8"), encoding="utf-8"
    )
    (tmp_path / "cover.tif").write_bytes(b"")
    return read_net(tmp_path)

"""Who is there tonight: members left out of a net before it is planned."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.net_folder import NetFolder
from reach.inputs.planning import PlanningRules
from reach.inputs.tonight import present
from reach.stations import Antenna, Category, Channel, Net, Position, Station

CALLS = ("QK1A", "QK1B", "QK1C")


@pytest.fixture
def folder() -> NetFolder:
    stations = tuple(
        Station(call, "", Position(41.3, -38.0), Category.BASE, Antenna(9.0, 2.15), 47.0) for call in CALLS
    )
    net = Net("Small net", (Channel("S1", 146.52),), (), stations)
    return NetFolder(net, PlanningRules(control_candidates=("QK1A", "QK1B")))


def there(folder: NetFolder) -> list[str]:
    return [station.call_sign for station in folder.net.stations]


def test_who_is_away_is_left_out_and_remembered(folder: NetFolder) -> None:
    tonight = present(folder, without=["qk1a"])
    assert there(tonight) == ["QK1B", "QK1C"]
    assert tonight.net.away == ("QK1A",)
    assert tonight.planning.control_candidates == ("QK1B",)
    assert tonight.whole is folder
    assert present(folder) is folder


def test_several_in_one_text_are_one_choice(folder: NetFolder) -> None:
    assert present(folder, without=["QK1A, QK1C"]) == present(folder, without=["QK1C", "QK1A", "QK1A"])


@pytest.mark.parametrize(
    "text",
    ["QK1B\nQK1C\n", "call sign;name\nqk1b;Bea\n\n# away: QK1A\nQK1C;\n", '"QK1C",x\r\n"QK1B"\r\n'],
)
def test_a_list_of_those_there(folder: NetFolder, tmp_path: Path, text: str) -> None:
    file = tmp_path / "tonight.csv"
    file.write_bytes(text.encode())
    tonight = present(folder, only=file)
    assert there(tonight) == ["QK1B", "QK1C"]
    assert tonight == present(folder, without=["QK1A"])


def test_all_that_is_wrong_is_told_at_once(folder: NetFolder, tmp_path: Path) -> None:
    file = tmp_path / "tonight.txt"
    file.write_text("QK1B\nQK9Z\nQK1X\n", encoding="utf-8")
    with pytest.raises(InputProblem) as problem:
        present(folder, without=["QK2A"], only=file)
    said = str(problem.value)
    assert "--without" in said
    assert "tonight.txt, row 2" in said
    assert "tonight.txt, row 3" in said


def test_an_empty_list_and_an_empty_net_are_refused(folder: NetFolder, tmp_path: Path) -> None:
    file = tmp_path / "tonight.txt"
    file.write_text("# nobody yet\n", encoding="utf-8")
    with pytest.raises(InputProblem, match="names nobody"):
        present(folder, only=file)
    with pytest.raises(InputProblem, match="nobody of the roster is left"):
        present(folder, without=CALLS)
    with pytest.raises(InputProblem, match="all net controls"):
        present(folder, without=["QK1A", "QK1B"])
    free = replace(folder, planning=PlanningRules())
    assert there(present(free, without=["QK1A", "QK1B"])) == ["QK1C"]

"""Several nets of one club in net.toml: what is read, what is refused, and the folder for one of them."""

from __future__ import annotations

import datetime
import re
from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.net_folder import NetFolder, of_net, read_net_folder
from reach.inputs.nets import MeetsOn

CLUB = """[net]
name = "Small club"
[[channels]]
name = "two metres"
frequency_mhz = 146.52
[[channels]]
name = "seventy"
frequency_mhz = 446.0
[[repeaters]]
call_sign = "QK0R"
latitude = 41.37
longitude = -37.95
output_mhz = 146.94
input_mhz = 146.34
[[repeaters]]
call_sign = "QK9R"
latitude = 41.38
longitude = -37.95
output_mhz = 146.88
input_mhz = 146.28
"""
ROSTER = """call sign,name,category,latitude,longitude,control
QK1A,Ann,base,41.35,-37.95,yes
QK1B,Bea,base,41.40,-37.90,yes
"""
TUESDAY = """[[nets]]
name = "Tuesday"
weekday = "tuesday"
start = "19:30"
"""
MONDAY = """[schedule]
weekday = "monday"
start = "19:00"
"""
THURSDAY = """[[nets]]
name = "Thursday"
weekday = "thursday"
start = "20:00"
timezone = "America/Halifax"
channel = "Seventy"
repeater = "qk9r"
on = "both"
script = "thursday.txt"
control_candidates = ["qk1b"]
"""


def club(folder: Path, nets: str) -> NetFolder:
    (folder / "net.toml").write_text(CLUB + nets, encoding="utf-8")
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    (folder / "thursday.txt").write_text("[opening]\nGood evening.\n", encoding="utf-8")
    return read_net_folder(folder)


def fault(folder: Path, nets: str) -> str:
    with pytest.raises(InputProblem) as refused:
        club(folder, nets)
    return str(refused.value)


def row_of(words: str, nets: str) -> int:
    return (CLUB + nets)[: (CLUB + nets).rindex(words)].count("\n") + 1


def test_nets_are_read_in_their_order_with_what_is_usual(tmp_path: Path) -> None:
    one, other = club(tmp_path, TUESDAY + THURSDAY).nets
    assert (one.name, one.channel, one.repeater, one.on) == ("Tuesday", "two metres", "", MeetsOn.SIMPLEX)
    assert one.schedule.start == datetime.time(19, 30) and one.schedule.weekday == 1
    assert (other.channel, other.repeater, other.on) == ("seventy", "QK9R", MeetsOn.BOTH)
    assert other.control_candidates == ("QK1B",)


def test_a_net_with_a_repeater_meets_on_it_unless_it_says_otherwise(tmp_path: Path) -> None:
    (one,) = club(tmp_path, TUESDAY + 'repeater = "QK0R"\n').nets
    assert one.on is MeetsOn.REPEATER
    (one,) = club(tmp_path, TUESDAY + 'repeater = "QK0R"\non = "simplex"\n').nets
    assert one.on is MeetsOn.SIMPLEX


def test_without_a_choice_the_day_is_the_first_ones_and_the_rest_as_written(tmp_path: Path) -> None:
    read = club(tmp_path, TUESDAY + THURSDAY)
    assert read.meeting is None and read.net.name == "Small club"
    assert read.schedule == read.nets[0].schedule and read.script is None


def test_the_folder_for_one_net(tmp_path: Path) -> None:
    read = of_net(club(tmp_path, TUESDAY + THURSDAY), " thursday ")
    assert read.net.name == "Thursday"
    assert [channel.name for channel in read.net.channels] == ["seventy", "two metres"]
    assert [repeater.call_sign for repeater in read.net.repeaters] == ["QK9R", "QK0R"]
    assert read.planning.control_candidates == ("QK1B",)
    assert read.script is not None and read.script.startswith("[opening]")
    assert read.schedule == read.nets[1].schedule and read.meeting is read.nets[1]
    back = of_net(read, "Tuesday")
    assert [channel.name for channel in back.net.channels] == ["two metres", "seventy"]
    assert back.planning.control_candidates == () and back.script is None


def test_a_net_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(InputProblem, match="did you mean Tuesday"):
        of_net(club(tmp_path, TUESDAY + THURSDAY), "tusday")
    with pytest.raises(InputProblem, match=re.escape("add [[nets]] blocks")):
        of_net(club(tmp_path, ""), "Tuesday")


@pytest.mark.parametrize(
    ("nets", "words", "at"),
    [
        (TUESDAY + MONDAY, "stands beside [[nets]]", "[schedule]"),
        (TUESDAY + TUESDAY, "two nets called", 'name = "Tuesday"'),
        (TUESDAY + 'channel = "seventies"\n', "did you mean seventy?", "channel ="),
        (TUESDAY + 'repeater = "QK8R"\n', "did you mean QK9R?", "repeater ="),
        (TUESDAY + 'on = "repeater"\n', "names no repeater", "on ="),
        (TUESDAY + 'on = "air"\n', "no place to meet", "on ="),
        (TUESDAY + 'control_candidates = ["QK7Z"]\n', "not in the roster", "control_candidates"),
        (TUESDAY + 'control_candidates = "QK1A"\n', "not a list of call signs", "control_candidates"),
        (TUESDAY + 'script = "../secret.txt"\n', "not the name of a file", "script ="),
        (TUESDAY + 'every = "2 weeks"\n', "first_date", "[[nets]]"),
        ('[[nets]]\nweekday = "monday"\nstart = "19:00"\n', 'name = "Thursday net", say', "[[nets]]"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_one_line_with_its_row(tmp_path: Path, nets: str, words: str, at: str) -> None:
    told = fault(tmp_path, nets)
    assert words in told, told
    assert f"row {row_of(at, nets)}" in told, told
    assert len(told.splitlines()) == 1


def test_a_single_bracket_is_told(tmp_path: Path) -> None:
    assert "write [[nets]] in double brackets" in fault(tmp_path, TUESDAY.replace("[[nets]]", "[nets]"))


def test_a_script_that_is_not_there_is_told_with_the_other_faults(tmp_path: Path) -> None:
    told = fault(tmp_path, TUESDAY + 'script = "monday.txt"\nchannel = "seventies"\n')
    assert "there is no file monday.txt" in told and "did you mean seventy?" in told


@pytest.mark.parametrize(
    ("start", "weekday", "clash"),
    [("20:00", "tuesday", True), ("20:30", "tuesday", False), ("20:00", "wednesday", False)],
)
def test_two_at_the_same_time_are_said(tmp_path: Path, start: str, weekday: str, clash: bool) -> None:
    other = f'[[nets]]\nname = "Other"\nweekday = "{weekday}"\nstart = "{start}"\n'
    told = club(tmp_path, TUESDAY + other).net.warnings
    assert any("Tuesday and Other meet at the same time" in text for text in told) is clash


def test_a_net_over_midnight_at_the_end_of_the_week(tmp_path: Path) -> None:
    late = '[[nets]]\nname = "Late"\nweekday = "sunday"\nstart = "23:30"\n'
    early = '[[nets]]\nname = "Early"\nweekday = "monday"\nstart = "00:15"\n'
    assert any("Late and Early" in text for text in club(tmp_path, late + early).net.warnings)

"""Planning rules and the schedule."""

from __future__ import annotations

import datetime

import pytest

from reach.errors import InputProblem
from reach.inputs.planning import BatteryRules, PlanningRules, Schedule, planning_of, schedule_of
from reach.inputs.settings import parse_settings


def rules(text: str) -> PlanningRules:
    return planning_of(parse_settings(text))


def schedule(text: str) -> Schedule | None:
    return schedule_of(parse_settings(text))


def test_rules_left_out_are_assumed_and_said() -> None:
    read = rules("")
    assert (read.relay_readability, read.relay_chance, read.most_relays_in_a_row) == (3, None, 2)
    assert read.battery == BatteryRules()
    assert "a relay link needs R3 both ways" in read.assumed


def test_rules_can_be_said() -> None:
    read = rules(
        """[planning]
relay_readability = "R4"
relay_chance = "80 %"
most_relays_in_a_row = 1
battery_relays = false
mobile_relays = true
portable_relays = "yes"
control_candidates = ["qk3abc"]
duty = 0.2
receive_current_ma = 300
usable_share = 0.5
"""
    )
    assert read.relay_readability == 4 and read.relay_chance == pytest.approx(0.8)
    assert read.most_relays_in_a_row == 1
    assert (read.battery_relays, read.mobile_relays, read.portable_relays) == (False, True, True)
    assert read.control_candidates == ("QK3ABC",)
    assert read.battery.transmit_share == 0.2 and read.battery.receive_current_a == pytest.approx(0.3)
    assert read.battery.usable_share == 0.5
    assert read.warnings == ()


def test_no_schedule_is_none() -> None:
    assert schedule("[net]\n") is None


@pytest.mark.parametrize("start", ['"19:30"', "19:30:00", '"1930"', '"19.30"'])
def test_weekly(start: str) -> None:
    read = schedule(f"[schedule]\nweekday = 'Tuesday'\nstart = {start}\nduration_min = 45\n")
    assert read == Schedule(weekday=1, start=datetime.time(19, 30), duration_h=0.75)


def test_monthly_and_every_so_many_weeks() -> None:
    read = schedule(
        "[schedule]\nweekday='sun'\nstart='20:00'\nevery='month'\nweek_of_month='last'\ntimezone='UTC'\n"
    )
    assert read is not None and (read.every_weeks, read.week_of_month, read.weekday) == (0, -1, 6)
    read = schedule("[schedule]\nweekday='mon'\nstart='20:00'\nevery='2 weeks'\nfirst_date=2027-01-04\n")
    assert read is not None and read.every_weeks == 2 and read.first_date == datetime.date(2027, 1, 4)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[schedule]\n", "schedule.weekday: weekday is missing"),
        ("[schedule]\nweekday='t'\nstart='19:30'\n", '"t" is not a weekday'),
        ("[schedule]\nweekday='tue'\nstart='25:00'\n", '"25:00" is not a time of day'),
        ("[schedule]\nweekday='tue'\nstart='19:30'\nevery='blue moon'\n", '"blue moon" is not a rhythm'),
        ("[schedule]\nweekday='tue'\nstart='19:30'\nevery='month'\n", "a monthly net needs its week"),
        ("[schedule]\nweekday='tue'\nstart='19:30'\nweek_of_month='first'\n", "goes with a monthly net only"),
        (
            "[schedule]\nweekday='tue'\nstart='19:30'\nevery='3 weeks'\n",
            "schedule.first_date: needs to be given",
        ),
        (
            "[schedule]\nweekday='tue'\nstart='19:30'\ntimezone='Mars/Base'\n",
            '"Mars/Base" is not a time zone',
        ),
        ("[schedule]\nweekday='tue'\nstart='19:30'\ntimezone='../../etc/passwd'\n", "is not a time zone"),
        ("[schedule]\nweekday='tue'\nstart='19:30'\nfirst_date='soon'\n", '"soon" is not a date'),
        ("[schedule]\nweekday='tue'\nstart='19:30'\nduration_min=0\n", "schedule.duration_min: is zero"),
        ("schedule = 3\n", "is a value where a table belongs"),
    ],
)
def test_refused_schedules(text: str, words: str) -> None:
    with pytest.raises(InputProblem) as refused:
        schedule(text)
    assert words in str(refused.value)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("relay_readability = 0", "write a whole number from 2 to 5"),
        ("relay_readability = 2.5", "write a whole number from 2 to 5"),
        ("relay_chance = 80", "is not a share"),
        ("relay_chance = nan", "is not a number"),
        ("most_relays_in_a_row = 11", "write a whole number from 0 to 3"),
        ("mobile_relays = 'maybe'", "neither yes nor no"),
        ("control_candidates = [3]", "is not a list of call signs"),
        ("receive_current_a = 0", "outside 0.001 to 100 A"),
    ],
)
def test_refused_rules(line: str, words: str) -> None:
    with pytest.raises(InputProblem) as refused:
        rules(f"[planning]\n{line}\n")
    assert words in str(refused.value) and "row 2" in str(refused.value)

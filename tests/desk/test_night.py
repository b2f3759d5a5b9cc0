"""The evening behind the pages: clocks that jump, a planner that fails, who is suggested."""

from __future__ import annotations

import asyncio
import datetime
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from reach.answers.open_net import open_net
from reach.desk import night as night_module
from reach.desk.night import Night
from reach.desk.tonight import tonight_view
from reach.evening.acts import CheckedIn, Opened
from reach.evening.check_ins import CheckIn
from reach.evening.journal import Journal, journal_place
from tests.answers.small_net import made_in

ZONE = datetime.timezone(datetime.timedelta(hours=1))


class Clock:
    """The wall clock, and the time that really passed."""

    def __init__(self) -> None:
        self.wall = datetime.datetime(2026, 11, 24, 23, 58, tzinfo=ZONE)  # a Tuesday, the day of the net
        self.passed_s = 0.0

    def __call__(self) -> datetime.datetime:
        return self.wall

    def later(self, seconds: float, *, jump_s: float = 0.0) -> None:
        self.passed_s += seconds
        self.wall += datetime.timedelta(seconds=seconds + jump_s)


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    made = Clock()
    monkeypatch.setattr(night_module, "_passed_s", lambda: made.passed_s)
    return made


@pytest.fixture
def night(tmp_path: Path, clock: Clock) -> Iterator[Night]:
    folder = made_in(tmp_path)
    with open_net(folder) as opened:
        made = Night(opened, Journal(journal_place(folder, clock().date()), clock=clock), clock=clock)
        yield made
        made.end()


def note(night: Night, act: object, token: str) -> None:
    """In a thread of its own: a browser driven by the same process keeps a loop running in this one."""
    with ThreadPoolExecutor(1) as apart:
        apart.submit(asyncio.run, night.note(act, token=token, seen=None)).result()  # type: ignore[arg-type]


def planned(night: Night) -> None:
    """Let the planner's thread come to its end."""
    night._plan_newest()


@pytest.mark.parametrize(("jump_s", "told"), [(0.0, 0), (-3600.0, 1), (3600.0, 1), (30.0, 0)])
def test_a_clock_that_jumps_is_told_and_the_order_stays(
    night: Night, clock: Clock, jump_s: float, told: int
) -> None:
    """Over midnight, with the clock set an hour back or on (summer time by hand), and hardly at all."""
    note(night, Opened(on="two metres", control="QK1A"), "token-1")
    clock.later(300.0, jump_s=jump_s)  # past midnight
    note(night, CheckedIn(call="QK1B", kind=CheckIn.BASE), "token-2")
    clock.later(60.0)
    note(night, CheckedIn(call="QK1H", kind=CheckIn.BATTERY), "token-3")
    evening = night.evening
    assert evening.sitting is not None and evening.sitting.calls == ("QK1B", "QK1H")
    assert [seconds for _, seconds in evening.clock_jumps] == [int(jump_s)] * told
    assert bool(tonight_view(night).clock) == bool(told)


def test_sleep_is_no_jump(night: Night, clock: Clock) -> None:
    note(night, Opened(on="two metres", control="QK1A"), "token-1")
    clock.later(7200.0)  # both clocks went on
    note(night, CheckedIn(call="QK1B", kind=CheckIn.BASE), "token-2")
    assert not night.evening.clock_jumps


def test_net_control_is_suggested_by_the_rota_on_its_day_only(night: Night, clock: Clock) -> None:
    planned(night)
    assert night.thought.suggestion.why == "by the rota"
    clock.later(86_400.0)
    night.thought = night_module.Thought()
    planned(night)
    assert night.thought.suggestion.why == "works most of the others"


def test_a_planner_that_fails_is_said_and_the_list_goes_on(
    night: Night, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ZeroDivisionError("somewhere deep")

    monkeypatch.setattr(night_module, "evening_plan", broken)
    note(night, Opened(on="two metres", control="QK1A"), "token-1")
    planned(night)
    assert "somewhere deep" in tonight_view(night).plan.words
    note(night, CheckedIn(call="QK1B", kind=CheckIn.BASE), "token-2")
    assert tonight_view(night).counts == "1 station: 1 base"

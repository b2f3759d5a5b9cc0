"""Who controls the coming nets: dates from the net's rule, turns shared evenly among those fit for it."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from dateutil.rrule import MONTHLY, WEEKLY, rrule, weekday

from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.planning import Schedule
from reach.plans.relays.net_control import ControlChoice

_FURTHEST_YEARS = 10
_FIRST_MONDAY = datetime.date(2024, 1, 1)  # any Monday would do


@dataclass(frozen=True)
class Turn:
    """One net. start : with its time zone. stand_in : who takes over, '' when nobody else is fit."""

    start: datetime.datetime
    control: str
    stand_in: str


def scheduled(schedule: Schedule | None) -> Schedule:
    """The schedule a rota needs. Raises : InputProblem when net.toml does not tell when the net meets."""
    if schedule is None:
        fix = 'add a [schedule] table with weekday = "tuesday" and start = "19:30", say'
        raise InputProblem(Fault("there is no schedule, so the rota has no dates", fix, "net.toml"))
    return schedule


def net_dates(
    schedule: Schedule, *, start: datetime.date, count: int, until: datetime.date | None = None
) -> tuple[datetime.datetime, ...]:
    """The next `count` nets on or after `start` (fewer when `until`, inclusive, comes first).

    Weekly rules count their weeks from schedule.first_date. Raises : InputProblem when there is none at all.
    """
    if count < 1:
        raise InputProblem(Fault(f"a rota of {count} nets has no dates", "ask for 1 net or more"))
    found = dates_from(schedule, start=start, count=count, until=until)
    if not found:
        first = max(start, schedule.first_date or start)
        raise InputProblem(
            Fault(
                f"the schedule gives no net from {first.isoformat()} to {_last(first, until).isoformat()}",
                "choose a later last date, or change [schedule]",
                file="net.toml",
            )
        )
    return found


def dates_from(
    schedule: Schedule, *, start: datetime.date, count: int, until: datetime.date | None = None
) -> tuple[datetime.datetime, ...]:
    """As `net_dates`, but empty where the schedule gives none."""
    first = max(start, schedule.first_date or start)
    last = _last(first, until)
    day = weekday(schedule.weekday)
    if schedule.every_weeks:
        anchor = schedule.first_date or start
        days = rrule(
            WEEKLY,
            interval=schedule.every_weeks,
            byweekday=day,
            dtstart=_midnight(anchor),
            until=_midnight(last),
        )
    else:
        in_month = day(schedule.week_of_month)
        days = rrule(MONTHLY, byweekday=in_month, dtstart=_midnight(first), until=_midnight(last))
    zone = ZoneInfo(schedule.timezone)
    found = [d.date() for d in days.xafter(_midnight(first), count=count, inc=True)] if first <= last else []
    return tuple(datetime.datetime.combine(d, schedule.start, tzinfo=zone) for d in found)


def _last(first: datetime.date, until: datetime.date | None) -> datetime.date:
    return until or datetime.date(min(first.year + _FURTHEST_YEARS, datetime.MAXYEAR), 12, 31)


def _midnight(date: datetime.date) -> datetime.datetime:
    return datetime.datetime.combine(date, datetime.time())


def net_number(schedule: Schedule, date: datetime.date) -> int:
    """Which net of the schedule a date has, counted from one that never changes.

    So that a rota gives a date the same turn whenever it is made.
    """
    if schedule.every_weeks:
        anchor = schedule.first_date or _FIRST_MONDAY
        return (date - anchor).days // (7 * schedule.every_weeks)
    in_month = weekday(schedule.weekday)(schedule.week_of_month)
    dates = rrule(MONTHLY, byweekday=in_month, dtstart=_midnight(_FIRST_MONDAY), until=_midnight(date))
    return sum(1 for _ in dates) - 1


def fit_for_control(choices: Sequence[ControlChoice], *, share: float = 0.8) -> tuple[ControlChoice, ...]:
    """Those who reach at least `share` of what the best reaches and score at least `share` of the best, in
    rank order."""
    if not choices:
        return ()
    best = choices[0]
    return tuple(c for c in choices if c.reaches >= share * best.reaches and c.score >= share * best.score)


def rota(
    choices: Sequence[ControlChoice],
    dates: Sequence[datetime.datetime],
    *,
    share: float = 0.8,
    last: str = "",
    first: int = 0,
) -> tuple[Turn, ...]:
    """Turns for these dates: round and round in rank order, so no two of them differ by more than one turn.

    share : as `fit_for_control`. last : call sign that controlled the net before; the round goes on after it.
    first : number of the first net (`net_number`), which says whose turn it is when `last` does not.
    Raises : NoPlan when nobody is fit.
    """
    fit = [choice.call_sign for choice in fit_for_control(choices, share=share)]
    if not fit:
        raise NoPlan("nobody is fit for net control, so there is no rota; more stations have to be willing.")
    offset = fit.index(last.upper()) + 1 if last.upper() in fit else first
    turns = []
    for number, start in enumerate(dates):
        control = fit[(offset + number) % len(fit)]
        stand_in = fit[(offset + number + 1) % len(fit)] if len(fit) > 1 else ""
        turns.append(Turn(start=start, control=control, stand_in=stand_in))
    return tuple(turns)

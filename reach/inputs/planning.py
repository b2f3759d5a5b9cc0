"""The rules a net's plans keep to and when it meets: the [planning] and [schedule] tables of net.toml."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.columns import Cell, Column, Place, read_record, table_cells
from reach.inputs.quantities import quoted, refuse
from reach.inputs.settings import Settings

LONGEST_CHAIN = 3  # relays in a row; each doubles the time a call takes (own choice)

CURRENT = q.Quantity(
    what="a current",
    example="0.5 A",
    units={"A": lambda value: value, "mA": lambda value: value * 1e-3},
    spellings={},
    internal="A",
    bare_unit="A",
    lowest=0.001,
    highest=100.0,
)


@dataclass(frozen=True)
class BatteryRules:
    """How long a battery is taken to last, all common practice without a source.

    transmit_share : share of the time a station transmits, 0 to 1.
    receive_current_a : current while listening.
    transmitter_efficiency : radio-frequency power over supply power while transmitting, 0 to 1.
    usable_share : share of the battery's nominal capacity that can be used, 0 to 1.
    """

    transmit_share: float = 0.1
    receive_current_a: float = 0.5
    transmitter_efficiency: float = 0.4
    usable_share: float = 0.8


@dataclass(frozen=True)
class PlanningRules:
    """What makes a link good enough to plan on, and who may relay.

    relay_readability : lowest readability, 2 to 5, needed in both directions of a link.
    relay_chance : lowest chance of working needed both ways, 0 to 1; None leaves it to the readability.
    most_relays_in_a_row : longest chain of relays between net control and a member, 0 to 3.
    battery_relays, mobile_relays, portable_relays : whether such stations may relay when willing.
    control_candidates : call signs considered for net control; empty means everyone willing.
    """

    relay_readability: int = 3
    relay_chance: float | None = None
    most_relays_in_a_row: int = 2
    battery_relays: bool = True
    mobile_relays: bool = False
    portable_relays: bool = False
    control_candidates: tuple[str, ...] = ()
    battery: BatteryRules = BatteryRules()
    assumed: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class Schedule:
    """When the net meets.

    weekday : 0 Monday to 6 Sunday. every_weeks : 1 for weekly; 0 for a monthly net.
    week_of_month : 1 to 5, or -1 for the last; only for a monthly net (every_weeks 0), otherwise 0.
    first_date : earliest date, None when not said; with every_weeks above 1 it fixes which weeks count.
    """

    weekday: int
    start: datetime.time
    duration_h: float = 1.0
    timezone: str = "UTC"
    every_weeks: int = 1
    week_of_month: int = 0
    first_date: datetime.date | None = None
    warnings: tuple[str, ...] = ()


def _share(text: str) -> float:
    tidy = text.strip()
    value = q.parse_number(tidy.removesuffix("%")) / (100.0 if tidy.endswith("%") else 1.0)
    if not 0.0 < value <= 1.0:
        raise refuse(f"{quoted(text)} is not a share", "write a number above 0 up to 1, e.g. 0.8, or 80 %")
    return value


def _whole(text: str, lowest: int, highest: int) -> int:
    value = q.parse_number(text)
    if value != int(value) or not lowest <= value <= highest:
        raise refuse(f"{quoted(text)} is out of range", f"write a whole number from {lowest} to {highest}")
    return int(value)


def _readability(text: str) -> int:
    return _whole(text.strip().upper().removeprefix("R"), 2, 5)


WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
_ORDINALS = {"first": 1, "second": 2, "third": 3, "fourth": 4, "fifth": 5, "last": -1}


def _weekday(text: str) -> int:
    word = text.strip().lower()
    found = [n for n, name in enumerate(WEEKDAYS) if len(word) >= 2 and name.startswith(word)]
    if len(found) != 1:
        raise refuse(f"{quoted(text)} is not a weekday", f"write one of: {', '.join(WEEKDAYS)}")
    return found[0]


def _time(text: str) -> datetime.time:
    for pattern in ("%H:%M", "%H:%M:%S", "%H.%M", "%H%M"):
        try:
            return datetime.datetime.strptime(text.strip(), pattern).time()
        except ValueError:
            continue
    raise refuse(f"{quoted(text)} is not a time of day", 'write "19:30", on the 24-hour clock')


def _date(text: str) -> datetime.date:
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError:
        raise refuse(f"{quoted(text)} is not a date", 'write "2026-12-01": year, month, day') from None


def _timezone(text: str) -> str:
    try:
        ZoneInfo(text)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise refuse(
            f"{quoted(text)} is not a time zone known here", 'write "UTC" or a name such as "Etc/GMT+2"'
        ) from None
    return text


def _every(text: str) -> int:
    words = text.strip().lower()
    known = {"week": 1, "weekly": 1, "two weeks": 2, "second week": 2, "month": 0, "monthly": 0}
    if words in known:
        return known[words]
    number = words.removesuffix("weeks").strip()
    if number != words:
        return _whole(number, 1, 52)
    raise refuse(f"{quoted(text)} is not a rhythm", 'write "week", "2 weeks" or "month"')


def _week_of_month(text: str) -> int:
    word = text.strip().lower()
    if word in _ORDINALS:
        return _ORDINALS[word]
    raise refuse(f"{quoted(text)} is not a week of the month", f"write one of: {', '.join(_ORDINALS)}")


def _yes_no(cell: Cell) -> bool:
    return q.parse_yes_no(cell.text)


def _of_one(cell: Cell) -> float:
    return _share(cell.text)


PLANNING_COLUMNS = (
    Column("relay_readability", reads=lambda c: _readability(c.text)),
    Column("relay_chance", reads=_of_one),
    Column("most_relays_in_a_row", reads=lambda c: _whole(c.text, 0, LONGEST_CHAIN)),
    Column("battery_relays", reads=_yes_no),
    Column("mobile_relays", reads=_yes_no),
    Column("portable_relays", reads=_yes_no),
    Column("transmit_share", None, ("duty", "duty_cycle"), _of_one),
    Column("receive_current", CURRENT),
    Column("transmitter_efficiency", reads=_of_one),
    Column("usable_share", reads=_of_one),
)
SCHEDULE_COLUMNS = (
    Column("weekday", None, ("day",), lambda c: _weekday(c.text), missing='write weekday = "tuesday", say'),
    Column("start", None, ("time",), lambda c: _time(c.text), missing='write start = "19:30", say'),
    Column("duration", q.DURATION),
    Column("timezone", None, ("time_zone",), lambda c: _timezone(c.text)),
    Column("every", reads=lambda c: _every(c.text)),
    Column("week_of_month", None, ("which",), lambda c: _week_of_month(c.text)),
    Column("first_date", None, ("from",), lambda c: _date(c.text)),
)


@dataclass(frozen=True)
class _RuleFields:
    relay_readability: int = PlanningRules.relay_readability
    relay_chance: float | None = None
    most_relays_in_a_row: int = PlanningRules.most_relays_in_a_row
    battery_relays: bool = PlanningRules.battery_relays
    mobile_relays: bool = PlanningRules.mobile_relays
    portable_relays: bool = PlanningRules.portable_relays
    transmit_share: float = BatteryRules.transmit_share
    receive_current: float = BatteryRules.receive_current_a
    transmitter_efficiency: float = BatteryRules.transmitter_efficiency
    usable_share: float = BatteryRules.usable_share


@dataclass(frozen=True, kw_only=True)
class ScheduleFields:
    """A schedule's columns as read."""

    weekday: int
    start: datetime.time
    duration: float = 1.0  # h
    timezone: str = "UTC"
    every: int = 1
    week_of_month: int = 0
    first_date: datetime.date | None = None


def planning_of(settings: Settings) -> PlanningRules:
    """The planning rules among the settings already read. Raises : InputProblem with every fault."""
    faults: list[Fault] = []
    place = settings.place("planning")
    table = dict(settings.table("planning", faults))
    candidates = call_signs_of(table.pop("control_candidates", []), place, faults)
    cells, warnings, found = table_cells(table, PLANNING_COLUMNS, place)
    faults += found
    fields, found = read_record(_RuleFields, PLANNING_COLUMNS, cells, place)
    faults += found
    if faults or fields is None:
        raise InputProblem(faults)
    assumed = [words for name, words in _ASSUMED_WORDS.items() if name not in cells]
    return PlanningRules(
        relay_readability=fields.relay_readability,
        relay_chance=fields.relay_chance,
        most_relays_in_a_row=fields.most_relays_in_a_row,
        battery_relays=fields.battery_relays,
        mobile_relays=fields.mobile_relays,
        portable_relays=fields.portable_relays,
        control_candidates=candidates,
        battery=BatteryRules(
            transmit_share=fields.transmit_share,
            receive_current_a=fields.receive_current,
            transmitter_efficiency=fields.transmitter_efficiency,
            usable_share=fields.usable_share,
        ),
        assumed=tuple(assumed),
        warnings=tuple(warnings),
    )


_ASSUMED_WORDS = {
    "relay_readability": "a relay link needs R3 both ways",
    "most_relays_in_a_row": "at most two relays in a row",
    "battery_relays": "stations with backup power may relay",
    "mobile_relays": "mobile stations do not relay",
    "portable_relays": "portable stations do not relay",
    "transmit_share": "a station transmits 10 % of the time",
    "receive_current": "0.5 A while listening",
}


def call_signs_of(value: object, place: Place, faults: list[Fault]) -> tuple[str, ...]:
    """The call signs of a list in net.toml; what is none goes to the faults."""
    heading = "control_candidates"
    if not isinstance(value, list) or not all(isinstance(v, str) for v in value):
        faults.append(place.fault("is not a list of call signs", 'write ["QK3ABC"], say', heading=heading))
        return ()
    result: list[str] = []
    for text in value:
        try:
            result.append(parse_call_sign(text))
        except InputProblem as problem:
            faults += [place.located(fault, heading=heading) for fault in problem.faults]
    return tuple(result)


def schedule_of(settings: Settings) -> Schedule | None:
    """The schedule among the settings already read, or None. Raises : InputProblem with every fault."""
    if "schedule" not in settings.tables:
        return None
    faults: list[Fault] = []
    place = settings.place("schedule")
    cells, warnings, found = table_cells(
        dates_as_text(settings.table("schedule", faults)), SCHEDULE_COLUMNS, place
    )
    faults += found
    fields, found = read_record(ScheduleFields, SCHEDULE_COLUMNS, cells, place)
    faults += found
    if fields is not None:
        faults += schedule_faults(fields, cells, place)
    if faults or fields is None:
        raise InputProblem(faults)
    return schedule_from(fields, tuple(warnings))


def schedule_from(fields: ScheduleFields, warnings: tuple[str, ...]) -> Schedule:
    """The schedule that a table's columns say."""
    return Schedule(
        weekday=fields.weekday,
        start=fields.start,
        duration_h=fields.duration,
        timezone=fields.timezone,
        every_weeks=fields.every,
        week_of_month=fields.week_of_month,
        first_date=fields.first_date,
        warnings=warnings,
    )


def schedule_faults(fields: ScheduleFields, cells: Mapping[str, Cell], place: Place) -> list[Fault]:
    """What of a schedule's values does not go together."""
    return [
        place.fault(problem, fix, heading=cells[name].heading if name in cells else name)
        for name, problem, fix in _schedule_contradictions(fields, cells)
    ]


def _schedule_contradictions(fields: ScheduleFields, cells: Mapping[str, Cell]) -> list[tuple[str, str, str]]:
    """(column, problem, fix) of values that do not go together."""
    found = []
    if fields.every == 0 and "week_of_month" not in cells:
        found.append(("week_of_month", "a monthly net needs its week", 'write week_of_month = "first", say'))
    if fields.every != 0 and "week_of_month" in cells:
        found.append(
            ("week_of_month", "goes with a monthly net only", 'write every = "month", or take it out')
        )
    if fields.every > 1 and fields.first_date is None:
        found.append(
            (
                "first_date",
                "needs to be given, to count the weeks from",
                'write first_date = "2026-12-01"',
            )
        )
    if not fields.duration > 0.0:
        found.append(("duration", "is zero", "write duration_min = 60, say"))
    return found


def dates_as_text(table: Mapping[str, object]) -> dict[str, object]:
    """TOML's own dates and times as the text they were, so that quoted and bare ones read alike."""
    return {
        key: value.isoformat() if isinstance(value, (datetime.date, datetime.time)) else value
        for key, value in table.items()
    }

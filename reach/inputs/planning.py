"""The rules a net's plans keep to and when it meets: the [planning] and [schedule] tables of net.toml."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Annotated
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import BaseModel, ConfigDict, PlainValidator, ValidationError

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.columns import Cell, Column, faults_of, table_cells
from reach.inputs.quantities import quoted, refuse
from reach.inputs.settings import Settings

LONGEST_CHAIN = 3  # relays in a row; each doubles the time a call takes (own choice)

_CONFIG = ConfigDict(frozen=True, arbitrary_types_allowed=True, extra="forbid")

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


class _RuleFields(BaseModel):
    model_config = _CONFIG
    relay_readability: Annotated[int, PlainValidator(lambda c: _readability(c.text))] = 3
    relay_chance: Annotated[float | None, PlainValidator(lambda c: _share(c.text))] = None
    most_relays_in_a_row: Annotated[int, PlainValidator(lambda c: _whole(c.text, 0, LONGEST_CHAIN))] = 2
    battery_relays: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = True
    mobile_relays: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = False
    portable_relays: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = False
    transmit_share: Annotated[float, PlainValidator(lambda c: _share(c.text))] = BatteryRules.transmit_share
    receive_current: Annotated[float, PlainValidator(lambda c: CURRENT.parse(c.text, c.unit))] = (
        BatteryRules.receive_current_a
    )
    transmitter_efficiency: Annotated[float, PlainValidator(lambda c: _share(c.text))] = (
        BatteryRules.transmitter_efficiency
    )
    usable_share: Annotated[float, PlainValidator(lambda c: _share(c.text))] = BatteryRules.usable_share


class _ScheduleFields(BaseModel):
    model_config = _CONFIG
    weekday: Annotated[int, PlainValidator(lambda c: _weekday(c.text))]
    start: Annotated[datetime.time, PlainValidator(lambda c: _time(c.text))]
    duration: Annotated[float, PlainValidator(lambda c: q.parse_duration_h(c.text, c.unit))] = 1.0
    timezone: Annotated[str, PlainValidator(lambda c: _timezone(c.text))] = "UTC"
    every: Annotated[int, PlainValidator(lambda c: _every(c.text))] = 1
    week_of_month: Annotated[int, PlainValidator(lambda c: _week_of_month(c.text))] = 0
    first_date: Annotated[datetime.date | None, PlainValidator(lambda c: _date(c.text))] = None


PLANNING_COLUMNS = (
    Column("relay_readability"),
    Column("relay_chance"),
    Column("most_relays_in_a_row"),
    Column("battery_relays"),
    Column("mobile_relays"),
    Column("portable_relays"),
    Column("transmit_share", None, ("duty", "duty_cycle")),
    Column("receive_current", CURRENT),
    Column("transmitter_efficiency"),
    Column("usable_share"),
)
SCHEDULE_COLUMNS = (
    Column("weekday", None, ("day",)),
    Column("start", None, ("time",)),
    Column("duration", q.DURATION),
    Column("timezone", None, ("time_zone",)),
    Column("every"),
    Column("week_of_month", None, ("which",)),
    Column("first_date", None, ("from",)),
)


def planning_of(settings: Settings) -> PlanningRules:
    """The planning rules among the settings already read. Raises : InputProblem with every fault."""
    faults: list[Fault] = []
    place = settings.place("planning")
    table = dict(settings.table("planning", faults))
    candidates = _call_signs(table.pop("control_candidates", []), settings, faults)
    cells, warnings, found = table_cells(table, PLANNING_COLUMNS, place)
    faults += found
    fields = _RuleFields()
    try:
        fields = _RuleFields.model_validate(cells)
    except ValidationError as error:
        faults += faults_of(error, cells, place, missing=lambda name: "")
    if faults:
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


def _call_signs(value: object, settings: Settings, faults: list[Fault]) -> tuple[str, ...]:
    place = settings.place("planning")
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
        _dates_as_text(settings.table("schedule", faults)), SCHEDULE_COLUMNS, place
    )
    faults += found
    fields: _ScheduleFields | None = None
    missing = {"weekday": 'write weekday = "tuesday", say', "start": 'write start = "19:30", say'}
    try:
        fields = _ScheduleFields.model_validate(cells)
    except ValidationError as error:
        faults += faults_of(error, cells, place, missing=missing.__getitem__)
    if fields is not None:
        faults += [
            place.fault(problem, fix, heading=cells[name].heading if name in cells else name)
            for name, problem, fix in _schedule_contradictions(fields, cells)
        ]
    if faults or fields is None:
        raise InputProblem(faults)
    return Schedule(
        weekday=fields.weekday,
        start=fields.start,
        duration_h=fields.duration,
        timezone=fields.timezone,
        every_weeks=fields.every,
        week_of_month=fields.week_of_month,
        first_date=fields.first_date,
        warnings=tuple(warnings),
    )


def _schedule_contradictions(
    fields: _ScheduleFields, cells: Mapping[str, Cell]
) -> list[tuple[str, str, str]]:
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


def _dates_as_text(table: Mapping[str, object]) -> dict[str, object]:
    """TOML's own dates and times as the text they were, so that quoted and bare ones read alike."""
    return {
        key: value.isoformat() if isinstance(value, (datetime.date, datetime.time)) else value
        for key, value in table.items()
    }

"""Several nets of one club: the [[nets]] of net.toml, each with its day, place, script and controls."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.call_signs import parse_name
from reach.inputs.columns import Cell, Column, Place, read_record
from reach.inputs.findings import Findings
from reach.inputs.lookup import named_channel
from reach.inputs.planning import (
    SCHEDULE_COLUMNS,
    Schedule,
    ScheduleFields,
    call_signs_of,
    dates_as_text,
    schedule_faults,
    schedule_from,
)
from reach.inputs.quantities import quoted, refuse
from reach.inputs.settings import Settings
from reach.lists import did_you_mean, named
from reach.stations import Channel, Repeater

_WEEK_MIN = 7 * 24 * 60


class MeetsOn(Enum):
    """Where a net meets; the value is how it is asked for."""

    SIMPLEX = "simplex"
    REPEATER = "repeater"
    BOTH = "both"  # the repeater net, then the simplex net with whoever stays on


@dataclass(frozen=True)
class ClubNet:
    """One of a club's nets.

    channel : its simplex channel by name; repeater : its repeater's call sign, '' for none.
    control_candidates : who is considered for net control; empty leaves it to [planning].
    script : file of its wording in the net's folder, '' for script.txt.
    """

    name: str
    schedule: Schedule
    channel: str
    repeater: str = ""
    on: MeetsOn = MeetsOn.SIMPLEX
    control_candidates: tuple[str, ...] = ()
    script: str = ""

    @property
    def places(self) -> tuple[str, ...]:
        """The repeater and channel it meets on, one after the other."""
        if self.on is MeetsOn.SIMPLEX:
            return (self.channel,)
        return (self.repeater,) if self.on is MeetsOn.REPEATER else (self.repeater, self.channel)


def own_repeater(net: ClubNet) -> str:
    """Call sign of the repeater it meets on. Raises : InputProblem for a net on simplex alone."""
    if not net.repeater:
        raise InputProblem(
            Fault(
                f"{net.name} meets on {net.channel}, not on a repeater", "leave --net out, or name a repeater"
            )
        )
    return net.repeater


def _meets_on(text: str) -> MeetsOn:
    word = text.strip().lower()
    if word in {one.value for one in MeetsOn}:
        return MeetsOn(word)
    raise refuse(f"{quoted(text)} is no place to meet", 'write "simplex", "repeater" or "both"')


def _file_name(text: str) -> str:
    name = text.strip()
    if not name or "/" in name or "\\" in name or name.startswith("."):
        raise refuse(f"{quoted(text)} is not the name of a file", 'write script = "thursday.txt", say')
    return name


NETS_COLUMNS = (
    Column("name", reads=lambda c: parse_name(c.text), missing='write name = "Thursday net", say'),
    *SCHEDULE_COLUMNS,
    Column("channel", reads=lambda c: parse_name(c.text)),
    Column("repeater", reads=lambda c: c.text.strip().upper()),
    Column("on", None, ("meets_on",), lambda c: _meets_on(c.text)),
    Column("script", reads=lambda c: _file_name(c.text)),
)


@dataclass(frozen=True, kw_only=True)
class _NetsFields(ScheduleFields):
    name: str
    channel: str = ""
    repeater: str = ""
    on: MeetsOn | None = None
    script: str = ""


def read_nets(
    settings: Settings,
    found: Findings,
    *,
    channels: Sequence[Channel],
    repeaters: Sequence[Repeater | None],
    members: Collection[str],
    folder: Path,
) -> tuple[ClubNet, ...]:
    """The club's nets in the order of the file; empty without [[nets]]. What is wrong goes to `found`.

    members : call signs of the roster; empty when it could not be read. folder : where scripts stand.
    """
    if "nets" not in settings.tables:
        return ()
    if "schedule" in settings.tables:
        found.faults.append(
            settings.place("schedule").fault(
                "stands beside [[nets]], which say when each net meets",
                "move its lines into one of the [[nets]] blocks",
            )
        )
    known = _Known(
        tuple(channels),
        tuple(repeater.call_sign for repeater in repeaters if repeater),
        members,
        all(repeaters),
        folder,
    )
    nets: list[ClubNet] = []
    for path, table in settings.tables_named("nets", found.faults):
        place = settings.place(path)
        one = _net(dict(table), place, found, known)
        if one is None:
            continue
        if any(one.name.casefold() == other.name.casefold() for other in nets):
            found.faults.append(
                place.fault(
                    f"there are two nets called {quoted(one.name)}", "give each its own name", heading="name"
                )
            )
        nets.append(one)
    found.warnings += _clashes(nets)
    return tuple(nets)


@dataclass(frozen=True)
class _Known:
    """What a net may name. every_repeater : whether all could be read.
    folder : where scripts stand."""

    channels: tuple[Channel, ...]
    repeaters: tuple[str, ...]
    members: Collection[str]
    every_repeater: bool
    folder: Path


def _net(table: dict[str, object], place: Place, found: Findings, known: _Known) -> ClubNet | None:
    """One block, None when its columns cannot be read."""
    candidates = call_signs_of(table.pop("control_candidates", []), place, found.faults)
    cells = found.cells(dates_as_text(table), NETS_COLUMNS, place)
    fields, faults = read_record(_NetsFields, NETS_COLUMNS, cells, place)
    found.faults += faults
    if fields is None:
        return None
    found.faults += schedule_faults(fields, cells, place)
    on = fields.on or (MeetsOn.REPEATER if fields.repeater else MeetsOn.SIMPLEX)
    found.faults += _unknown(fields, candidates, on, cells, place, known)
    channel = (
        named_channel(known.channels, fields.channel) if fields.channel else next(iter(known.channels), None)
    )
    return ClubNet(
        name=fields.name,
        schedule=schedule_from(fields, ()),
        channel=fields.channel if channel is None else channel.name,
        repeater=fields.repeater,
        on=on,
        control_candidates=candidates,
        script=fields.script,
    )


def _unknown(
    fields: _NetsFields,
    candidates: Sequence[str],
    on: MeetsOn,
    cells: dict[str, Cell],
    place: Place,
    known: _Known,
) -> list[Fault]:
    """What a net names that is not there, and a repeater net that names no repeater."""
    faults = []
    if fields.channel and known.channels and named_channel(known.channels, fields.channel) is None:
        fix = _meant(fields.channel, tuple(channel.name for channel in known.channels), "channels")
        faults.append(place.fault(f"{quoted(fields.channel)} is no channel", fix, heading="channel"))
    if fields.repeater and fields.repeater not in known.repeaters and known.every_repeater:
        fix = _meant(fields.repeater, known.repeaters, "repeaters")
        faults.append(place.fault(f"{quoted(fields.repeater)} is no repeater", fix, heading="repeater"))
    if on is not MeetsOn.SIMPLEX and not fields.repeater:
        heading = cells["on"].heading
        fix = 'write repeater = "QK3RPT/R", say, in the same block'
        faults.append(place.fault("names no repeater to meet on", fix, heading=heading))
    if fields.script and not (known.folder / fields.script).is_file():
        fix = "put it beside net.toml, or take the line out for script.txt or the built-in words"
        faults.append(place.fault(f"there is no file {fields.script}", fix, heading="script"))
    for call in candidates:
        if known.members and call not in known.members:
            fix = _meant(call, tuple(sorted(known.members)), "members")
            faults.append(
                place.fault(f"{quoted(call)} is not in the roster", fix, heading="control_candidates")
            )
    return faults


def _meant(name: str, names: Sequence[str], what: str) -> str:
    some = f"there are {named(names, most=12)}" if names else f"there are no {what} in the folder"
    return did_you_mean(name, names, otherwise=some)


def _clashes(nets: Sequence[ClubNet]) -> list[str]:
    """Nets that meet every week at the same time; a monthly one may miss the other's weeks."""
    weekly = [one for one in nets if one.schedule.every_weeks == 1]
    told = []
    for at, one in enumerate(weekly):
        for other in weekly[at + 1 :]:
            if one.schedule.timezone == other.schedule.timezone and _overlap(one.schedule, other.schedule):
                told.append(f"net.toml: {one.name} and {other.name} meet at the same time.")
    return told


def _overlap(one: Schedule, other: Schedule) -> bool:
    """Whether two weekly nets run at the same time, over midnight and the end of the week too."""
    begin, end = _begin_min(one), _begin_min(other)
    after, before = (end - begin) % _WEEK_MIN, (begin - end) % _WEEK_MIN
    return after < one.duration_h * 60.0 or before < other.duration_h * 60.0


def _begin_min(schedule: Schedule) -> int:
    start: datetime.time = schedule.start
    return (schedule.weekday * 24 + start.hour) * 60 + start.minute

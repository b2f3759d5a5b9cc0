"""Taking in reports of who was really heard: files and lines said by hand, every fault named, good rows
kept.
"""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from reach.answers.learned import band_of_channel, band_of_repeater, zone_of
from reach.answers.record import Answer
from reach.answers.sheet import Sheet
from reach.errors import Fault, InputProblem
from reach.inputs.net_folder import NetFolder
from reach.inputs.planning import Schedule
from reach.inputs.report_files import read_reports
from reach.inputs.reports import ListKind, Report, ReportFile, ReportRow
from reach.inputs.reports_by_hand import looks_like_a_report, parse_spoken
from reach.inputs.reports_csv import Reading
from reach.lists import counted, named
from reach.reports.store import Stored, add_reports, said_fingerprint, standing, stored_reports

BY_HAND = "by hand"
_EARLY, _LATE = datetime.timedelta(minutes=15), datetime.timedelta(minutes=30)


@dataclass(frozen=True)
class Taken:
    """What became of one source. known : rows that were there already."""

    name: str
    added: int
    known: int
    faults: tuple[Fault, ...]


@dataclass(frozen=True)
class ReportFigures:
    """The same for machines."""

    headline: str
    taken: tuple[Taken, ...]
    stored: int
    standing: int


@dataclass(frozen=True, kw_only=True)
class ReportAnswer(Answer):
    """taken : source by source; stored : every report there is now; bands : standing reports of each."""

    taken: tuple[Taken, ...]
    stored: tuple[Stored, ...]
    bands: tuple[tuple[str, int, int], ...]

    @property
    def faults(self) -> tuple[Fault, ...]:
        """What was wrong with rows that were not stored."""
        return tuple(fault for one in self.taken for fault in one.faults)

    @property
    def figures(self) -> ReportFigures:
        """As Answer.figures."""
        return ReportFigures(self.headline, self.taken, len(self.stored), len(standing(self.stored)))


def report(
    folder: NetFolder, said: Sequence[str], *, now: datetime.datetime, owner: str = ""
) -> ReportAnswer:
    """Store reports; without any say what is stored.

    said : files (.csv, .adi, .adx) or lines such as "QK3ABC hears QK3DEF R4". owner : whose log a log is that
    does not say. now : with its time zone. A source that cannot be read at all keeps all of them out.
    Raises : InputProblem, OutputProblem.
    """
    net = folder.net
    against = Reading(net, zone_of(folder), now)
    sources, problems = _read(said, against, owner)
    if problems:
        raise InputProblem(problems)
    place = Path(net.folder)
    taken = []
    warnings: list[str] = []
    for read, fingerprint in sources:
        added = add_reports(place, read.rows, name=read.name, fingerprint=fingerprint, came=now)
        taken.append(Taken(read.name, added.added, added.known, read.faults))
        warnings += read.warnings
        if read.name != BY_HAND:
            warnings += _clock_warnings(read, _schedules(folder), against.zone)
        if added.known_source:
            warnings.append(f"{read.name} came before, unchanged: nothing was added.")
    stored = stored_reports(place)
    current = [one.report for one in standing(stored)]
    warnings += _strangers(current, folder)
    return ReportAnswer(
        net=net,
        headline=_headline(taken, current),
        assumed=(),
        in_short=(),
        warnings=tuple(dict.fromkeys(warnings)),
        rows=Sheet(
            ("source", "added", "known", "refused"),
            tuple((one.name, one.added, one.known, len(one.faults)) for one in taken),
        ),
        taken=tuple(taken),
        stored=stored,
        bands=_bands(current, folder),
    )


def _read(
    said: Sequence[str], against: Reading, owner: str
) -> tuple[list[tuple[ReportFile, str]], list[Fault]]:
    sources: list[tuple[ReportFile, str]] = []
    problems: list[Fault] = []
    spoken: list[Report] = []
    for text in said:
        try:
            if looks_like_a_report(text):
                spoken.append(parse_spoken(text, against=against))
            elif " " in text.strip() and not Path(text).exists():
                parse_spoken(text, against=against)  # says how a line is written
            else:
                sources.append(read_reports(Path(text), against=against, owner=owner))
        except InputProblem as problem:
            problems += problem.faults
    if spoken:
        rows = tuple(ReportRow(number, one) for number, one in enumerate(spoken, start=1))
        sources.append((ReportFile(BY_HAND, rows), said_fingerprint(spoken)))
    return sources, problems


def _headline(taken: Sequence[Taken], current: Sequence[Report]) -> str:
    if not taken:
        return f"{counted(len(current), 'report')} stored." if current else "No reports yet."
    parts = [f"{counted(sum(one.added for one in taken), 'report')} added"]
    if known := sum(one.known for one in taken):
        parts.append(f"{known} known already")
    if refused := sum(len(one.faults) for one in taken):
        parts.append(f"{counted(refused, 'fault')} in rows left out")
    return f"{', '.join(parts)}; {counted(len(current), 'report')} stored."


def _bands(current: Sequence[Report], folder: NetFolder) -> tuple[tuple[str, int, int], ...]:
    """(band, reports, of them on lists that name only those heard)."""
    band = {channel.name: band_of_channel(channel) for channel in folder.net.channels}
    band |= {repeater.call_sign: band_of_repeater(repeater) for repeater in folder.net.repeaters}
    count: Counter[str] = Counter()
    logs: Counter[str] = Counter()
    for one in current:
        name = band.get(one.on, one.on) or "two bands"
        count[name] += 1
        logs[name] += one.list_kind is ListKind.HEARD_ONLY
    return tuple((name, count[name], logs[name]) for name in sorted(count))


def _strangers(current: Sequence[Report], folder: NetFolder) -> list[str]:
    known = {station.call_sign for station in folder.net.stations}
    known |= {repeater.call_sign for repeater in folder.net.repeaters}
    of_strangers = [one for one in current if not {one.listener, one.sender} <= known]
    if not of_strangers:
        return []
    who = named(sorted({c for one in of_strangers for c in (one.listener, one.sender)} - known), most=8)
    return [f"Not in the net, kept but not learned from: {who} ({counted(len(of_strangers), 'report')})."]


def _schedules(folder: NetFolder) -> tuple[Schedule, ...]:
    """When the club's nets meet."""
    if folder.nets:
        return tuple(one.schedule for one in folder.nets)
    return (folder.schedule,) if folder.schedule is not None else ()


def _clock_warnings(read: ReportFile, schedules: Sequence[Schedule], zone: datetime.tzinfo) -> list[str]:
    """Whether a whole file lies hours off the net it seems to be of: the one that is nearest."""
    told = [_off_by(read, schedule, zone) for schedule in schedules]
    off = min((hours for hours in told if hours is not None), key=abs, default=None)
    if not off or any(hours is None for hours in told):
        return []
    hours = off
    return [
        f"{read.name}: all of it lies about {abs(hours)} h {'after' if hours > 0 else 'before'} the net's "
        "usual start. Is a clock off, or are the times UTC (end them in Z)?"
    ]


def _off_by(read: ReportFile, schedule: Schedule, zone: datetime.tzinfo) -> int | None:
    """Whole hours that a file lies off a net's usual start; None where that says nothing."""
    offsets = []
    for row in read.rows:
        local = row.report.at.astimezone(zone)
        start = datetime.datetime.combine(local.date(), schedule.start, tzinfo=zone)
        end = start + datetime.timedelta(hours=schedule.duration_h)
        if start - _EARLY <= local <= end + _LATE:
            return None
        offsets.append((local - start).total_seconds() / 3600.0)
    hours = round(median(offsets)) if offsets else 0
    if abs(hours) < 1 or max(offsets) - min(offsets) > schedule.duration_h + 1.0:
        return None
    return hours

"""What an evening leaves: reports by the rules of evidence, who came by kind, whom to thank.

A check-in that net control heard is a report on its list; the list counts as complete only when net control
says so. What a station says of net control, and what a relay says of a station it was asked to listen for,
was said on request, as of a test. Not heard is kept as it was noted; whether it counts is decided where it is
learned from (`learning/evidence.py`): only of stations that called.
"""

from __future__ import annotations

import datetime
import hashlib
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from reach.answers.evening_plan import meeting_place
from reach.evening.check_ins import CheckIn
from reach.evening.fold import Entry, Evening, Sitting
from reach.inputs.reports import ListKind, Outcome, Report, ReportRow
from reach.lists import named
from reach.reports.store import Added, Stored, add_reports, standing, stored_reports
from reach.stations import Net, Repeater


@dataclass(frozen=True)
class Came:
    """Who came to one sitting. relays : relay -> stations it brought, in the order they first did."""

    on: str
    opened: datetime.datetime
    closed: datetime.datetime | None
    controls: tuple[str, ...]
    by_kind: tuple[tuple[CheckIn, tuple[str, ...]], ...]
    relays: tuple[tuple[str, int], ...]

    @property
    def total(self) -> int:
        """Stations that checked in; net control is not counted unless it is on the list."""
        return sum(len(calls) for _, calls in self.by_kind)

    @property
    def counts(self) -> str:
        """'14 stations: 3 brief, 2 on battery, 9 base'."""
        parts = [f"{len(calls)} {kind.said}" for kind, calls in self.by_kind if calls]
        stations = "1 station" if self.total == 1 else f"{self.total} stations"
        return f"{stations}: {', '.join(parts)}" if parts else "no stations"

    @property
    def thanks(self) -> str:
        """'QK3ABC (3) and QK3DEF (1)', '' for nobody."""
        return named([f"{relay} ({count})" for relay, count in self.relays], most=20)


def who_came(sitting: Sitting) -> Came:
    """Who came to a sitting, by kind in the order of the script."""
    relays = Counter(entry.said.through for entry in sitting.entries if entry.said.through)
    return Came(
        on=sitting.on,
        opened=sitting.opened,
        closed=sitting.closed,
        controls=tuple(dict.fromkeys(handing.to for handing in sitting.controls)),
        by_kind=tuple((kind, tuple(e.call for e in sitting.of_kind(kind))) for kind in CheckIn),
        relays=tuple(relays.items()),
    )


def evening_reports(evening: Evening, net: Net) -> tuple[Report, ...]:
    """What the evening says of who heard whom, in the order it was noted."""
    return tuple(report for sitting in evening.sittings for report in _of_sitting(sitting, net))


def _of_sitting(sitting: Sitting, net: Net) -> list[Report]:
    found: list[Report] = []
    for entry in sitting.entries:
        if entry.call != entry.control and entry.said.kind is not CheckIn.INTERNET:
            found += _of_entry(sitting, entry, net)
    on_repeater = isinstance(meeting_place(net, sitting.on), Repeater)
    for miss in sitting.missed:
        if miss.call != miss.by and not (on_repeater and miss.by not in _controls(sitting)):
            found.append(
                Report(
                    at=miss.at,
                    listener=miss.by,
                    sender=miss.call,
                    on=sitting.on,
                    outcome=Outcome.NOT_HEARD,
                    list_kind=ListKind.COMPLETE,  # it listened for this one call
                    by=_control_at(sitting, miss.seq),
                )
            )
    return found


def _of_entry(sitting: Sitting, entry: Entry, net: Net) -> list[Report]:
    said, control = entry.said, entry.control
    own = ListKind.COMPLETE if sitting.complete.get(control) else ListKind.CONTROL
    heard = Report(at=entry.at, listener=control, sender=entry.call, on=sitting.on, list_kind=own, by=control)
    found: list[Report] = []
    if not said.through:
        found.append(replace(heard, readability=said.heard))
    else:
        found.append(_relayed(entry, heard, net, sitting.on))
    if said.given is not None and said.through != entry.control:
        back = replace(heard, listener=entry.call, sender=control, readability=said.given)
        found.append(replace(back, list_kind=ListKind.TEST))
    return found


def _relayed(entry: Entry, heard: Report, net: Net, on: str) -> Report:
    """The relay heard it, on request. That net control did not is filed only where somebody noted it."""
    by_relay = replace(
        heard,
        listener=entry.said.through,
        readability=entry.said.relay_heard,
        list_kind=ListKind.TEST,
    )
    if isinstance(meeting_place(net, on), Repeater):  # called on simplex, passed on over the repeater
        return replace(by_relay, on=net.channels[0].name)
    return by_relay


def _controls(sitting: Sitting) -> set[str]:
    return {handing.to for handing in sitting.controls}


def _control_at(sitting: Sitting, seq: int) -> str:
    return [handing.to for handing in sitting.controls if handing.seq <= seq][-1]


def store_evening(folder: Path, evening: Evening, net: Net, *, name: str, now: datetime.datetime) -> Added:
    """Put the evening into the store of reports; once more after a change, take back what no longer holds.

    name : of the source, the same every time. Raises : OutputProblem.
    """
    ever = [one for one in stored_reports(folder) if one.source == name]
    before = [one for one in standing(stored_reports(folder)) if one.source == name]
    reports = evening_reports(evening, net)
    wrong = [_void(one) for one in before if _plain(one.report) not in map(_plain, reports)]
    held = [_plain(one.report) for one in before]
    gone = [_plain(one.report) for one in ever if _plain(one.report) not in held]
    new = [_moved(report, gone) for report in reports if _plain(report) not in held]
    rows = tuple(ReportRow(number, row) for number, row in enumerate((*wrong, *new), start=1))
    if not rows:
        return Added(0, len(held), known_source=True)
    digest = hashlib.sha256(repr((name, len(ever), rows)).encode()).hexdigest()
    return add_reports(folder, rows, name=name, fingerprint=digest, came=now)


def _void(stored: Stored) -> Report:
    report = replace(stored.report, outcome=Outcome.VOID, replaces=stored.number)
    return replace(report, readability=None, s_units=None, level_dbm=None)


def _plain(report: Report) -> Report:
    """As the store gives it back: to the second, in UTC."""
    return replace(report, at=report.at.astimezone(datetime.UTC).replace(microsecond=0))


def _moved(report: Report, gone: Sequence[Report]) -> Report:
    """A second later where the very same was taken back once: the store keeps no row twice."""
    while _plain(report) in gone:
        report = replace(report, at=report.at + datetime.timedelta(seconds=1))
    return report

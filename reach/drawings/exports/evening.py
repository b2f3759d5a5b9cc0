"""An evening's list for machines and for the club's mail: CSV, ADIF, plain text."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Mapping

from reach.answers.evening_closing import Came, evening_reports, who_came
from reach.answers.evening_people import names_of
from reach.drawings.exports.machine import csv_text
from reach.drawings.exports.reports import reports_adi
from reach.evening.fold import Entry, Evening
from reach.lists import named
from reach.reports.store import Stored
from reach.stations import Net
from reach.visible import visible

_COLUMNS = (
    "date", "time", "on", "station", "name", "kind", "net_control", "heard", "hears_control", "through",
    "at_the_relay", "traffic", "emergency", "remark",
)  # fmt: skip
_WIDTH = 72
_MOST = 200


def evening_csv(evening: Evening, net: Net, *, zone: datetime.tzinfo) -> str:
    """A row a check-in, in the order they came; times in the club's zone."""
    names = names_of(evening, net)
    rows = [
        _row(entry, sitting.on, names.get(entry.call, ""), zone)
        for sitting in evening.sittings
        for entry in sitting.entries
    ]
    return csv_text(rows, _COLUMNS)


def _row(entry: Entry, on: str, name: str, zone: datetime.tzinfo) -> tuple[str, ...]:
    said, at = entry.said, entry.at.astimezone(zone)
    return (
        f"{at:%Y-%m-%d}",
        f"{at:%H:%M:%S}",
        on,
        entry.call,
        name,
        said.kind.key,
        entry.control,
        _grade(said.heard),
        _grade(said.given),
        said.through,
        _grade(said.relay_heard),
        "yes" if said.traffic else "",
        "yes" if said.emergency else "",
        said.remark,
    )


def _grade(readability: int | None) -> str:
    return f"R{readability}" if readability else ""


def evening_adi(evening: Evening, net: Net, *, name: str, program_version: str) -> str:
    """The evening's reports as a log; what a relay heard is a record of the relay's."""
    came = evening.sitting.opened.isoformat(timespec="seconds") if evening.sitting else ""
    kept = [
        Stored(number, name, number, came, report)
        for number, report in enumerate(evening_reports(evening, net), start=1)
    ]
    return reports_adi(kept, net=net, program_version=program_version)


def evening_text(evening: Evening, net: Net, *, zone: datetime.tzinfo) -> str:
    """A summary for the club's mail: who came by kind, who relayed, what is left to do."""
    names = names_of(evening, net)
    lines = [net.name]
    for sitting in evening.sittings:
        lines += ["", *_sitting_lines(who_came(sitting), names, zone)]
        traffic = [entry.call for entry in sitting.entries if entry.said.traffic]
        if traffic:
            lines += textwrap.wrap(f"With traffic: {named(traffic, most=_MOST)}.", _WIDTH)
        remarks = [(entry.call, entry.said.remark) for entry in sitting.entries if entry.said.remark]
        lines += [
            line
            for call, remark in remarks
            for line in textwrap.wrap(f"{call}: {remark}", _WIDTH, subsequent_indent="   ")
        ]
    return "\n".join(map(visible, lines)) + "\n"


def _sitting_lines(came: Came, names: Mapping[str, str], zone: datetime.tzinfo) -> list[str]:
    def who(call: str) -> str:
        return f"{call} {names.get(call, '')}".strip()

    start = came.opened.astimezone(zone)
    end = f" to {came.closed.astimezone(zone):%H:%M}" if came.closed else ""
    lines = [
        f"{start:%a %Y-%m-%d %H:%M}{end} on {came.on}, net control {', then '.join(map(who, came.controls))}"
    ]
    lines.append(f"We had {came.counts}.")
    for kind, calls in came.by_kind:
        if calls:
            said = f"{kind.heading.partition(':')[0]}: {', '.join(map(who, calls))}"
            lines += textwrap.wrap(said, _WIDTH, subsequent_indent="   ")
    if came.relays:
        lines += textwrap.wrap(f"Thanks for relaying: {came.thanks}.", _WIDTH)
    return lines

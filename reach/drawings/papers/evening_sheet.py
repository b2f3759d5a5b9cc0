"""The rest of tonight's net on paper: who is in already, whom still to call, the same words."""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import replace

from reach.answers.run_sheet import RunSheetAnswer
from reach.drawings.papers.run_sheet import RunSheet, SheetGroup, SheetRow, written_sheet
from reach.drawings.papers.spoken import spoken
from reach.evening.fold import Entry, Sitting


def rest_sheet(
    found: RunSheetAnswer, sitting: Sitting, names: Mapping[str, str], *, zone: datetime.tzinfo, seq: int
) -> RunSheet:
    """The sheet of the whole net less who is in, and the list so far. seq : of the last event it knows of.

    Raises : InputProblem naming the part and line of a script that does not work.
    """
    sheet = written_sheet(found)
    there = set(sitting.calls)
    groups = [
        replace(group, rows=tuple(row for row in group.rows if row.call_sign not in there))
        for group in sheet.groups
    ]
    rows = tuple(_in_row(entry, names, zone) for entry in sitting.entries)
    listed = [SheetGroup("In already", "", rows)] if rows else []
    return replace(
        sheet,
        groups=(*(group for group in groups if group.rows), *listed),
        made_from=f"As it stood after note {seq} of the evening. {sheet.made_from}",
    )


def _in_row(entry: Entry, names: Mapping[str, str], zone: datetime.tzinfo) -> SheetRow:
    said = entry.said
    notes = [f"in at {entry.at.astimezone(zone):%H:%M}"]
    notes += [f"through {said.through}"] if said.through else []
    notes += ["traffic"] if said.traffic else []
    notes += [want.value for want in entry.waits]
    name = names.get(entry.call, "")
    return SheetRow(entry.call, spoken(entry.call), name, said.kind.word, ", ".join(notes))

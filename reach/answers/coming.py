"""Who comes to the nets: from reports and journals once a folder is opened, for every forecast alike."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from reach.answers.learned import zone_of
from reach.evening.past import past_evenings
from reach.inputs.net_folder import NetFolder
from reach.learning.attendance import Attendance, attendance
from reach.learning.evidence import OLDEST_DAYS
from reach.reports.store import Stored, standing


def who_came(folder: NetFolder, reports: Sequence[Stored]) -> Attendance:
    """Who came to earlier nets. folder : with all its members, those away tonight included."""
    listed: dict[datetime.date, set[str]] = {}
    brought: list[tuple[datetime.date, str, str]] = []
    for day, evening in past_evenings(Path(folder.net.folder), days=OLDEST_DAYS):
        if any(sitting.closed for sitting in evening.sittings):
            listed[day] = {call for sitting in evening.sittings for call in (*sitting.calls, sitting.control)}
            brought += [
                (day, entry.call, entry.said.through)
                for sitting in evening.sittings
                for entry in sitting.entries
                if entry.said.through
            ]
    heard = [stored.report for stored in standing(reports)]
    return attendance(heard, folder.net, zone=zone_of(folder), listed=listed, brought=brought)


def with_expected(folder: NetFolder, came: Attendance) -> NetFolder:
    """The folder with each member's expected attendance in place of the roster's; as it is without a net."""
    if not came.nets:
        return folder
    expected = {one.call_sign: one.expected for one in came.members}
    stations = tuple(
        replace(station, attendance=expected.get(station.call_sign, station.attendance))
        for station in folder.net.stations
    )
    whole = None if folder.whole is None else with_expected(folder.whole, came)
    return replace(folder, net=replace(folder.net, stations=stations), whole=whole)

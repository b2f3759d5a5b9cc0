"""Who comes to the nets: from reports and journals once a folder is opened, for every forecast alike.

Of a club with several nets, an evening belongs to the net that meets on its date; where several do, what was
noted on a channel or repeater of one of them is that one's, and the rest counts for each.
"""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace
from functools import lru_cache
from pathlib import Path

from reach.answers.learned import zone_of
from reach.evening.past import past_evenings
from reach.inputs.net_folder import NetFolder
from reach.inputs.nets import ClubNet
from reach.learning.attendance import Attendance, attendance
from reach.learning.evidence import OLDEST_DAYS, evening_of
from reach.plans.relays.rota import dates_from
from reach.reports.store import Stored, standing


def who_came(folder: NetFolder, reports: Sequence[Stored]) -> Attendance:
    """Who came to earlier nets, those of one net where the folder is for one of several.

    folder : with all its members, those away tonight included.
    """
    listed: dict[datetime.date, set[str]] = {}
    brought: list[tuple[datetime.date, str, str]] = []
    for day, evening in past_evenings(Path(folder.net.folder), days=OLDEST_DAYS):
        sittings = [one for one in evening.sittings if _is_its_own(folder, day, one.on)]
        if any(sitting.closed for sitting in sittings):
            listed[day] = {call for sitting in sittings for call in (*sitting.calls, sitting.control)}
            brought += [
                (day, entry.call, entry.said.through)
                for sitting in sittings
                for entry in sitting.entries
                if entry.said.through
            ]
    zone = zone_of(folder)
    heard = [
        stored.report
        for stored in standing(reports)
        if _is_its_own(folder, evening_of(stored.report.at, zone), stored.report.on)
    ]
    return attendance(heard, folder.net, zone=zone, listed=listed, brought=brought)


def nets_meeting(nets: Sequence[ClubNet], day: datetime.date, on: str = "") -> tuple[ClubNet, ...]:
    """The club's nets that meet on a day; of several those on that channel or repeater, where any is."""
    meeting = _of_day(tuple(nets), day)
    there = tuple(one for one in meeting if on.casefold() in {place.casefold() for place in one.places})
    return there or meeting


@lru_cache(maxsize=4096)  # reports come by the ten thousand, of a few hundred evenings
def _of_day(nets: tuple[ClubNet, ...], day: datetime.date) -> tuple[ClubNet, ...]:
    return tuple(one for one in nets if dates_from(one.schedule, start=day, count=1, until=day))


def _is_its_own(folder: NetFolder, day: datetime.date, on: str) -> bool:
    """Whether what was noted of a day on a channel or repeater counts for the net the folder is for."""
    return folder.meeting is None or folder.meeting in nets_meeting(folder.nets, day, on)


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

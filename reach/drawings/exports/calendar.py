"""The rota for a calendar program (iCalendar, RFC 5545) and as lines of text."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping, Sequence

from icalendar import Calendar, Event

from reach.drawings.style.cautions import SHORT
from reach.plans.relays.rota import Turn


def rota_calendar(
    turns: Sequence[Turn], *, net_name: str, channel: str, duration_h: float, stamp: datetime.datetime,
    names: Mapping[str, str],
) -> bytes:  # fmt: skip
    """iCalendar file of the rota, times in UTC. names : call sign -> name.

    stamp : when the file is made (DTSTAMP), with its time zone. The same net on the same date always has
    the same UID, so that a changed rota replaces its events.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//reach net planner//rota//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for turn in turns:
        start = turn.start.astimezone(datetime.UTC)
        event = Event()
        event.add(
            "uid",
            f"{hashlib.sha256(f'{net_name}|{start.isoformat()}'.encode()).hexdigest()[:24]}@net.invalid",
        )
        event.add("dtstamp", stamp.astimezone(datetime.UTC))
        event.add("dtstart", start)
        event.add("dtend", start + datetime.timedelta(hours=duration_h))
        event.add("summary", f"{net_name}: net control {_who(turn.control, names)}")
        stand_in = f"Stand-in: {_who(turn.stand_in, names)}.\n" if turn.stand_in else ""
        event.add("description", f"{channel}\n{stand_in}{SHORT}")
        calendar.add_component(event)
    return bytes(calendar.to_ical())


def _who(call_sign: str, names: Mapping[str, str]) -> str:
    name = names.get(call_sign, "")
    return f"{call_sign} ({name})" if name else call_sign


def rota_rows(turns: Sequence[Turn], names: Mapping[str, str]) -> tuple[tuple[str, str, str, str], ...]:
    """(date, local time with zone, net control, stand-in), one a net."""
    return tuple(
        (
            turn.start.strftime("%a %Y-%m-%d"),
            turn.start.strftime("%H:%M %Z"),
            _who(turn.control, names),
            _who(turn.stand_in, names) if turn.stand_in else "nobody else is fit",
        )
        for turn in turns
    )

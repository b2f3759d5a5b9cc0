"""The rota for a calendar program (iCalendar, RFC 5545)."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping, Sequence

from icalendar import Calendar, Event

from reach.answers.control import ControlAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import frequency_words, who_words
from reach.plans.relays.rota import Turn, scheduled


def control_calendar(found: ControlAnswer, *, stamp: datetime.datetime) -> bytes:
    """The answer's rota; stamp : as `rota_calendar`. Raises : InputProblem when the net has no schedule."""
    return rota_calendar(
        found.turns,
        net_name=found.net.name,
        channel=frequency_words(found.channel),
        duration_h=scheduled(found.schedule).duration_h,
        stamp=stamp,
        names=found.names,
    )


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
        event.add("summary", f"{net_name}: net control {who_words(turn.control, names)}")
        stand_in = f"Stand-in: {who_words(turn.stand_in, names)}.\n" if turn.stand_in else ""
        event.add("description", f"{channel}\n{stand_in}{SHORT}")
        calendar.add_component(event)
    return bytes(calendar.to_ical())

"""The rota for a calendar program (iCalendar, RFC 5545)."""

from __future__ import annotations

import datetime
import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from icalendar import Alarm, Calendar, Event

from reach.answers.club_rota import ClubRotaAnswer
from reach.answers.control import ControlAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import frequency_words, meeting_words, who_words
from reach.plans.relays.rota import Turn, scheduled

NO_REMINDER = datetime.timedelta(0)


@dataclass(frozen=True)
class CalendarTurn:
    """One evening for the calendar. place : where the net meets, in words."""

    turn: Turn
    net_name: str
    place: str
    duration_h: float


def control_calendar(
    found: ControlAnswer, *, stamp: datetime.datetime, remind: datetime.timedelta = NO_REMINDER
) -> bytes:
    """The rota of one net; stamp, remind : as `rota_calendar`.

    Raises : InputProblem when the net has no schedule.
    """
    place, duration_h = frequency_words(found.channel), scheduled(found.schedule).duration_h
    turns = [CalendarTurn(turn, found.net.name, place, duration_h) for turn in found.turns]
    return rota_calendar(turns, stamp=stamp, names=found.net.names, remind=remind)


def club_calendar(
    found: ClubRotaAnswer, *, stamp: datetime.datetime, remind: datetime.timedelta = NO_REMINDER
) -> bytes:
    """The rota over all the nets of a club; stamp, remind : as `rota_calendar`."""
    turns = []
    for one in found.turns:
        meeting = found.club_net(one.net)
        place = meeting_words(found.net, meeting)
        turns.append(CalendarTurn(one.turn, one.net, place, meeting.schedule.duration_h))
    return rota_calendar(turns, stamp=stamp, names=found.net.names, remind=remind)


def rota_calendar(
    turns: Sequence[CalendarTurn], *, stamp: datetime.datetime, names: Mapping[str, str],
    remind: datetime.timedelta = NO_REMINDER,
) -> bytes:  # fmt: skip
    """iCalendar file of the rota, times in UTC. names : call sign -> name.

    stamp : when the file is made (DTSTAMP), with its time zone. The same net on the same date always has
    the same UID, so that a changed rota replaces its events. remind : how long before each net the calendar
    is to remind of it; never for zero.
    """
    calendar = Calendar()
    calendar.add("prodid", "-//reach net planner//rota//EN")
    calendar.add("version", "2.0")
    calendar.add("method", "PUBLISH")
    for one in turns:
        turn, net_name = one.turn, one.net_name
        start = turn.start.astimezone(datetime.UTC)
        event = Event()
        event.add(
            "uid",
            f"{hashlib.sha256(f'{net_name}|{start.isoformat()}'.encode()).hexdigest()[:24]}@net.invalid",
        )
        event.add("dtstamp", stamp.astimezone(datetime.UTC))
        event.add("dtstart", start)
        event.add("dtend", start + datetime.timedelta(hours=one.duration_h))
        event.add("summary", f"{net_name}: net control {who_words(turn.control, names)}")
        stand_in = f"Stand-in: {who_words(turn.stand_in, names)}.\n" if turn.stand_in else ""
        event.add("description", f"{one.place}\n{stand_in}{SHORT}")
        if remind:
            alarm = Alarm()
            alarm.add("action", "DISPLAY")
            alarm.add("description", f"{net_name}: net control {who_words(turn.control, names)}")
            alarm.add("trigger", -remind)
            event.add_component(alarm)
        calendar.add_component(event)
    return bytes(calendar.to_ical())

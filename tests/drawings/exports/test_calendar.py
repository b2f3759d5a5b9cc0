"""The rota as iCalendar, read back with the library."""

from __future__ import annotations

import datetime

from icalendar import Calendar

from reach.drawings.exports.calendar import CalendarTurn, rota_calendar
from reach.plans.relays.rota import Turn

ZONE = datetime.timezone(datetime.timedelta(hours=-2), "XT")
TURNS = (
    Turn(datetime.datetime(2026, 12, 1, 19, 30, tzinfo=ZONE), "QK1ABC", "QK2DEF"),
    Turn(datetime.datetime(2026, 12, 8, 19, 30, tzinfo=ZONE), "QK2DEF", ""),
)
NAMES = {"QK1ABC": "Ann; of, the\\ Hill\nBEGIN:VEVENT"}
STAMP = datetime.datetime(2026, 11, 25, 12, 0, tzinfo=datetime.UTC)


def made(stamp: datetime.datetime = STAMP, turns: tuple[Turn, ...] = TURNS) -> bytes:
    entries = [CalendarTurn(turn, "Valley net", "146.55 MHz", 1.5) for turn in turns]
    return rota_calendar(entries, stamp=stamp, names=NAMES)


def test_events_read_back_as_written() -> None:
    events = [c for c in Calendar.from_ical(made()).walk() if c.name == "VEVENT"]
    assert len(events) == 2  # the line break in a name starts no event of its own
    assert events[0].decoded("dtstart") == datetime.datetime(2026, 12, 1, 21, 30, tzinfo=datetime.UTC)
    assert events[0].decoded("dtend") - events[0].decoded("dtstart") == datetime.timedelta(hours=1.5)
    assert str(events[0]["summary"]) == "Valley net: net control QK1ABC (Ann; of, the\\ Hill\nBEGIN:VEVENT)"
    assert "Stand-in: QK2DEF" in str(events[0]["description"])
    assert "Stand-in" not in str(events[1]["description"])


def test_the_same_rota_gives_the_same_file_and_a_changed_one_keeps_its_events() -> None:
    assert made() == made()
    swapped = made(turns=(Turn(TURNS[0].start, "QK2DEF", "QK1ABC"), TURNS[1]))
    uids = [
        [str(e["uid"]) for e in Calendar.from_ical(text).walk() if e.name == "VEVENT"]
        for text in (made(), swapped)
    ]
    assert uids[0] == uids[1]
    assert len(set(uids[0])) == 2

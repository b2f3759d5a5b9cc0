"""What the events of an evening add up to: a pure function, the same for page, paper, file and closing."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from reach.evening.acts import (
    Act,
    Amended,
    Asked,
    AtStep,
    CheckedIn,
    ClockChanged,
    Closed,
    Fragment,
    HandedOver,
    Left,
    ListComplete,
    Missed,
    Named,
    Noted,
    Opened,
    Resolved,
    Screen,
    Served,
    Undone,
    Waits,
    Want,
)
from reach.evening.check_ins import CheckIn


@dataclass(frozen=True)
class Event:
    """One row of the journal. seq : counts from 1 and is the order; at : UTC; offset_minutes : of the clock
    then. token : chosen by whoever sent it, so that the same sent twice is one.
    """

    seq: int
    at: datetime.datetime
    offset_minutes: int
    act: Act
    token: str = ""


@dataclass(frozen=True)
class Entry:
    """A station on the list. seq : the event that put it there; said : as noted last; at : UTC.

    control : who was net control then. waits : what it still waits for; left : it has signed off.
    """

    seq: int
    at: datetime.datetime
    control: str
    said: CheckedIn
    waits: tuple[Want, ...] = ()
    left: bool = False

    @property
    def call(self) -> str:
        """Call sign."""
        return self.said.call


@dataclass(frozen=True)
class HalfHeard:
    """A fragment nobody has made out yet."""

    seq: int
    at: datetime.datetime
    text: str


@dataclass(frozen=True)
class Miss:
    """by did not hear call."""

    seq: int
    at: datetime.datetime
    call: str
    by: str


@dataclass(frozen=True)
class Handing:
    """to was net control from here on."""

    seq: int
    at: datetime.datetime
    to: str


@dataclass(frozen=True)
class Sitting:
    """The net on one channel or repeater. A net that goes on elsewhere has a second one.

    controls : one after the other, with the time each began. asked : missing station -> the relay asked last.
    complete : whose list names all who called.
    """

    on: str
    opened: datetime.datetime
    controls: tuple[Handing, ...]
    entries: tuple[Entry, ...] = ()
    fragments: tuple[HalfHeard, ...] = ()
    asked: Mapping[str, str] = field(default_factory=dict)
    missed: tuple[Miss, ...] = ()
    complete: Mapping[str, bool] = field(default_factory=dict)
    step: int = 0
    closed: datetime.datetime | None = None

    @property
    def control(self) -> str:
        """Who is net control now."""
        return self.controls[-1].to

    @property
    def calls(self) -> tuple[str, ...]:
        """Everyone on the list, in the order they came."""
        return tuple(entry.call for entry in self.entries)

    @property
    def present(self) -> tuple[str, ...]:
        """Net control and all on the list who have not signed off."""
        there = [self.control, *(entry.call for entry in self.entries if not entry.left)]
        return tuple(dict.fromkeys(there))

    def entry(self, call: str) -> Entry | None:
        """The entry of a station, None when it is not on the list."""
        return next((entry for entry in self.entries if entry.call == call), None)

    def of_kind(self, kind: CheckIn) -> tuple[Entry, ...]:
        """Entries of one kind, in the order they came."""
        return tuple(entry for entry in self.entries if entry.said.kind is kind)


_LIT = Screen()


@dataclass(frozen=True)
class Evening:
    """Where the evening stands. seq : of the last event.

    undo, redo : what either key would do next, None for nothing.
    names, notes : of stations, from tonight.
    """

    seq: int = 0
    sittings: tuple[Sitting, ...] = ()
    names: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    screen: Screen = _LIT
    clock_jumps: tuple[tuple[datetime.datetime, int], ...] = ()
    undo: Event | None = None
    redo: Event | None = None

    @property
    def sitting(self) -> Sitting | None:
        """The sitting that is under way or was the last; None before the first."""
        return self.sittings[-1] if self.sittings else None


_STAY = (Screen, ClockChanged, Undone)  # never taken back by the undo key


def fold(events: Sequence[Event]) -> Evening:
    """The evening after these events, in the order of their numbers."""
    void = _taken_back(events)
    evening = Evening(seq=events[-1].seq if events else 0)
    for event in events:
        if event.seq not in void:
            evening = _after(evening, event)
    standing = [event for event in events if event.seq not in void]
    acts = [event for event in standing if not isinstance(event.act, _STAY)]
    first = next((event.seq for event in acts if isinstance(event.act, Opened)), 0)
    last = acts[-1] if acts and acts[-1].seq != first else None  # the opening itself stays
    return replace(evening, undo=last, redo=_next_redo(events, standing))


def _taken_back(events: Iterable[Event]) -> set[int]:
    void: set[int] = set()
    for event in reversed(list(events)):
        if isinstance(event.act, Undone) and event.seq not in void:
            void.add(event.act.of)
    return void


def _next_redo(events: Sequence[Event], standing: Sequence[Event]) -> Event | None:
    """The undoing to take back: the last one standing, unless something new was noted after it."""
    alive = {event.seq for event in standing}
    for event in reversed(events):
        if isinstance(event.act, Undone):
            if event.seq in alive and not _is_redo(events, event):
                return event
        elif not isinstance(event.act, (Screen, ClockChanged)):
            return None
    return None


def _is_redo(events: Sequence[Event], event: Event) -> bool:
    """Whether an undoing takes back an undoing."""
    of = event.act.of if isinstance(event.act, Undone) else 0
    return any(other.seq == of and isinstance(other.act, Undone) for other in events)


def _after(evening: Evening, event: Event) -> Evening:
    act = event.act
    if isinstance(act, Opened):
        begun = Sitting(act.on, event.at, (Handing(event.seq, event.at, act.control),))
        return replace(evening, sittings=(*evening.sittings, begun))
    if isinstance(act, Named):
        return replace(evening, names={**evening.names, act.call: act.name})
    if isinstance(act, Noted):
        notes = (*evening.notes.get(act.call, ()), act.text)
        return replace(evening, notes={**evening.notes, act.call: notes})
    if isinstance(act, Screen):
        return replace(evening, screen=act)
    if isinstance(act, ClockChanged):
        return replace(evening, clock_jumps=(*evening.clock_jumps, (event.at, act.seconds)))
    now = evening.sitting
    if now is None:
        return evening
    return replace(evening, sittings=(*evening.sittings[:-1], _sitting_after(now, event)))


def _sitting_after(now: Sitting, event: Event) -> Sitting:
    act = event.act
    if isinstance(act, Amended):
        return replace(now, entries=tuple(_amended(entry, act) for entry in now.entries))
    if isinstance(act, CheckedIn):
        return _checked_in(now, event, act)
    if isinstance(act, Fragment):
        return replace(now, fragments=(*now.fragments, HalfHeard(event.seq, event.at, act.text)))
    if isinstance(act, Resolved):
        return replace(now, fragments=tuple(one for one in now.fragments if one.seq != act.of))
    if isinstance(act, Asked):
        return replace(now, asked={**now.asked, act.call: act.relay})
    if isinstance(act, Missed):
        asked = {call: relay for call, relay in now.asked.items() if (call, relay) != (act.call, act.by)}
        return replace(now, missed=(*now.missed, Miss(event.seq, event.at, act.call, act.by)), asked=asked)
    if isinstance(act, (Waits, Served)):
        return replace(now, entries=tuple(_waiting(entry, act) for entry in now.entries))
    if isinstance(act, Left):
        gone = (replace(entry, left=True) if entry.call == act.call else entry for entry in now.entries)
        return replace(now, entries=tuple(gone))
    if isinstance(act, HandedOver):
        return replace(now, controls=(*now.controls, Handing(event.seq, event.at, act.to)))
    if isinstance(act, ListComplete):
        return replace(now, complete={**now.complete, act.call: act.complete})
    if isinstance(act, AtStep):
        return replace(now, step=act.step)
    if isinstance(act, Closed):
        return replace(now, closed=event.at)
    return now


def _checked_in(now: Sitting, event: Event, act: CheckedIn) -> Sitting:
    """A second check-in of a station on the list says what is known now; its place and time stay."""
    there = now.entry(act.call)
    asked = {call: relay for call, relay in now.asked.items() if call != act.call}
    if there is None:
        new = Entry(event.seq, event.at, now.control, act)
        return replace(now, entries=(*now.entries, new), asked=asked)
    again = replace(there, said=act, left=False)
    entries = tuple(again if entry is there else entry for entry in now.entries)
    return replace(now, entries=entries, asked=asked)


def _amended(entry: Entry, act: Amended) -> Entry:
    if entry.seq != act.of:
        return entry
    said = CheckedIn(
        call=act.call,
        kind=act.kind,
        heard=act.heard,
        given=act.given,
        through=act.through,
        relay_heard=act.relay_heard,
        remark=act.remark,
        traffic=act.traffic,
        emergency=act.emergency,
    )
    return replace(entry, said=said, at=act.at or entry.at)


def _waiting(entry: Entry, act: Waits | Served) -> Entry:
    if entry.call != act.call:
        return entry
    others = tuple(want for want in entry.waits if want is not act.want)
    return replace(entry, waits=(*others, act.want) if isinstance(act, Waits) else others)

"""Tonight's net at the desk: the journal in one thread, planning in another, the pages that listen.

A note is committed before it is answered; plans are computed beside the notes and told when they are there,
the newest first, stale ones dropped. The compiled loops of the planner give up the interpreter's lock, so a
note hardly waits for a plan.
"""

from __future__ import annotations

import asyncio
import datetime
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

from reach.answers.evening_closing import store_evening
from reach.answers.evening_people import LikelyOne, WhoIs, likely_ones, names_of, who_is
from reach.answers.evening_plan import EveningNet, EveningPlan, evening_net, evening_plan, meeting_place
from reach.answers.evening_sheet import evening_sheet
from reach.answers.open_net import OpenNet
from reach.answers.run_sheet import run_sheet
from reach.drawings.papers.evening_sheet import rest_sheet
from reach.drawings.papers.run_sheet import RunSheet
from reach.drawings.papers.script import checked_script
from reach.errors import NoPlan, ReachError
from reach.evening.acts import Act, ClockChanged, Opened
from reach.evening.fold import Evening, Event, fold
from reach.evening.journal import Journal
from reach.inputs.announcements import read_announcements
from reach.plans.relays.net_control import rank_controls
from reach.plans.relays.plan import RelayPlan
from reach.reports.store import Added
from reach.stations import Channel, Repeater

_JUMP_S = 60  # of the clock against the time that really passed
Listener = Callable[[str], None]


@dataclass(frozen=True)
class Suggestion:
    """Who should be net control: by the rota or the best. control '' while nobody knows."""

    control: str = ""
    stand_in: str = ""
    why: str = ""


@dataclass(frozen=True)
class Thought:
    """What the planner knows. seq : of the evening it is for; taken : the plan net control works by."""

    seq: int = -1
    plan: EveningPlan | None = None
    taken: RelayPlan | None = None
    suggestion: Suggestion = Suggestion()
    trouble: str = ""


class Night:
    """The evening of an open net. clock : the time now, with the club's zone.

    Raises : InputProblem for a script or announcements that cannot be said.
    """

    def __init__(self, opened: OpenNet, journal: Journal, *, clock: Callable[[], datetime.datetime]) -> None:
        self.opened, self.journal, self.clock = opened, journal, clock
        self.evening: Evening = fold(journal.events)
        self.thought = Thought()
        self.script = checked_script(opened.folder.script)
        self.announcements = read_announcements(Path(opened.net.folder))
        self.came = opened.came
        self.likely: tuple[LikelyOne, ...] = likely_ones(opened, self.came)
        self._comes = {one.call_sign: one.comes for one in self.likely}
        self.usual = frozenset(call for call in self._comes if self.came.nets or self._says_how_often(call))
        self._places: dict[str, EveningNet] = {}
        self._listeners: set[Listener] = set()
        self._notes = ThreadPoolExecutor(1, "notes")
        self._plans = ThreadPoolExecutor(1, "plans")
        self._clocks = (clock(), _passed_s())
        self._loop: asyncio.AbstractEventLoop | None = None

    def _says_how_often(self, call: str) -> bool:
        return any(s.call_sign == call and s.attendance is not None for s in self.opened.net.stations)

    def begin(self) -> None:
        """Start planning; once the event loop runs."""
        self._loop = asyncio.get_running_loop()
        self._think()

    def end(self) -> None:
        """Finish what is being noted, drop what is being planned."""
        self._plans.shutdown(wait=False, cancel_futures=True)
        self._notes.submit(self.journal.close).result()
        self._notes.shutdown()

    async def note(self, act: Act, *, token: str, seen: int | None) -> Event:
        """Keep an act; on disk when this returns. Raises : ReachError, Newer."""
        if isinstance(act, Opened):
            self.meets_on(act.on)
        event = await asyncio.get_running_loop().run_in_executor(
            self._notes, lambda: self._append(act, token, seen)
        )
        self._tell("seq")
        self._think()
        return event

    def _append(self, act: Act, token: str, seen: int | None) -> Event:
        now, passed = self.clock(), _passed_s()
        before, passed_before = self._clocks
        jump = (now - before).total_seconds() - (passed - passed_before)
        self._clocks = (now, passed)
        if abs(jump) > _JUMP_S:
            self.journal.append(ClockChanged(seconds=round(jump)), token=f"clock-{now.isoformat()}")
        event = self.journal.append(act, token=token, seen=seen)
        self.evening = fold(self.journal.events)
        return event

    def listen(self, listener: Listener) -> Callable[[], None]:
        """Be told 'seq' after each note and 'plan' after each plan; returns what ends it."""
        self._listeners.add(listener)
        return lambda: self._listeners.discard(listener)

    def _tell(self, what: str) -> None:
        for listener in tuple(self._listeners):
            listener(what)

    def _think(self) -> None:
        if self._loop is not None:
            self._plans.submit(self._plan_newest)

    def _plan_newest(self) -> None:
        evening = self.evening
        if self.thought.seq == evening.seq:  # an earlier turn of this thread knew it all
            return
        taken, suggestion = self.thought.taken, self.thought.suggestion
        try:
            if evening.sitting is None:
                suggestion = suggestion if suggestion.control else self._suggestion()
                self.thought = Thought(evening.seq, None, None, suggestion)
            else:
                found = evening_plan(self.place(evening.sitting.on), evening.sitting, self._comes)
                if taken is None or taken.control != (found.plan.control if found.plan else ""):
                    taken = found.plan
                self.thought = Thought(evening.seq, found, taken, suggestion)
        except Exception as problem:  # whatever it is: the page says so, and the list goes on
            said = str(problem) if isinstance(problem, ReachError) else f"The planner failed: {problem!r}."
            self.thought = Thought(evening.seq, None, None, suggestion, said)
        if self._loop is not None and not self._loop.is_closed():
            self._loop.call_soon_threadsafe(self._tell, "plan")

    def _suggestion(self) -> Suggestion:
        """Whose turn it is on a day of the net, else who works most; the best placed where nobody offers."""
        today = self.clock().date()
        try:
            found = run_sheet(self.opened, today=today, day=today)
        except NoPlan:
            tonight = self.place(self.opened.net.channels[0].name)
            best = rank_controls(tonight.survey.simplex, tonight.rules)[0].call_sign
            return Suggestion(best, why="is the best placed, if it agrees")
        why = "by the rota" if found.occasion.by_rota else "works most of the others"
        return Suggestion(found.control, found.occasion.stand_in, why)

    def take_plan(self) -> None:
        """The newest plan is the one to work by."""
        plan = self.thought.plan
        if plan is not None and plan.plan is not None:
            thought = self.thought
            self.thought = Thought(thought.seq, plan, plan.plan, thought.suggestion, thought.trouble)
        self._tell("plan")

    def meets_on(self, on: str) -> Channel | Repeater:
        """Where the net meets. Raises : ReachError where the folder has that place no more."""
        place = meeting_place(self.opened.net, on)
        if place is None:
            raise ReachError(f'"{on}" is no longer a channel or repeater of {self.opened.net.name}.')
        return place

    def place(self, on: str) -> EveningNet:
        """The net surveyed for a channel or repeater; in the planning thread. Raises : ReachError."""
        if on not in self._places:
            self._places[on] = evening_net(self.opened, self.meets_on(on))
        return self._places[on]

    def who_is(self, call_sign: str) -> WhoIs:
        """What is known of a station now."""
        now = self.evening.sitting
        surveyed = self._places.get(now.on) if now is not None else None
        return who_is(self.opened, surveyed, self.evening, call_sign)

    async def paper(self) -> RunSheet:
        """The sheet for the rest of the net. Raises : ReachError."""
        return await asyncio.get_running_loop().run_in_executor(self._plans, self._paper)

    def _paper(self) -> RunSheet:
        evening, now = self.evening, self.evening.sitting
        if now is None:
            raise ReachError("The net has not begun; `reach sheet` prints the sheet for the whole of it.")
        zone, stamp = self.opened.learned.zone, self.clock().astimezone(datetime.UTC)
        found = evening_sheet(
            self.place(now.on), now, zone=zone, stamp=stamp, script=self.opened.folder.script
        )
        return rest_sheet(found, now, names_of(evening, self.opened.net), zone=zone, seq=evening.seq)

    async def store(self, name: str) -> Added:
        """Put the evening into the store of reports. Raises : ReachError."""
        return await asyncio.get_running_loop().run_in_executor(
            self._notes,
            lambda: store_evening(
                Path(self.opened.net.folder), self.evening, self.opened.net, name=name, now=self.clock()
            ),
        )


def _passed_s() -> float:
    """Seconds that really passed, the machine's sleep included where it tells."""
    if hasattr(time, "CLOCK_BOOTTIME"):
        return time.clock_gettime(time.CLOCK_BOOTTIME)
    return time.monotonic()

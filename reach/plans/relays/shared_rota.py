"""One rota over all the nets of a club: turns shared evenly, nobody twice in a week unless it must be."""

from __future__ import annotations

import datetime
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from reach.errors import NoPlan
from reach.plans.relays.rota import Turn


@dataclass(frozen=True)
class Meeting:
    """One evening of one net. start : with its time zone. fit : who is fit for net control, best first."""

    net: str
    start: datetime.datetime
    fit: tuple[str, ...]


@dataclass(frozen=True)
class NetTurn:
    """Whose turn it is. again : net control has a turn already that week, as the others fit for it have."""

    net: str
    turn: Turn
    again: bool = False


def year_begins(date: datetime.date) -> datetime.date:
    """The Monday on which the year of whole weeks begins that a date lies in (ISO 8601)."""
    return datetime.date.fromisocalendar(date.isocalendar().year, 1, 1)


def shared_turns(meetings: Sequence[Meeting]) -> tuple[NetTurn, ...]:
    """A turn for each meeting, in order of time.

    meetings : all of each year of whole weeks (`year_begins`) from its first week on. Turns are counted anew
    each such year, so that a date has the same turn whenever the rota is made.
    A week's nets have as many different net controls as can be; within that each turn goes to whoever has
    had fewest, then whose last is longest ago, then the better placed. Raises : NoPlan when a net has nobody.
    """
    for one in meetings:
        if not one.fit:
            raise NoPlan(f"nobody is fit for net control of {one.net}, so there is no rota.")
    ordered = sorted(meetings, key=lambda one: (one.start, one.net))
    turns: list[NetTurn] = []
    for _, of_year in groupby(ordered, key=lambda one: one.start.isocalendar().year):
        turns += _of_year(list(of_year))
    return tuple(turns)


def _of_year(meetings: Sequence[Meeting]) -> Iterator[NetTurn]:
    had: Counter[str] = Counter()
    last: dict[str, int] = {}
    stood_in: Counter[str] = Counter()
    number = 0
    for _, week in groupby(meetings, key=lambda one: one.start.isocalendar().week):
        nets = list(week)
        controls: list[str] = []
        for at, one in enumerate(nets):
            order = sorted(one.fit, key=lambda c: (had[c], last.get(c, -1), one.fit.index(c)))
            control = _next(order, nets[at:], set(controls))
            controls.append(control)
            had[control] += 1
            last[control] = number
            number += 1
        for at, (one, control) in enumerate(zip(nets, controls)):
            others = [call for call in one.fit if call != control]
            others.sort(key=lambda c: (c in controls, stood_in[c], one.fit.index(c)))
            stand_in = others[0] if others else ""
            stood_in[stand_in] += 1
            yield NetTurn(one.net, Turn(one.start, control, stand_in), again=control in controls[:at])


def _next(order: Sequence[str], nets: Sequence[Meeting], had_week: set[str]) -> str:
    """Who takes the first of a week's nets still to be given.

    order : those fit for it, whose turn it most is first. had_week : who has a turn that week already.
    """
    best = different(nets, had_week)
    for call in order:
        if call not in had_week and 1 + different(nets[1:], had_week | {call}) == best:
            return call
    return order[0]  # all of them have had one, or leaving it to them costs another net its only one


def different(nets: Sequence[Meeting], taken: set[str]) -> int:
    """Most of these nets that can have net controls all different and none of those taken.

    A maximum matching by augmenting paths (Berge 1957).
    """
    holder: dict[str, int] = {}

    def place(net: int, tried: set[str]) -> bool:
        for call in nets[net].fit:
            if call in taken or call in tried:
                continue
            tried.add(call)
            if call not in holder or place(holder[call], tried):
                holder[call] = net
                return True
        return False

    return sum(place(net, set()) for net in range(len(nets)))

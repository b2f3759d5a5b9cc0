"""Two plans side by side: only what is different, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from reach.links.sayings import chance_in_words
from reach.plans.relays.plan import RelayPlan


class Aspect(Enum):
    """What changed, in the order it is told."""

    MEMBERS = "members"
    CONTROL = "net control"
    RELAYS = "relays"
    STANDBYS = "stand-bys"
    REACHED = "reached"
    WAYS = "ways"
    SECOND = "second ways"
    EXPECTED = "expected"


@dataclass(frozen=True)
class Difference:
    """One thing that changed. before, after : call signs or a figure, '' for none; words : a sentence."""

    aspect: Aspect
    call_sign: str
    before: str
    after: str
    words: str


def plan_differences(before: RelayPlan, after: RelayPlan) -> tuple[Difference, ...]:
    """Everything that differs between two plans; empty when nothing does."""
    one, other = _places(before), _places(after)
    found = [
        *(
            Difference(Aspect.MEMBERS, call, "in the net", "", f"{call} is not in the net.")
            for call in _only(one, other)
        ),
        *(
            Difference(
                Aspect.MEMBERS, call, "", "in the net", f"{call} is new in the net: {other[call].said}."
            )
            for call in _only(other, one)
        ),
    ]
    if before.control != after.control:
        words = f"Net control is {after.control} instead of {before.control}."
        found.append(Difference(Aspect.CONTROL, after.control, before.control, after.control, words))
    roles = (
        (Aspect.RELAYS, "relays", set(before.relay_calls), set(after.relay_calls)),
        (
            Aspect.STANDBYS,
            "stands by",
            {s.call_sign for s in before.standbys},
            {s.call_sign for s in after.standbys},
        ),
    )
    for aspect, verb, was, now in roles:
        found += [Difference(aspect, call, "", verb, f"{call} now {verb}.") for call in sorted(now - was)]
        found += [
            Difference(aspect, call, verb, "", f"{call} no longer {verb}.") for call in sorted(was - now)
        ]
    for call in sorted(set(one) & set(other)):
        old, new = one[call], other[call]
        if old.said == new.said or _CONTROL in (old.where, new.where):
            continue
        aspect = Aspect.REACHED if _OUT in (old.where, new.where) else Aspect.WAYS
        if new.where == _OUT:
            words = f"{call} is left out; it was {old.said}."
        elif old.where == _OUT:
            words = f"{call} comes in: {new.said}."
        elif old.where == new.where:
            words = f"{call} is heard {new.chance} instead of {old.chance}."
        else:
            words = f"{call} is {new.said} instead of {old.said}."
        found.append(Difference(aspect, call, old.said, new.said, words))
    found += _second_ways(before, after)
    was_heard, now_heard = f"{before.expected_heard:.1f}", f"{after.expected_heard:.1f}"
    if was_heard != now_heard:
        more = after.expected_heard - before.expected_heard
        words = (
            f"Expected to be heard, each on its first way: {now_heard} instead of {was_heard} ({more:+.1f})."
        )
        found.append(Difference(Aspect.EXPECTED, "", was_heard, now_heard, words))
    order = list(Aspect)
    return tuple(sorted(found, key=lambda d: (order.index(d.aspect), d.call_sign)))


def difference_sentence(differences: tuple[Difference, ...], after: RelayPlan) -> str:
    """The answer in one sentence."""
    if not differences:
        return "Nothing changes: the plan is the same."
    new = {d.call_sign for d in differences if d.aspect is Aspect.MEMBERS and d.after}
    out = {station.call_sign for station in after.left_out}
    lost = [d.call_sign for d in differences if d.aspect is Aspect.REACHED and d.after == _OUT]
    won = [d.call_sign for d in differences if d.aspect is Aspect.REACHED and d.before == _OUT]
    lost, won = sorted({*lost, *(new & out)}), sorted({*won, *(new - out - set(after.no_radio))})
    parts = []
    if won:
        parts.append(f"{', '.join(won)} {'comes' if len(won) == 1 else 'come'} in")
    if lost:
        parts.append(f"{', '.join(lost)} {'is' if len(lost) == 1 else 'are'} left out")
    if not parts:
        parts.append("nobody comes in or is left out by it")
    text = "; ".join(parts) + f"; {after.control} reaches {after.reached} of {after.on_air}."
    return text[0].upper() + text[1:]


_CONTROL, _OUT = "net control", "left out"


@dataclass(frozen=True)
class _Place:
    """Where a station stands in a plan. chance : in words, '' without."""

    where: str
    chance: str = ""

    @property
    def said(self) -> str:
        return f"{self.where} ({self.chance})" if self.chance else self.where


def _places(plan: RelayPlan) -> dict[str, _Place]:
    places = {
        call: _Place("heard directly", chance_in_words(chance))
        for call, chance in zip(plan.direct, plan.direct_chances, strict=True)
    }
    places |= {
        station.call_sign: _Place(
            f"heard through {' and '.join(station.via)}", chance_in_words(station.chance)
        )
        for station in plan.relayed
    }
    places |= {out.call_sign: _Place(_OUT) for out in plan.left_out}
    places |= {call: _Place("without radio") for call in plan.no_radio}
    return places | {plan.control: _Place(_CONTROL)}


def _second_ways(before: RelayPlan, after: RelayPlan) -> list[Difference]:
    """Who has a way left when a relay is missing, and had none before, or the other way round."""
    was, now = _backed(before), _backed(after)
    found = []
    for call in sorted(set(was) & set(now)):
        if was[call] and not now[call]:
            words = f"{call} has no second way any more, should {_relay_of(after, call)} be missing."
            found.append(Difference(Aspect.SECOND, call, was[call], "", words))
        elif now[call] and not was[call]:
            found.append(
                Difference(Aspect.SECOND, call, "", now[call], f"{call} has a second way now: {now[call]}.")
            )
    return found


def _backed(plan: RelayPlan) -> dict[str, str]:
    """Second way in words of everyone who goes through a relay, '' for none."""
    return {
        station.call_sign: f"through {' and '.join(station.second)}"
        if station.second
        else "directly"
        if station.direct_chance
        else ""
        for station in plan.relayed
    }


def _relay_of(plan: RelayPlan, call_sign: str) -> str:
    return next(station.via[0] for station in plan.relayed if station.call_sign == call_sign)


def _only(one: Mapping[str, _Place], other: Mapping[str, _Place]) -> list[str]:
    return sorted(set(one) - set(other))

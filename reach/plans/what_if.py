"""Two plans side by side: only what is different, in plain words."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import Enum

from reach.plans.relays import RelayPlan


class Aspect(Enum):
    """What changed, in the order it is told."""

    MEMBERS = "members"
    CONTROL = "net control"
    RELAYS = "relays"
    STANDBYS = "stand-bys"
    REACHED = "reached"
    WAYS = "ways"
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
            Difference(Aspect.MEMBERS, call, "", "in the net", f"{call} is new in the net.")
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
        was_place, now_place = one[call], other[call]
        if was_place == now_place or _CONTROL in (was_place, now_place):
            continue
        aspect = Aspect.REACHED if _OUT in (was_place, now_place) else Aspect.WAYS
        if now_place == _OUT:
            words = f"{call} is left out (was {was_place})."
        elif was_place == _OUT:
            words = f"{call} comes in: {now_place}."
        else:
            words = f"{call} is {now_place} instead of {was_place}."
        found.append(Difference(aspect, call, was_place, now_place, words))
    was_heard, now_heard = f"{before.expected_heard:.1f}", f"{after.expected_heard:.1f}"
    if was_heard != now_heard:
        more = after.expected_heard - before.expected_heard
        words = f"Expected to be heard: {now_heard} instead of {was_heard} ({more:+.1f})."
        found.append(Difference(Aspect.EXPECTED, "", was_heard, now_heard, words))
    order = list(Aspect)
    return tuple(sorted(found, key=lambda d: (order.index(d.aspect), d.call_sign)))


def difference_sentence(differences: tuple[Difference, ...], after: RelayPlan) -> str:
    """The answer in one sentence."""
    if not differences:
        return "Nothing changes: the plan is the same."
    lost = [d.call_sign for d in differences if d.aspect is Aspect.REACHED and d.after == _OUT]
    won = [d.call_sign for d in differences if d.aspect is Aspect.REACHED and d.before == _OUT]
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


def _places(plan: RelayPlan) -> dict[str, str]:
    places = {call: "worked directly" for call in plan.direct}
    places |= {station.call_sign: f"heard through {' and '.join(station.via)}" for station in plan.relayed}
    places |= {out.call_sign: _OUT for out in plan.left_out}
    places |= {call: "without radio" for call in plan.no_radio}
    return places | {plan.control: _CONTROL}


def _only(one: Mapping[str, str], other: Mapping[str, str]) -> list[str]:
    return sorted(set(one) - set(other))

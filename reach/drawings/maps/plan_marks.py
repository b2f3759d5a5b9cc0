"""What a finished plan adds to a map or table: net control, who relays for whom, who is left out and why."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from reach.plans.relays.plan import RelayPlan


@dataclass(frozen=True)
class CutOff:
    """A member the plan does not reach. near_miss : plain words on the best link that almost works."""

    call_sign: str
    near_miss: str = ""


@dataclass(frozen=True)
class PlanMarks:
    """A plan as a drawing needs it.

    control : call sign of net control, None when there is none (a repeater net, say).
    relays : call signs, in the order they are called.
    served_by : relay -> the members heard through it.
    cut_off : members left out, with their near misses.
    reasons : plain sentences, shown under the headline.
    """

    control: str | None = None
    relays: tuple[str, ...] = ()
    served_by: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    cut_off: tuple[CutOff, ...] = ()
    reasons: tuple[str, ...] = ()

    def relay_of(self, call_sign: str) -> str | None:
        """The relay a member is heard through; None when it is heard directly."""
        for relay in self.relays:
            if call_sign in self.served_by.get(relay, ()):
                return relay
        return None

    def missed(self, call_sign: str) -> CutOff | None:
        """The entry of a member left out; None when it is reached."""
        for entry in self.cut_off:
            if entry.call_sign == call_sign:
                return entry
        return None


def marks_of(plan: RelayPlan) -> PlanMarks:
    """A relay plan as maps and tables show it."""
    return PlanMarks(
        control=plan.control,
        relays=plan.relay_calls,
        served_by={duty.call_sign: duty.serves for duty in plan.relays},
        cut_off=tuple(CutOff(out.call_sign, out.words) for out in plan.left_out),
    )

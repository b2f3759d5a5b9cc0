"""A whole evening: first the repeater net, then simplex. Whom to ask to stay on, and who will be alone."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from reach.links.network import RepeaterNetwork
from reach.plans.relays.plan import RelayPlan


class SimplexPart(Enum):
    """What a member is on simplex; `value` is how it is said."""

    CONTROL = "net control"
    RELAY = "relay"
    STANDBY = "stand-by relay"
    DIRECT = "works net control"
    RELAYED = "works a relay"
    APART = "works others, but not the net"
    ALONE = "works nobody"
    NO_RADIO = "no radio path"


@dataclass(frozen=True)
class EveningMember:
    """One member over the evening. via : the relay it works, '' otherwise.

    repeater : the repeater it gets into and hears best, '' for none; hears : repeaters it only hears.
    """

    call_sign: str
    repeater: str
    hears: tuple[str, ...]
    part: SimplexPart
    via: str = ""


@dataclass(frozen=True)
class Evening:
    """Lists of call signs for the change from the repeater to simplex; every list in order of call signs.

    needed : net control, relays and stand-bys who can be asked on the repeater; without them the plan fails.
    tell_beforehand : the same, but not getting into any repeater: arrange it before the net.
    invite : on the repeater, and within reach on simplex.
    alone : on the repeater, working nobody on simplex; apart : working others there, but not the net.
    only_simplex : not getting into any repeater, but within reach on simplex.
    """

    members: tuple[EveningMember, ...]
    needed: tuple[str, ...]
    tell_beforehand: tuple[str, ...]
    invite: tuple[str, ...]
    alone: tuple[str, ...]
    apart: tuple[str, ...]
    only_simplex: tuple[str, ...]

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        parts = [
            f"Ask {', '.join(self.needed)} to stay on for simplex" if self.needed else "Nobody has to stay on"
        ]
        if self.tell_beforehand:
            parts.append(f"arrange it beforehand with {', '.join(self.tell_beforehand)}, not on the repeater")
        if self.alone:
            parts.append(f"{', '.join(self.alone)} will be alone")
        if self.apart:
            parts.append(f"{', '.join(self.apart)} will hear others but not the net")
        return "; ".join(parts) + "."


_NEEDED = (SimplexPart.CONTROL, SimplexPart.RELAY, SimplexPart.STANDBY)
_REACHED = (SimplexPart.DIRECT, SimplexPart.RELAYED)


def plan_evening(plan: RelayPlan, repeaters: Sequence[RepeaterNetwork]) -> Evening:
    """Put the repeater net and the simplex plan side by side."""
    parts = _parts(plan)
    via = {station.call_sign: station.via[0] for station in plan.relayed}
    members = []
    for call in sorted(parts):
        inside, hears = [], []
        for network in repeaters:
            for member in network.members:
                if member.call_sign == call and member.gets_in and member.hears:
                    inside.append((-member.chance, network.repeater.call_sign))
                elif member.call_sign == call and member.hears:
                    hears.append(network.repeater.call_sign)
        best = min(inside)[1] if inside else ""
        members.append(EveningMember(call, best, tuple(sorted(hears)), parts[call], via.get(call, "")))

    def those(kinds: tuple[SimplexPart, ...], *, on_repeater: bool | None) -> tuple[str, ...]:
        return tuple(
            m.call_sign
            for m in members
            if m.part in kinds and (on_repeater is None or bool(m.repeater) is on_repeater)
        )

    return Evening(
        members=tuple(members),
        needed=those(_NEEDED, on_repeater=True),
        tell_beforehand=those(_NEEDED, on_repeater=False),
        invite=those(_REACHED, on_repeater=True),
        alone=those((SimplexPart.ALONE,), on_repeater=True),
        apart=those((SimplexPart.APART,), on_repeater=True),
        only_simplex=those(_REACHED, on_repeater=False),
    )


def _parts(plan: RelayPlan) -> dict[str, SimplexPart]:
    """Part of every member; where several fit, the one with more to do."""
    parts = {call: SimplexPart.NO_RADIO for call in plan.no_radio}
    parts |= {out.call_sign: SimplexPart.APART if out.works else SimplexPart.ALONE for out in plan.left_out}
    parts |= {call: SimplexPart.DIRECT for call in plan.direct}
    parts |= {station.call_sign: SimplexPart.RELAYED for station in plan.relayed}
    parts |= {standby.call_sign: SimplexPart.STANDBY for standby in plan.standbys}
    parts |= {call: SimplexPart.RELAY for call in plan.relay_calls}
    return parts | {plan.control: SimplexPart.CONTROL}

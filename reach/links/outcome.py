"""What a member and a repeater make of each other, in the four ways people plan by."""

from __future__ import annotations

from enum import Enum

from reach.links.network import RepeaterMember, RepeaterNetwork


class RepeaterOutcome(Enum):
    """Both directions judged apart; `value` is the way it is said after the call sign."""

    GETS_IN_AND_HEARS = "gets in and hears"
    HEARS_ONLY = "hears the repeater but does not get in"
    GETS_IN_ONLY = "gets in but does not hear the repeater"
    NEITHER = "has no working path to the repeater"


def repeater_outcome(member: RepeaterMember) -> RepeaterOutcome:
    """Outcome of the median margins: a direction counts from workable up."""
    if member.gets_in:
        return RepeaterOutcome.GETS_IN_AND_HEARS if member.hears else RepeaterOutcome.GETS_IN_ONLY
    return RepeaterOutcome.HEARS_ONLY if member.hears else RepeaterOutcome.NEITHER


def with_outcome(network: RepeaterNetwork, outcome: RepeaterOutcome) -> tuple[RepeaterMember, ...]:
    """Members with that outcome, strongest weaker direction first, ties by call sign."""
    chosen = [member for member in network.members if repeater_outcome(member) is outcome]
    return tuple(sorted(chosen, key=lambda member: (-member.weaker_margin_db, member.call_sign)))


def outcome_sentence(network: RepeaterNetwork) -> str:
    """The answer in one sentence: '17 of 22 get into QK0R; 3 hear it but don't get in; 2 have no path.'"""
    total = len(network.members)
    if not total:
        return f"No member has a radio path to {network.repeater.call_sign}."
    count = {outcome: len(with_outcome(network, outcome)) for outcome in RepeaterOutcome}
    both = count[RepeaterOutcome.GETS_IN_AND_HEARS]
    hub = network.repeater.call_sign
    parts = [
        f"{both} of {total} "
        + (f"gets into {hub} and hears it" if both == 1 else f"get into {hub} and hear it")
    ]
    if n := count[RepeaterOutcome.HEARS_ONLY]:
        parts.append(
            f"{n} {'hears' if n == 1 else 'hear'} it but {'does not' if n == 1 else 'do not'} get in"
        )
    if n := count[RepeaterOutcome.GETS_IN_ONLY]:
        parts.append(f"{n} {'gets' if n == 1 else 'get'} in but {'does not' if n == 1 else 'do not'} hear it")
    if n := count[RepeaterOutcome.NEITHER]:
        parts.append(f"{n} {'has' if n == 1 else 'have'} no working path")
    return "; ".join(parts) + "."

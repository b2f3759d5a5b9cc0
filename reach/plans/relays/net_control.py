"""Who should be net control: every willing station, what it would hear, and why the first is first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reach.errors import NoPlan
from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import reach_graph
from reach.plans.graph.routes import UNREACHED, best_chances, relays_needed
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.fewest import fewest_relays
from reach.plans.relays.plan import RelayPlan, plan_relays, too_few
from reach.plans.relays.rules import DEFAULT_RULES, RelayRules, may_control, may_relay, taken_out
from reach.stations import runs_without_mains

MOST_COUNTED = 30  # candidates, best first, whose relays are counted; more take seconds in a net of hundreds


@dataclass(frozen=True)
class ControlChoice:
    """One willing station as net control, itself not counted in any number.

    reaches : stations worked directly or through allowed relays; of : stations on the air.
    direct : worked directly. relays_needed : fewest relays for all it reaches;
        None beyond the first MOST_COUNTED candidates and where there was no time to prove it.
    expected_direct, expected_at_most : expected number heard: without a relay, as `RelayPlan.expected_direct`
    of a plan under it; with every willing relay helping, which a plan of a few comes near.
    backed_up : keeps the air when the mains fail. reason : one sentence.
    """

    rank: int
    call_sign: str
    reaches: int
    of: int
    direct: int
    relays_needed: int | None
    expected_direct: float
    expected_at_most: float
    backed_up: bool
    reason: str

    @property
    def score(self) -> float:
        """A station heard through a relay counts half: its every word is passed on by another hand."""
        return (self.expected_direct + self.expected_at_most) / 2.0


def rank_controls(network: SimplexNetwork, rules: RelayRules = DEFAULT_RULES) -> tuple[ControlChoice, ...]:
    """Every willing station on the air, best first.

    Order: most stations reached; most expected heard (through a relay counts half); fewest relays; call sign.
    Raises : NoPlan with fewer than two stations on the air, or nobody willing.
    """
    graph = reach_graph(network, rules.threshold)
    if len(graph) < 2:
        raise too_few(graph, network.net.away)
    willing = may_control(network, graph, rules)
    if not willing.any():
        if rules.control_candidates:
            named = ", ".join(rules.control_candidates)
            raise NoPlan(f"none of the control candidates ({named}) is on the air and willing; name another.")
        raise NoPlan(
            "nobody on the air is willing to be net control; write yes under control for someone in the"
            " roster."
        )
    allowed = may_relay(network, graph, rules)
    found = []
    for at in (int(i) for i in np.flatnonzero(willing)):
        relays = taken_out(allowed, at)
        needed = relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit)
        call = graph.call_signs[at]
        found.append(
            ControlChoice(
                rank=0,
                call_sign=call,
                reaches=int((needed != UNREACHED).sum()) - 1,
                of=len(graph) - 1,
                direct=int((needed == 0).sum()) - 1,
                relays_needed=None,
                expected_direct=float(graph.pair_chance[at][graph.two_way[at]].sum()),
                expected_at_most=float(
                    best_chances(graph, control=at, relays=relays, limit=rules.chain_limit).sum() - 1.0
                ),
                backed_up=runs_without_mains(network.net.station(call)),
                reason="",
            )
        )
    found.sort(key=lambda c: (-c.reaches, -round(c.score, 6), c.call_sign))
    budget = TimeBudget(rules.time_limit_s / 4.0)
    for place, choice in enumerate(found[:MOST_COUNTED]):
        at = graph.index(choice.call_sign)
        relays = taken_out(allowed, at)
        needed = relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit)
        cover = fewest_relays(graph, needed, control=at, relays=relays, rules=rules, budget=budget)
        if cover.proof.proven:
            found[place] = replace(choice, relays_needed=len(cover.relays))
        if not budget.left_s:
            break
    most = len(graph)
    found.sort(
        key=lambda c: (
            -c.reaches,
            -round(c.score, 6),
            most if c.relays_needed is None else c.relays_needed,
            c.call_sign,
        )
    )
    return tuple(_ranked(choice, rank, found) for rank, choice in enumerate(found, start=1))


def plan_best(network: SimplexNetwork, rules: RelayRules = DEFAULT_RULES) -> RelayPlan:
    """Relay plan under the best net control (`rank_controls`). Raises : NoPlan."""
    return plan_relays(network, rules, control=rank_controls(network, rules)[0].call_sign)


def plan_under(
    network: SimplexNetwork, rules: RelayRules = DEFAULT_RULES, *, control: str | None
) -> RelayPlan:
    """Relay plan under the net control named, under the best one for None. Raises : NoPlan."""
    return plan_best(network, rules) if control is None else plan_relays(network, rules, control=control)


def stand_in_for(control: str, choices: Sequence[ControlChoice]) -> str:
    """Who takes over from a net control: the best of the others. choices : in rank order; '' for nobody."""
    return next((choice.call_sign for choice in choices if choice.call_sign != control), "")


def _ranked(choice: ControlChoice, rank: int, field: list[ControlChoice]) -> ControlChoice:
    return replace(choice, rank=rank, reason=_reason(choice, rank, field))


def _reason(choice: ControlChoice, rank: int, field: list[ControlChoice]) -> str:
    count = "" if choice.relays_needed is None else f"{choice.relays_needed} "
    relays = f"{count}relay{'' if choice.relays_needed == 1 else 's'}"
    facts = f"works {choice.direct} of {choice.of} directly"
    if choice.relays_needed != 0:
        facts += f", {choice.reaches} with {relays}"
    facts += f"; expects to hear {choice.expected_direct:.1f} itself,"
    facts += f" up to {choice.expected_at_most:.1f} with every willing relay"
    if len(field) == 1:
        return f"{choice.call_sign} is the only willing station: {facts}."
    if rank == 1:
        return f"{choice.call_sign} {facts}; {_lead(choice, field[1])}."
    return f"{choice.call_sign} {facts}; {_behind(choice, field[0])}."


def _lead(first: ControlChoice, second: ControlChoice) -> str:
    if first.reaches > second.reaches:
        return f"reaches more than any other ({second.call_sign}: {second.reaches})"
    if round(first.score, 6) > round(second.score, 6):
        return (
            f"hears more than any other (a station through a relay counts half; next is {second.call_sign})"
        )
    if _fewer(first, second):
        return f"hears as many as {second.call_sign} with fewer relays"
    return f"equal to {second.call_sign}, first by call sign"


def _behind(choice: ControlChoice, first: ControlChoice) -> str:
    if choice.reaches < first.reaches:
        fewer = first.reaches - choice.reaches
        return f"reaches {fewer} fewer than {first.call_sign}"
    if round(choice.score, 6) < round(first.score, 6):
        return f"expects to hear fewer than {first.call_sign}"
    if _fewer(first, choice):
        return f"needs more relays than {first.call_sign}"
    return f"equal to {first.call_sign}, later by call sign"


def _fewer(one: ControlChoice, other: ControlChoice) -> bool:
    """Whether both have their relays counted and `one` needs fewer."""
    if one.relays_needed is None or other.relays_needed is None:
        return False
    return one.relays_needed < other.relays_needed

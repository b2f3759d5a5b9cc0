"""Whether a plan with short chains takes more relays than longer chains would."""

from __future__ import annotations

from dataclasses import dataclass, replace

from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import reach_graph
from reach.plans.graph.routes import relays_needed
from reach.plans.relays.fewest import fewest_relays
from reach.plans.relays.plan import RelayPlan
from reach.plans.relays.rules import Chains, relays_under


@dataclass(frozen=True)
class LongerChains:
    """Fewer relays that do when a chain may be longer than the ground forces it to be.

    relays : by call sign. saved : how many fewer than the plan has.
    """

    relays: tuple[str, ...]
    saved: int

    @property
    def words(self) -> str:
        """One line with what to ask."""
        count = len(self.relays)
        return (
            f"Chains are kept short; with longer ones {count} relay{'' if count == 1 else 's'} would do "
            f"({', '.join(self.relays)}), {self.saved} fewer: --chains fewest-relays plans so."
        )


def fewer_relays(network: SimplexNetwork, plan: RelayPlan) -> LongerChains | None:
    """Fewer relays than a plan has, for as many stations; None when there are none, or no proof in time.

    network : the plan's own.
    """
    if len(plan.relays) < 2 or plan.rules.chains is not Chains.SHORTEST or plan.rules.chain_limit < 2:
        return None
    rules = replace(plan.rules, chains=Chains.FEWEST_RELAYS)
    graph = reach_graph(network, rules.threshold)
    at = graph.index(plan.control)
    relays = relays_under(network, graph, rules, control=at)
    needed = relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit)
    found = fewest_relays(graph, needed, control=at, relays=relays, rules=rules)
    saved = len(plan.relays) - len(found.relays)
    if saved < 1 or not found.proof.proven:
        return None
    return LongerChains(tuple(graph.call_signs[r] for r in found.relays), saved)

"""Fewer relays over longer chains: what is said against every set of relays tried."""

from __future__ import annotations

import itertools

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import NoPlan
from reach.plans.graph.reachability import reach_graph
from reach.plans.graph.routes import UNREACHED, relays_needed
from reach.plans.relays.longer_chains import fewer_relays
from reach.plans.relays.net_control import plan_best
from reach.plans.relays.rules import DEFAULT_RULES, relays_under
from tests.plans.synthetic import call, hilly, linked, station


def test_a_chain_of_two_saves_the_second_relay_beside_net_control() -> None:
    """0 works 1 and 2; 3 is reached by 1, 4 by 2 or through 5 behind 1: short chains take 1 and 2 both."""
    stations = tuple(station(call(k), control=k == 0, relay=k in (1, 2, 5)) for k in range(8))
    # 6 and 7 work 5 only; 5 works 1; 4 works 2 and 5; so 1 and 5 alone do, the plan takes 2 for 4
    network = linked(8, [(0, 1), (0, 2), (1, 3), (2, 4), (1, 5), (5, 4), (5, 6), (5, 7)], stations)
    plan = plan_best(network)
    assert plan.relay_calls == (call(1), call(2), call(5))
    found = fewer_relays(network, plan)
    assert found is not None and (found.relays, found.saved) == ((call(1), call(5)), 1)
    assert found.words.startswith("Chains are kept short; with longer ones 2 relays would do ")


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_no_set_of_relays_tried_is_smaller(seed: int) -> None:
    network = hilly(9, seed=seed)
    try:
        plan = plan_best(network)
    except NoPlan:
        return
    graph = reach_graph(network, DEFAULT_RULES.threshold)
    at = graph.index(plan.control)
    allowed = relays_under(network, graph, DEFAULT_RULES, control=at)

    def reached(relays: tuple[int, ...]) -> int:
        mask = np.zeros(len(graph), dtype=bool)
        mask[list(relays)] = True
        needed = relays_needed(graph.two_way, control=at, relays=mask, limit=DEFAULT_RULES.chain_limit)
        return int((needed != UNREACHED).sum())

    posts = [int(r) for r in np.flatnonzero(allowed)]
    most = reached(tuple(posts))
    least = next(
        n for n in range(len(posts) + 1) if any(reached(c) == most for c in itertools.combinations(posts, n))
    )
    found = fewer_relays(network, plan)
    assert least == (len(found.relays) if found else len(plan.relays))

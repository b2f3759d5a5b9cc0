"""Ways through relays, against networkx and against trying everything."""

from __future__ import annotations

from itertools import pairwise, permutations

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.plans.graph.reachability import reach_graph
from reach.plans.graph.routes import UNREACHED, best_chances, best_way, relays_needed
from reach.plans.relays.fewest import fewest_hearers, fewest_relays
from reach.plans.relays.rules import Chains, RelayRules
from tests.plans.synthetic import hilly


@given(st.integers(0, 10_000), st.integers(0, 3))
@settings(max_examples=30, deadline=None)
def test_relays_needed_are_hops_less_one(seed: int, limit: int) -> None:
    """networkx shortest paths in the graph where only relays and net control have onward links."""
    graph = reach_graph(hilly(12, seed=seed))
    relays = np.random.default_rng(seed).uniform(size=12) < 0.5
    relays[0] = False
    onward = nx.DiGraph()
    onward.add_nodes_from(range(12))
    onward.add_edges_from((i, j) for i, j in np.argwhere(graph.two_way) if relays[i] or i == 0)
    hops = nx.single_source_shortest_path_length(onward, 0)
    needed = relays_needed(graph.two_way, control=0, relays=relays, limit=limit)
    for v in range(1, 12):
        expected = hops[v] - 1 if v in hops and hops[v] - 1 <= limit else UNREACHED
        assert needed[v] == expected


@given(st.integers(0, 10_000))
@settings(max_examples=20, deadline=None)
def test_best_ways_against_every_way(seed: int) -> None:
    graph = reach_graph(hilly(6, seed=seed, area_km=35.0))
    relays = np.array([False, True, True, True, False, True])
    chances = best_chances(graph, control=0, relays=relays, limit=2)
    for station in range(1, 6):
        others = [r for r in np.flatnonzero(relays) if r != station]
        ways = [(station, *mid, 0) for k in range(3) for mid in permutations(others, k)]
        working = [
            float(np.prod([graph.pair_chance[a, b] for a, b in pairwise(way)]))
            for way in ways
            if all(graph.two_way[a, b] for a, b in pairwise(way))
        ]
        found = best_way(graph, station, control=0, relays=relays, limit=2)
        assert chances[station] == pytest.approx(max(working, default=0.0))
        if not working:
            assert found is None
            continue
        assert found is not None
        way = (station, *found[0], 0)
        assert all(graph.two_way[a, b] for a, b in pairwise(way))
        assert found[1] == pytest.approx(max(working))
        assert len(set(way)) == len(way)


@given(st.integers(0, 10_000))
@settings(max_examples=25, deadline=None)
def test_one_more_willing_relay_never_makes_a_plan_need_more(seed: int) -> None:
    graph = reach_graph(hilly(14, seed=seed, area_km=40.0))
    rules = RelayRules(chains=Chains.FEWEST_RELAYS, chain_limit=3)
    rng = np.random.default_rng(seed)
    few = rng.uniform(size=14) < 0.6
    more = few | (np.arange(14) == rng.integers(1, 14))
    few[0] = more[0] = False
    before = relays_needed(graph.two_way, control=0, relays=few, limit=3)
    after = relays_needed(graph.two_way, control=0, relays=more, limit=3)
    assert ((before != UNREACHED) <= (after != UNREACHED)).all()
    if ((before != UNREACHED) == (after != UNREACHED)).all():
        counts = [
            len(fewest_relays(graph, needed, control=0, relays=relays, rules=rules).relays)
            for needed, relays in ((before, few), (after, more))
        ]
        assert counts[1] <= counts[0]


def test_fewest_who_hear_everyone() -> None:
    graph = reach_graph(hilly(14, seed=2, area_km=40.0))
    cover = fewest_hearers(graph, candidates=np.ones(14, dtype=bool), rules=RelayRules())
    assert cover is not None
    heard = graph.two_way[list(cover.relays)].any(axis=0)
    heard[list(cover.relays)] = True
    assert heard.all()
    nobody = fewest_hearers(graph, candidates=np.zeros(14, dtype=bool), rules=RelayRules())
    assert nobody is None

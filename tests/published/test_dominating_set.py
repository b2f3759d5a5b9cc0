"""Relay plans against networkx's dominating-set approximations on 100 random geometric graphs.

Outside reference: networkx 3.x, `approximation.min_weighted_dominating_set` (greedy, within ln(n) of the
best) and `connected_dominating_set`; links from plane-earth loss (40 dB a decade) with log-normal hills of
8 dB. The plan must never need more relays. Run with -rP to read how many fewer it needs.
"""

from __future__ import annotations

from dataclasses import dataclass

import networkx as nx
import numpy as np
import pytest

from reach.plans.graph.reachability import ReachGraph, reach_graph
from reach.plans.graph.routes import UNREACHED, relays_needed
from reach.plans.relays.fewest import fewest_hearers, fewest_relays
from reach.plans.relays.rules import Chains, RelayRules
from tests.plans.synthetic import hilly

RULES = RelayRules(chains=Chains.FEWEST_RELAYS, chain_limit=3)


@dataclass(frozen=True)
class Case:
    graph: ReachGraph
    same: nx.Graph


def cases() -> list[Case]:
    """100 connected ones of 30 stations."""
    found = []
    seed = 0
    while len(found) < 100:
        graph = reach_graph(hilly(30, seed=seed, area_km=50.0))
        same = nx.from_numpy_array(graph.two_way)
        seed += 1
        if nx.is_connected(same):
            found.append(Case(graph, same))
    return found


@pytest.fixture(scope="module")
def hundred() -> list[Case]:
    return cases()


def test_never_more_stations_than_the_plain_approximation(hundred: list[Case]) -> None:
    """Same question to both: the fewest stations that between them work all others."""
    fewer = []
    for case in hundred:
        cover = fewest_hearers(case.graph, candidates=np.ones(30, dtype=bool), rules=RULES)
        assert cover is not None
        assert cover.proof.proven
        assert nx.is_dominating_set(case.same, cover.relays)
        theirs = nx.approximation.min_weighted_dominating_set(case.same)
        assert len(cover.relays) <= len(theirs)
        fewer.append(len(theirs) - len(cover.relays))
    print(
        f"plain: fewer by {np.mean(fewer):.2f} on average, {max(fewer)} at most,"
        f" equal in {fewer.count(0)} of 100"
    )
    assert sum(fewer) > 0


def test_never_more_relays_than_the_approximation_joined_to_net_control(hundred: list[Case]) -> None:
    """Relays that also connect back to a given net control: the approximation joined by a Steiner tree, or
    its connected kind, whichever is smaller."""
    fewer, theirs_total = [], 0
    for case in hundred:
        control = max(case.same, key=lambda v: (case.same.degree[v], -v))
        relays = np.ones(30, dtype=bool)
        relays[control] = False
        needed = relays_needed(case.graph.two_way, control=control, relays=relays, limit=RULES.chain_limit)
        if (needed == UNREACHED).any():
            continue  # a chain longer than three relays: no plan of ours, so nothing to compare
        ours = fewest_relays(case.graph, needed, control=control, relays=relays, rules=RULES)
        assert ours.proof.proven
        assert nx.is_connected_dominating_set(case.same, {control, *ours.relays})
        plain = set(nx.approximation.min_weighted_dominating_set(case.same)) | {control}
        joined = set(nx.approximation.steiner_tree(case.same, plain)) | plain
        connected = set(nx.connected_dominating_set(case.same)) | {control}
        theirs = min(len(joined), len(connected)) - 1
        assert len(ours.relays) <= theirs
        fewer.append(theirs - len(ours.relays))
        theirs_total += theirs
    print(
        f"joined: {len(fewer)} nets, fewer by {np.mean(fewer):.2f} relays on average"
        f" of {theirs_total / len(fewer):.2f},"
        f" {max(fewer)} at most, equal in {fewer.count(0)}"
    )
    assert len(fewer) >= 90
    assert sum(fewer) > 0

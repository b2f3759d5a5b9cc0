"""Time of a whole relay plan against networkx's greedy approximation of the cover alone, as a ratio.

Only with --benchmark-enable; the plain suite runs one small plan.
"""

from __future__ import annotations

import time
from dataclasses import replace

import networkx as nx
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from reach.plans.graph.reachability import reach_graph
from reach.plans.relays.net_control import plan_best
from reach.plans.relays.rules import Chains, RelayRules
from tests.plans.synthetic import hilly

RULES = RelayRules(reach_at_least=0.0)


def greedy_s(network: object) -> float:
    graph = nx.from_numpy_array(reach_graph(network).two_way)  # type: ignore[arg-type]
    best = float("inf")
    for _ in range(3):
        start = time.perf_counter()
        nx.approximation.min_weighted_dominating_set(graph)
        best = min(best, time.perf_counter() - start)
    return best


def test_plan_of_24_stations(benchmark: BenchmarkFixture) -> None:
    network = hilly(24, seed=0, area_km=45.0, willing=0.5)
    plan = benchmark(plan_best, network, RULES)
    assert plan.proven
    if benchmark.stats:
        benchmark.extra_info["times the greedy cover"] = benchmark.stats["min"] / greedy_s(network)


@pytest.mark.parametrize("chains", list(Chains))
@pytest.mark.parametrize("area_km", [60.0, 90.0])
def test_plan_of_200_stations(benchmark: BenchmarkFixture, area_km: float, chains: Chains) -> None:
    if benchmark.disabled:
        pytest.skip("takes seconds; run with --benchmark-enable")
    network = hilly(200, seed=0, area_km=area_km, willing=0.5)
    rules = replace(RULES, chains=chains)
    plan = benchmark.pedantic(plan_best, args=(network, rules), rounds=2)  # the ranking counts too
    benchmark.extra_info["seconds, ranking and plan"] = benchmark.stats["min"]
    benchmark.extra_info["open"] = "; ".join(
        p.words for p in plan.proofs if not p.proven and not p.is_tie_break
    )
    benchmark.extra_info["relays"] = len(plan.relays)
    benchmark.extra_info["times the greedy cover"] = benchmark.stats["min"] / greedy_s(network)
    assert all(proof.gap >= 0.0 for proof in plan.proofs)

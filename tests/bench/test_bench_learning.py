"""Processor time of the fit against a dense inverse of a quarter of its unknowns, as a ratio.

Only with --benchmark-enable; the plain suite fits one small club.
"""

from __future__ import annotations

import time

import numpy as np
from pytest_benchmark.fixture import BenchmarkFixture

from reach.learning.fit import fit
from tests.learning.world import World, invented_model


def dense_s(size: int) -> float:
    """Seconds of processor time for inverting a dense matrix of the whole model's unknowns, once."""
    matrix = np.eye(size) * size + np.random.default_rng(1).random((size, size))
    start = time.process_time()
    np.linalg.inv(matrix)
    return time.process_time() - start


def test_sixty_stations_and_twenty_thousand_reports(benchmark: BenchmarkFixture) -> None:
    rng = np.random.default_rng(1)
    stations, nets = (8, 3) if benchmark.disabled else (60, 23)
    world = World.drawn(rng, invented_model(rng, stations))
    evidence = world.evidence(world.reports(rng, nets, attend=0.7, filed=0.54))
    spent = []

    def fitted() -> bool:
        start = time.process_time()
        found = fit(world.model, evidence.observations)
        spent.append(time.process_time() - start)
        return found.settled

    assert benchmark.pedantic(fitted, rounds=1 if benchmark.disabled else 3)
    if not benchmark.disabled:
        dense = dense_s(4000)
        benchmark.extra_info["reports"] = len(evidence.facts)
        benchmark.extra_info["seconds of processor"] = min(spent)
        benchmark.extra_info["dense inverses of 4000 unknowns"] = min(spent) / dense
        assert min(spent) < 4.0 * dense, "a fit costs as much as a few inverses of a quarter of its unknowns"

"""Delta-Bullington over 1000 profiles of 1000 points against pycraf's complete path loss, time per path.

Run with `pytest tests/bench/test_bench_delta_bullington.py --benchmark-enable`; ratios are in extra_info.
pycraf (compiled P.452) is timed twice: path description and loss together, as its users call it, and the
loss alone. One core's figures are processor time of this thread, every core's are by the clock and suffer
from other work.
"""

from __future__ import annotations

import time
import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from reach.propagation.diffraction_models import DeltaBullingtonModel
from reach.terrain.profile import Profile, ProfileBatch

PATHS, POINTS = 1000, 1000
LINK: dict[str, Any] = {"tx_height_m": 20.0, "rx_height_m": 5.0, "frequency_mhz": 146.0}


def batch_of_paths() -> ProfileBatch:
    rng = np.random.default_rng(1)
    d = np.linspace(0.0, 40e3, POINTS)
    return ProfileBatch.of(
        [Profile.of(d, 300.0 + np.cumsum(rng.normal(0.0, 5.0, POINTS))) for _ in range(PATHS)]
    )


def best_s(call: Callable[[], object], rounds: int, clock: Callable[[], float] = time.thread_time) -> float:
    """Shortest of several rounds; the machine's other work only ever adds."""
    call()
    times = []
    for _ in range(rounds):
        begun = clock()
        call()
        times.append(clock() - begun)
    return min(times)


def pycraf_losses(profile: Profile) -> tuple[Callable[[], object], Callable[[], object]]:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pathprof = pytest.importorskip("pycraf.pathprof", reason="pycraf is not installed")
        from astropy import units as u

    quantities = (
        0.146 * u.GHz, 290.0 * u.K, 1013.0 * u.hPa,
        -84.0 * u.deg, 36.0 * u.deg, -84.0 * u.deg, 36.36 * u.deg,
        20.0 * u.m, 5.0 * u.m, 40.0 * u.m, 50.0 * u.percent,
    )  # fmt: skip
    options = {
        "delta_N": 45.0 * u.Unit("1/km"),
        "N0": 325.0 * u.dimensionless_unscaled,
        "hprof_dists": profile.distance_m / 1e3 * u.km,
        "hprof_heights": profile.ground_m * u.m,
        "hprof_bearing": 0.0 * u.deg,
        "hprof_backbearing": 0.0 * u.deg,
    }
    described = pathprof.PathProp(*quantities, **options)
    return (
        lambda: pathprof.loss_complete(pathprof.PathProp(*quantities, **options)),
        lambda: pathprof.loss_complete(described),
    )


def test_delta_bullington_against_pycraf(benchmark: Any) -> None:
    if benchmark.disabled:
        pytest.skip("a measure; run with --benchmark-enable")
    batch = batch_of_paths()
    one, every = DeltaBullingtonModel(threads=1), DeltaBullingtonModel()
    benchmark.pedantic(lambda: every.losses(batch, **LINK), rounds=5, warmup_rounds=1)
    ours_one_s = best_s(lambda: one.losses(batch, **LINK), 10) / PATHS
    ours_s = best_s(lambda: every.losses(batch, **LINK), 20, time.perf_counter) / PATHS
    whole, loss_only = pycraf_losses(batch[0])
    whole_s, loss_only_s = best_s(whole, 20), best_s(loss_only, 20)
    benchmark.extra_info.update(
        {
            "microseconds a path, every core": round(ours_s * 1e6, 2),
            "microseconds a path, one core": round(ours_one_s * 1e6, 2),
            "pycraf, microseconds": round(whole_s * 1e6),
            "pycraf, loss alone, microseconds": round(loss_only_s * 1e6),
            "times faster, every core": round(whole_s / ours_s),
            "times faster, one core": round(whole_s / ours_one_s),
            "times faster than the loss alone, one core": round(loss_only_s / ours_one_s),
        }
    )
    print(benchmark.extra_info)
    assert whole_s / ours_s > 100.0

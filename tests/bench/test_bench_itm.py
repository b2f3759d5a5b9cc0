"""ITM: a batch against itmlogic (PyPI) path by path, in one run on the same profiles.

Run with `pytest tests/bench/test_bench_itm.py --benchmark-enable -s`; ratios and times are in extra_info.
Times are the best of many short runs: one core by processor time, all cores by the clock and, for when other
work keeps them busy, by the processor time of all threads shared out evenly. For itmlogic it is what its user
has to call for one loss on a profile that is at hand: mean elevation, `qlrps`, `qlrpfl` (which analyses the
profile), `qerfi` and `avar`, as its own point-to-point example does; for us it is the whole public call on a
batch, checks included. itmlogic takes about 0.36 us a point in pure Python; a path of 1000 points costs us 2
to 3 us on one core. Mark: at least 60 times faster per path on one core at 200 points, 100 times at 1000.
"""

from __future__ import annotations

import runpy
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

pytest.importorskip("itmlogic")

from reach.machinery.parallel import cores
from reach.propagation.itm.model import ItmModel
from reach.terrain.profile import Profile, ProfileBatch

itmlogic_loss_db = runpy.run_path(str(Path(__file__).parents[1] / "published" / "itmlogic_path.py"))[
    "itmlogic_loss_db"
]

PATHS, SPACING_M = 1000, 30.0
HEIGHTS_M = {"tx_height_m": 10.0, "rx_height_m": 10.0}
FASTER_ON_ONE_CORE = {200: 60.0, 1000: 100.0}


def rolling_batch(points: int) -> ProfileBatch:
    rng = np.random.default_rng(7)
    x = np.linspace(0.0, 1.0, points)
    profiles = []
    for _ in range(PATHS):
        ground_m = 200.0 + sum(
            rng.uniform(3.0, 50.0) * np.sin(2 * np.pi * rng.uniform(0.5, 25.0) * x + rng.uniform(0, 6.3))
            for _ in range(5)
        )
        ground_m[-2] = ground_m[-1]  # where itmlogic reads the receiver's ground right
        profiles.append(Profile.of(np.arange(points) * SPACING_M, ground_m - min(ground_m.min(), 0.0)))
    return ProfileBatch.of(profiles)


def best_s(call: Callable[[], object], rounds: int, clock: Callable[[], float]) -> float:
    times_s = []
    for _ in range(rounds):
        begin = clock()
        call()
        times_s.append(clock() - begin)
    return min(times_s)


@pytest.mark.parametrize("points", [200, 1000])
def test_itm_against_itmlogic(benchmark: Any, points: int) -> None:
    if benchmark.disabled:
        pytest.skip("speed is measured with --benchmark-enable")
    batch = rolling_batch(points)
    arguments = {**HEIGHTS_M, "frequency_mhz": 146.0}
    all_cores, one_core = ItmModel(), ItmModel(threads=1)
    ours_db = all_cores.losses(batch, **arguments).loss_db  # compiles, or loads what was compiled

    sample = range(0, PATHS, PATHS // 10)
    grounds_m = [batch[p].ground_m.tolist() for p in sample]

    def peer() -> list[float]:
        return [
            itmlogic_loss_db(
                ground_m,
                spacing_m=SPACING_M,
                frequency_mhz=146.0,
                vertical=True,
                climate=5,
                surface_refractivity_n_units=301.0,
                relative_permittivity=15.0,
                conductivity_s_per_m=0.005,
                mdvar=12,
                **HEIGHTS_M,
            )[0]
            for ground_m in grounds_m
        ]

    assert np.abs(ours_db[list(sample)] - peer()).max() < 0.05, "the two do not compute the same thing"
    peer_s = best_s(peer, 15, time.process_time) / len(sample)
    one_s = best_s(lambda: one_core.losses(batch, **arguments), 100, time.process_time) / PATHS
    all_s = best_s(lambda: all_cores.losses(batch, **arguments), 200, time.perf_counter) / PATHS
    all_cpu_s = best_s(lambda: all_cores.losses(batch, **arguments), 100, time.process_time) / PATHS
    benchmark.extra_info.update(
        points=points,
        itmlogic_us_per_path=round(peer_s * 1e6, 1),
        one_core_us_per_path=round(one_s * 1e6, 2),
        all_cores_us_per_path=round(all_s * 1e6, 2),
        one_core_times_faster=round(peer_s / one_s),
        all_cores_times_faster=round(peer_s / all_s),
        free_cores_times_faster=round(peer_s / all_cpu_s * cores()),
    )
    benchmark(all_cores.losses, batch, **arguments)
    print(dict(benchmark.extra_info))
    assert peer_s / one_s >= FASTER_ON_ONE_CORE[points]


COMPILE = """
import time
import numpy as np
from numba import njit
from reach.propagation.itm._batch_kernel import itm_paths
from reach.propagation.itm.terrain import workspace
kernel = njit(nogil=True, error_model="numpy", _nrt=False)(itm_paths.py_func)
one = np.ones(1)
begin = time.process_time()
kernel(0, 0, np.zeros(1, np.int64), one, one, one, one, np.ones((1, 7)),
       np.zeros(1, np.int64), 301.0, 5, 12, 0.0, 0.0, 0.0,
       workspace(2), np.ones((1, 13)), np.zeros(1, np.int64), np.zeros(1, np.int64))
print(time.process_time() - begin)
"""


def test_itm_compiles_in_little_time(benchmark: Any) -> None:
    """In a process of its own, without the cache on disk: what the very first use costs."""
    if benchmark.disabled:
        pytest.skip("speed is measured with --benchmark-enable")

    def compile_s() -> float:
        done = subprocess.run([sys.executable, "-c", COMPILE], capture_output=True, text=True, check=True)
        return float(done.stdout)

    seconds = benchmark.pedantic(compile_s, rounds=1)
    benchmark.extra_info["compile_cpu_s"] = round(seconds, 2)
    print(dict(benchmark.extra_info))

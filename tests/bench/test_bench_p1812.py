"""P.1812 complete over 1000 profiles of 1000 points against a plain numpy writing and pycraf's P.452.

Times per path. Run with `pytest tests/bench/test_bench_p1812.py --benchmark-enable`; ratios are in
extra_info. One core's figures are processor time of this thread, every core's are by the clock and suffer
from other work.
"""

from __future__ import annotations

import runpy
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reach.propagation.p1812.model import P1812Model, P1812Settings
from reach.terrain.profile import Profile, ProfileBatch

HERE = Path(__file__).parent
PEER = runpy.run_path(str(HERE / "test_bench_delta_bullington.py"))
best_s, pycraf_losses, batch_of_paths, LINK = (
    PEER[name] for name in ("best_s", "pycraf_losses", "batch_of_paths", "LINK")
)
plain_loss_db = runpy.run_path(str(HERE.parent / "propagation" / "plain_p1812.py"))["p1812_loss_db"]


def plainly(profile: Profile, *, time_percent: float) -> float:
    return float(
        plain_loss_db(
            d=profile.distance_m / 1e3,
            h=profile.ground_m,
            clutter=profile.clutter_m,
            zone=profile.zone,
            phi=profile.mid_latitude_deg,
            htg=LINK["tx_height_m"],
            hrg=LINK["rx_height_m"],
            f=LINK["frequency_mhz"] / 1e3,
            vertical=True,
            p=time_percent,
        )
    )


@pytest.mark.parametrize("clutter", ["bare", "forest"])
@pytest.mark.parametrize("time_percent", [50.0, 10.0])
def test_p1812_against_plain_numpy_and_pycraf(benchmark: Any, time_percent: float, clutter: str) -> None:
    if benchmark.disabled:
        pytest.skip("a measure; run with --benchmark-enable")
    batch: ProfileBatch = batch_of_paths()
    if clutter == "forest":
        batch = ProfileBatch.of(
            [
                Profile.of(
                    p.distance_m, p.ground_m, clutter_m=np.where(np.sin(p.distance_m / 900.0) > 0, 20.0, 0.0)
                )
                for p in (batch[i] for i in range(len(batch)))
            ]
        )
    chosen = P1812Settings(time_percent=time_percent)
    one, every = P1812Model(chosen, threads=1), P1812Model(chosen)
    found = benchmark.pedantic(lambda: every.losses(batch, **LINK), rounds=5, warmup_rounds=1)
    assert found.loss_db[0] == pytest.approx(plainly(batch[0], time_percent=time_percent), abs=1e-6)
    ours_one_s = best_s(lambda: one.losses(batch, **LINK), 10) / len(batch)
    ours_s = best_s(lambda: every.losses(batch, **LINK), 20, time.perf_counter) / len(batch)
    plain_s = best_s(lambda: plainly(batch[0], time_percent=time_percent), 50)
    whole, loss_only = pycraf_losses(batch[0])
    whole_s, loss_only_s = best_s(whole, 20), best_s(loss_only, 20)
    benchmark.extra_info.update(
        {
            "microseconds a path, every core": round(ours_s * 1e6, 2),
            "microseconds a path, one core": round(ours_one_s * 1e6, 2),
            "plain numpy, microseconds": round(plain_s * 1e6),
            "times faster than plain numpy, every core": round(plain_s / ours_s),
            "times faster than plain numpy, one core": round(plain_s / ours_one_s),
            "times faster than pycraf, one core": round(whole_s / ours_one_s),
            "times faster than pycraf's loss alone, one core": round(loss_only_s / ours_one_s),
        }
    )
    print(benchmark.extra_info)
    assert ours_one_s < loss_only_s

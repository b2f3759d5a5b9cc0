"""The compiled walk along a radial against looking at every point from every column, in double precision."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reach.coverage.sweep._radial_kernel import LANES, RECORD_GROUP, look_stretch, push_stretch

Floats = NDArray[np.float32]


def walk(
    ground: NDArray[np.float64], bent: NDArray[np.float64], *, tx_m: float, rx_m: float, covered: bool
) -> dict[str, Floats]:
    """Run the kernel over a whole radial; ground[k], bent[k] at column k, element 0 the site. Exact in line
    of sight."""
    n = ground.size
    f32 = np.float32
    new = lambda: np.zeros(n + RECORD_GROUP, f32)
    inverse = np.zeros(n + 1, f32)
    inverse[1:] = 1.0 / np.arange(1, n + 1)
    g, b = ground.astype(f32), bent.astype(f32)
    bare = (ground - BEND * np.arange(n) ** 2).astype(f32) if covered else b
    bent_edge, ground_edge, record_at, record_slope, bent_top, ground_top, one, two = (
        new() for _ in range(8)
    )
    bent_previous, ground_previous = np.zeros(n, np.int32), np.zeros(n, np.int32)
    bent_edge[1] = ground_edge[1] = np.inf
    record_count = np.zeros(n + 1, np.int32)
    record_count[2] = 1
    record_at[0], record_slope[0] = 1.0, b[1] - tx_m
    state = np.array([b[1] - tx_m, g[1] - tx_m, g[1], g[1], 1.0, 0.0])
    push_stretch(
        2, n - 1, f32(tx_m), covered, inverse, g, b, bent_edge, bent_previous, ground_edge, ground_previous,
        record_at, record_slope, record_count, bent_top, ground_top, one, two, state,
    )  # fmt: skip
    columns = np.arange(2, n, dtype=np.int32)
    out = {
        name: new()
        for name in ("height", "product", "from_tx", "from_rx", "obstruction", "sum_one", "sum_two")
    }
    look_stretch(
        columns.size, columns, f32(tx_m), f32(rx_m), covered, f32(1.0), f32(np.inf), inverse, g, bare, b,
        bent_edge, bent_previous, ground_edge, ground_previous, record_at, record_slope, record_count,
        bent_top, ground_top, one, two, np.empty(n + LANES, np.int32), np.empty(n + LANES, np.int32),
        np.empty((5, n + LANES), f32), *out.values(),
    )  # fmt: skip
    return {name: np.concatenate([[np.nan, np.nan], values]) for name, values in out.items()}


BEND = 900.0 / 2.0 / 8.5e6  # 30 m columns on an Earth of 8500 km


def by_looking(
    k: int, ground: NDArray[np.float64], bent: NDArray[np.float64], *, tx_m: float, rx_m: float
) -> dict[str, float]:
    """The same figures for one column from their definitions."""
    x = np.arange(1.0, k)
    g, b = ground[1:k], bent[1:k]
    receiver_ground = ground[k] + rx_m
    receiver = ground[k] - BEND * k * k + rx_m
    a = np.max((b - tx_m) / x)
    back = np.max((b - receiver) / (k - x))
    s = (receiver - tx_m) / k
    level = (receiver_ground - tx_m) / k
    product = (a - s) * (back + s) if a >= s else -np.min((s - (b - tx_m) / x) ** 2 * x / (k - x))
    all_ground = ground[: k + 1]
    i = np.arange(1.0, k + 1.0)
    v1 = np.sum(all_ground[1:] + all_ground[:-1])
    v2 = np.sum(all_ground[1:] * (3.0 * i - 1.0) + all_ground[:-1] * (3.0 * i - 2.0))
    return {
        "product": product,
        "from_tx": np.max((g - tx_m) / x),
        "from_rx": np.max((g - receiver_ground) / (k - x)),
        "obstruction": max(np.max(g - tx_m - level * x), 0.0),
        "sum_one": v1 / k,
        "sum_two": v2 / k**2,
    }


def compare(ground: NDArray[np.float64], *, tx_m: float, rx_m: float) -> None:
    bent = ground - BEND * np.arange(ground.size) ** 2
    found = walk(ground, bent, tx_m=tx_m, rx_m=rx_m, covered=False)
    size = float(np.abs(ground).max()) + tx_m + 1.0
    for k in range(2, ground.size):
        wanted = by_looking(k, ground, bent, tx_m=tx_m, rx_m=rx_m)
        # nu goes with the root of the product; compare that, in slopes
        root = lambda v: np.sign(v) * np.sqrt(abs(v))
        assert root(found["product"][k]) == pytest.approx(root(wanted["product"]), abs=3e-4 * np.sqrt(size))
        assert found["from_tx"][k] == pytest.approx(wanted["from_tx"], abs=2e-6 * size)
        assert found["from_rx"][k] == pytest.approx(wanted["from_rx"], abs=2e-6 * size)
        assert found["obstruction"][k] == pytest.approx(wanted["obstruction"], abs=4e-6 * size)
        assert found["sum_one"][k] == pytest.approx(wanted["sum_one"], abs=2e-6 * size)
        assert found["sum_two"][k] == pytest.approx(wanted["sum_two"], abs=4e-6 * size)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    step_m=st.sampled_from([0.3, 3.0, 20.0]),
    trend_m=st.sampled_from([-2.0, 0.0, 2.0]),
    tx_m=st.sampled_from([1.5, 10.0, 80.0, 400.0]),
    rx_m=st.sampled_from([1.5, 9.0]),
)
def test_walk_finds_what_looking_at_every_point_finds(
    seed: int, step_m: float, trend_m: float, tx_m: float, rx_m: float
) -> None:
    steps = np.random.default_rng(seed).normal(trend_m, step_m, 240)
    steps[0] = 0.0
    compare(np.cumsum(steps), tx_m=tx_m, rx_m=rx_m)


def test_walk_on_level_and_on_evenly_sloping_ground() -> None:
    compare(np.zeros(150), tx_m=10.0, rx_m=1.5)
    compare(np.arange(150) * 0.5, tx_m=10.0, rx_m=1.5)
    compare(np.arange(150) * -0.5, tx_m=10.0, rx_m=1.5)


def test_walk_with_cover_stands_the_receiver_on_bare_ground() -> None:
    rng = np.random.default_rng(5)
    ground = np.cumsum(rng.normal(0.0, 5.0, 200))
    ground -= ground[0]
    cover = rng.choice([0.0, 10.0, 20.0], 200)
    bent = ground + cover - BEND * np.arange(200) ** 2
    found = walk(ground, bent, tx_m=25.0, rx_m=1.5, covered=True)
    for k in range(2, 200):
        wanted = by_looking(k, ground, bent, tx_m=25.0, rx_m=1.5)
        assert np.sign(found["product"][k]) == np.sign(wanted["product"])
        assert np.sqrt(abs(found["product"][k])) == pytest.approx(np.sqrt(abs(wanted["product"])), abs=5e-3)
        assert found["obstruction"][k] == pytest.approx(wanted["obstruction"], abs=1e-3)
        assert found["from_rx"][k] == pytest.approx(wanted["from_rx"], abs=1e-3)

"""The compiled walk along a radial against looking at every point from every column, in double precision."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reach.coverage.sweep._before_kernel import join_before, look_before
from reach.coverage.sweep._tuples_kernel import (
    COVERED,
    EVEN,
    HIGHER,
    MIXED,
    STATES,
    Before,
    Link,
    Look,
    Turn,
    new_scratch,
)
from reach.coverage.sweep._walk_kernel import (
    first_column,
    push_look,
    sample_stretch,
)
from reach.propagation.typical_land.rule import OPEN_LAND_M, USUAL_HEIGHT_M, usual_cover_m

Floats = NDArray[np.float64]

COLUMN_M = 30.0
NOTHING_BEFORE = Before(0, 0, 0, 1, 1, 0.0)
BEND = COLUMN_M**2 / 2.0 / 8.5e6


@dataclass(frozen=True)
class Ends:
    """Antennas above the ground at their feet, and what stands between: even cover, or one of its own."""

    tx_m: float
    rx_m: float
    lift_m: float = 0.0
    cover_m: Floats | None = None
    near_land_m: float = 0.0
    far_land_m: float = 0.0
    mixed: bool = False
    line_columns: int = 0  # how many before a receiver are looked at on its own line
    clearing_columns: int = 1

    @property
    def look(self) -> int:
        """How the walk looks at it."""
        if self.mixed:
            return HIGHER if self.near_land_m > self.far_land_m > 0.0 else MIXED
        return EVEN if self.cover_m is None else COVERED


def walk(ground: Floats, ends: Ends, *, cuts: tuple[int, ...] = ()) -> dict[str, Floats]:
    """Run the kernel over a radial in stretches cut at `cuts`; results at column k, element 0 the site."""
    n = ground.size
    f32 = np.float32
    scratch = new_scratch(n, 0, ends.line_columns)
    scratch.flat.height[:n] = ground
    scratch.bent.height[:n] = ground - BEND * np.arange(n) ** 2
    if ends.cover_m is not None:
        scratch.cover[:n] = ends.cover_m
        scratch.top.height[:n] = scratch.bent.height[:n] + scratch.cover[:n]
    link = Link(
        far_height_m=ends.rx_m, far_land_m=ends.far_land_m, worked=False, look=ends.look,
        lift_m=f32(ends.lift_m), open_m=OPEN_LAND_M + 1e-3, near_land_m=ends.near_land_m, frequency_ghz=0.146,
        radius_m=8.5e6, wavelength_m=2.0, clear_limit=f32(np.inf), free_space_db=f32(0.0),
        x_factor=f32(1.0), y_factor=f32(1.0), log_admittance=f32(0.0), beta_by_formula=False,
    )  # fmt: skip
    turn = Turn(f32(ends.tx_m), 0.0, True, False, 0, False)
    state = np.zeros(STATES)
    first_column(turn.tx_m, link, scratch, state)
    found = {name: np.full(n, np.nan) for name in Look._fields}
    raster = np.zeros(2, np.float32)  # a raster: so the open land round a site is not looked at twice
    if ends.line_columns:
        assert ends.cover_m is not None
        raster = ends.cover_m.astype(np.float32)  # of one row, so that lines and radial are the same
    before = Before(ends.line_columns, ends.clearing_columns, 0, 1, n, 1.0 / n)
    first = 2
    for last in (*cuts, n - 1):
        columns = np.arange(first, last + 1)
        scratch.owned.column[: columns.size] = columns
        scratch.owned.cell[: columns.size] = columns
        scratch.owned.square[: columns.size] = columns**2
        if ends.line_columns:
            look_before(columns.size, turn.tx_m, before, raster, scratch)
        looks = push_look(first, last, columns.size, COLUMN_M, turn, link, before, raster, scratch, state)
        if ends.line_columns:
            join_before(looks, turn.tx_m, before, scratch)
        assert looks == columns.size
        for name, values in zip(Look._fields, scratch.look):
            found[name][columns] = values[: columns.size]
        first = last + 1
    return found


def by_looking(k: int, ground: Floats, ends: Ends) -> dict[str, float]:
    """The same figures for one column from their definitions."""
    x = np.arange(1.0, k)
    g = ground[1:k]
    bent = ground - BEND * np.arange(ground.size) ** 2
    cover = np.full(k + 1, ends.lift_m)
    if ends.cover_m is not None:
        cover[: k + 1] = ends.cover_m[: k + 1]
        cover[k + 1 - ends.clearing_columns :] = 0.0
    if ends.mixed:
        distance = np.arange(k + 1.0) * COLUMN_M
        cover = usual_cover_m(distance, np.full(k + 1, 4, np.int8), ends.near_land_m, ends.far_land_m)
    b, top = bent[1:k], bent[1:k] + cover[1:k]
    receiver, receiver_ground = bent[k] + ends.rx_m, ground[k] + ends.rx_m
    s = (receiver - ends.tx_m) / k
    level = (receiver_ground - ends.tx_m) / k
    ahead, back = np.max((top - ends.tx_m) / x), np.max((top - receiver) / (k - x))
    in_sight = -np.min((s - (top - ends.tx_m) / x) ** 2 * x / (k - x))
    slopes = (b - ends.tx_m) / x
    beyond = slopes.max() >= s
    i = np.arange(1.0, k + 1.0)
    v1 = np.sum(ground[1 : k + 1] + ground[:k])
    v2 = np.sum(ground[1 : k + 1] * (3.0 * i - 1.0) + ground[:k] * (3.0 * i - 2.0))
    hidden = np.max((g - ends.tx_m) / x) > level
    return {
        "product": (ahead - s) * (back + s) if ahead >= s else in_sight,
        "from_tx": np.max((g - ends.tx_m) / x),
        "from_rx": np.max((g - receiver_ground) / (k - x)) if hidden else 0.0,
        "obstruction": max(np.max(g - ends.tx_m - level * x), 0.0),
        "sum_one": v1 / k,
        "sum_two": v2 / k**2,
        "tx_slope": slopes.max() if beyond else s,
        "rx_slope": np.max((b - receiver) / (k - x)) if beyond else -s,
    }


def compare(ground: Floats, ends: Ends, *, cuts: tuple[int, ...] = ()) -> None:
    found = walk(ground, ends, cuts=cuts)
    size = float(np.abs(ground).max()) + ends.tx_m + 1.0

    def root(value: float) -> float:
        return float(np.sign(value) * np.sqrt(abs(value)))

    for k in range(2, ground.size):
        wanted = by_looking(k, ground, ends)
        # nu goes with the root of the product; compare that, in slopes
        assert root(found["product"][k]) == pytest.approx(root(wanted["product"]), abs=3e-4 * np.sqrt(size))
        for name, within in (
            ("from_tx", 2e-6), ("from_rx", 2e-6), ("obstruction", 4e-6), ("sum_one", 2e-6),
            ("sum_two", 4e-6), ("tx_slope", 2e-6), ("rx_slope", 3e-6),
        ):  # fmt: skip
            assert found[name][k] == pytest.approx(wanted[name], abs=within * size), (name, k)


def steps_of(seed: int, *, step_m: float, trend_m: float, columns: int = 240) -> Floats:
    steps = np.random.default_rng(seed).normal(trend_m, step_m, columns)
    steps[0] = 0.0
    return np.cumsum(steps)


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    step_m=st.sampled_from([0.3, 3.0, 20.0]),
    trend_m=st.sampled_from([-2.0, 0.0, 2.0]),
    tx_m=st.sampled_from([1.5, 10.0, 80.0, 400.0]),
    rx_m=st.sampled_from([1.5, 9.0]),
    lift_m=st.sampled_from([0.0, 1.5]),
    cut=st.integers(3, 230),
)
def test_walk_finds_what_looking_at_every_point_finds(
    seed: int, step_m: float, trend_m: float, tx_m: float, rx_m: float, lift_m: float, cut: int
) -> None:
    ground = steps_of(seed, step_m=step_m, trend_m=trend_m)
    compare(ground, Ends(tx_m, rx_m, lift_m=lift_m), cuts=(cut,))


@pytest.mark.parametrize("slope", [0.0, 0.5, -0.5])
def test_walk_on_level_and_on_evenly_sloping_ground(slope: float) -> None:
    compare(np.arange(150) * slope, Ends(10.0, 1.5), cuts=(40, 41))


@pytest.mark.parametrize("rx_m", [1.5, 20.0])
def test_walk_with_cover_stands_the_receiver_on_bare_ground(rx_m: float) -> None:
    ground = steps_of(5, step_m=5.0, trend_m=0.0, columns=200)
    cover = np.random.default_rng(6).choice([0.0, 10.0, 20.0], 200)
    compare(ground, Ends(25.0, rx_m, cover_m=cover), cuts=(70,))


@settings(max_examples=25, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    line_columns=st.integers(2, 12),
    clearing_columns=st.sampled_from([1, 2, 5]),
    tx_m=st.sampled_from([1.5, 25.0, 400.0]),
    rx_m=st.sampled_from([1.5, 20.0]),
    cuts=st.lists(st.integers(2, 190), max_size=3, unique=True).map(lambda c: tuple(sorted(c))),
)
def test_walk_takes_what_stands_before_a_receiver_from_its_own_line_but_for_its_clearing(
    seed: int, line_columns: int, clearing_columns: int, tx_m: float, rx_m: float, cuts: tuple[int, ...]
) -> None:
    ground = steps_of(seed, step_m=4.0, trend_m=0.0, columns=200)
    cover = np.random.default_rng(seed + 1).choice([0.0, 10.0, 20.0], 200)
    cover[:clearing_columns] = 0.0
    columns = max(line_columns, clearing_columns + 1)
    ends = Ends(tx_m, rx_m, cover_m=cover, line_columns=columns, clearing_columns=clearing_columns)
    compare(ground, ends, cuts=cuts)


@pytest.mark.parametrize(
    ("near_land_m", "far_land_m"), [(10.0, 15.0), (15.0, 10.0), (15.0, 0.0), (10.0, 0.0), (0.0, 15.0)]
)
def test_walk_with_halves_of_their_own_takes_the_cover_of_either(
    near_land_m: float, far_land_m: float
) -> None:
    ground = steps_of(7, step_m=4.0, trend_m=0.0, columns=120)
    tx_m, rx_m = max(20.0, near_land_m), max(1.5, far_land_m)
    lift_m = far_land_m or USUAL_HEIGHT_M
    ends = Ends(tx_m, rx_m, lift_m, None, near_land_m, far_land_m, mixed=True)
    compare(ground, ends)


@settings(max_examples=40, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    step_m=st.sampled_from([0.3, 3.0, 20.0]),
    trend_m=st.sampled_from([-2.0, 0.0, 2.0]),
    tx_m=st.sampled_from([15.0, 22.0, 80.0, 400.0]),
    rx_m=st.sampled_from([10.0, 13.0, 60.0]),
    near_land_m=st.sampled_from([11.0, 15.0]),
    cuts=st.lists(st.integers(3, 230), max_size=3, unique=True).map(lambda c: tuple(sorted(c))),
)
def test_walk_with_more_in_the_sites_half(
    seed: int,
    step_m: float,
    trend_m: float,
    tx_m: float,
    rx_m: float,
    near_land_m: float,
    cuts: tuple[int, ...],
) -> None:
    ground = steps_of(seed, step_m=step_m, trend_m=trend_m)
    ends = Ends(tx_m, rx_m, USUAL_HEIGHT_M, None, near_land_m, USUAL_HEIGHT_M, mixed=True)
    assert ends.look == HIGHER
    compare(ground, ends, cuts=cuts)


@pytest.mark.parametrize("look", [EVEN, HIGHER])
def test_a_sibling_that_wrote_over_the_hull_changes_nothing(look: int) -> None:
    """Two radials that share their first columns: the second sees what it would see alone."""
    ends = Ends(10.0, 1.5)
    if look == HIGHER:
        ends = Ends(20.0, 11.0, USUAL_HEIGHT_M, None, 15.0, USUAL_HEIGHT_M, mixed=True)
    shared = steps_of(8, step_m=8.0, trend_m=0.0, columns=100)
    tails = [steps_of(seed, step_m=8.0, trend_m=0.0, columns=120) + shared[-1] for seed in (9, 10)]
    alone = walk(np.concatenate([shared, tails[1]]), ends)
    n = 220
    f32 = np.float32
    scratch = new_scratch(n, 0, ends.line_columns)
    link = Link(
        ends.rx_m, ends.far_land_m, False, look, f32(ends.lift_m), 0.0, ends.near_land_m, 0.146, 8.5e6, 2.0,
        f32(np.inf), *[f32(1)] * 4, False,
    )  # fmt: skip
    turn = Turn(f32(ends.tx_m), 0.0, True, False, 0, False)
    state = np.zeros(STATES)
    for number, part in enumerate((shared, *tails)):
        first = 1 if number == 0 else 100
        columns = np.arange(first, first + part.size - (number == 0))
        part = part[1:] if number == 0 else part
        scratch.flat.height[columns] = part
        scratch.bent.height[columns] = part - BEND * columns**2
        if number == 0:
            first_column(turn.tx_m, link, scratch, state)
            columns = columns[1:]
        elif number == 1:
            before = state.copy()
        else:
            state = before
        scratch.owned.column[: columns.size] = columns
        scratch.owned.cell[: columns.size] = columns
        push_look(
            int(columns[0]), int(columns[-1]), columns.size, COLUMN_M, turn, link, NOTHING_BEFORE,
                np.zeros(2, f32), scratch,
            state,
        )  # fmt: skip
    for name in ("product", "from_rx", "obstruction", "rx_slope"):
        values = getattr(scratch.look, name)[: tails[1].size]
        assert np.allclose(values, alone[name][100:], rtol=1e-5, atol=1e-6), name


@pytest.mark.parametrize("garbage", [np.inf, -np.inf, np.nan, 3e38, -9e9])
def test_heights_that_are_none_are_voids(garbage: float) -> None:
    elevation = np.full((9, 9), 5.0, np.float32)
    elevation[4, 6] = garbage
    ground, bent = np.zeros(9, np.float32), np.zeros(9, np.float32)
    voids = sample_stretch(
        elevation.ravel(), 4 * 9 + 4, 1, -9, np.float32(0.1), np.float32(5.0), np.float32(1e-4), 1, 4, ground,
        bent,
    )  # fmt: skip
    assert voids == 1 and np.isnan(ground[2]) and np.isnan(bent[2])
    assert np.isfinite(ground[[1, 3, 4]]).all()

"""Sites together against every possible choice, on small areas; the rules of each goal; the nearest spot."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import MemberLayer
from reach.coverage.sweep.grid import site_crs
from reach.errors import NoPlan
from reach.plans.sites.best_together import best_cover
from reach.plans.sites.nearest_spot import nearest_spots
from reach.plans.sites.patterns import distinct_patterns, maximal, members_of, words_of
from reach.plans.sites.portable_sites import (
    Goal,
    LinkTask,
    Tie,
    could_link_more,
    groups_task,
    linked_by,
    plan_sites,
    site_of,
)
from reach.stations import Position

CELL_M = 100.0
MIDDLE = Position(41.3, -38.0)


def grid_of(rows: int, columns: int) -> SearchGrid:
    """Flat ground with a margin of three cells."""
    ground = np.full((rows + 6, columns + 6), 50.0, np.float32)
    west, north = -(columns / 2 + 3) * CELL_M, (rows / 2 + 3) * CELL_M
    return SearchGrid(MIDDLE, site_crs(MIDDLE), CELL_M, ground, west, north, 3, 3, rows, columns)


def layer_of(reached: NDArray[np.bool_], worst_db: NDArray[np.float32] | None = None) -> MemberLayer:
    """A layer of (members, rows, columns) truth values."""
    count, rows, columns = reached.shape
    words = words_of(reached.reshape(count, -1).T).T.reshape(-1, rows, columns)
    return MemberLayer(
        grid_of(rows, columns),
        tuple(f"QK3A{j:02d}" for j in range(count)),
        words,
        reached.sum(axis=0).astype(np.uint16),
        np.full((rows, columns), 5.0, np.float32) if worst_db is None else worst_db,
        np.ones((rows, columns), dtype=np.bool_),
        reached.sum(axis=0).astype(np.uint16),
        np.ones((rows, columns), dtype=np.bool_),
    )


def everywhere(layer: MemberLayer) -> Candidates:
    return Candidates(np.ones(layer.grid.shape, dtype=np.bool_), 0.0)


def tied(sets: Sequence[frozenset[int]]) -> bool:
    """Whether sets hang together through members that two of them share."""
    if not sets:
        return True
    group, rest = set(sets[0]), list(sets[1:])
    while met := [s for s in rest if s & group]:
        group |= set().union(*met)
        rest = [s for s in rest if s not in met]
    return not rest


def places_m(layer: MemberLayer) -> list[tuple[float, float]]:
    """(easting, northing) of every cell in order."""
    return [(float(x), float(y)) for y in layer.grid.rows_m() for x in layer.grid.columns_m()]


def best_by_trying(
    layer: MemberLayer,
    sets: Sequence[frozenset[int]],
    weights: Sequence[float],
    *,
    count: int,
    tie: Tie,
    apart_m: float,
) -> float:
    """Largest weight any choice of up to `count` cells covers, every choice tried."""
    places = places_m(layer)
    useful = [i for i, s in enumerate(sets) if s]
    best = 0.0
    for size in range(1, count + 1):
        for chosen in itertools.combinations(useful, size):
            if tie is Tie.SHARED and not tied([sets[i] for i in chosen]):
                continue
            near = any(
                math.dist(places[a], places[b]) < apart_m for a, b in itertools.combinations(chosen, 2)
            )
            if not near:
                best = max(best, sum(weights[j] for j in frozenset().union(*(sets[i] for i in chosen))))
    return best


def sets_of(layer: MemberLayer) -> list[frozenset[int]]:
    order = {call: j for j, call in enumerate(layer.call_signs)}
    return [
        frozenset(order[c] for c in layer.reached(i)) for i in range(layer.grid.rows * layer.grid.columns)
    ]


@st.composite
def layers(draw: st.DrawFn) -> MemberLayer:
    """Small areas: each member is reached within patches, as over real ground, or anywhere at random."""
    members = draw(st.integers(1, 7))
    rows, columns = draw(st.integers(2, 5)), draw(st.integers(2, 5))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    share = draw(st.sampled_from([0.1, 0.3, 0.6]))
    reached = rng.random((members, rows, columns)) < share
    if draw(st.booleans()):
        at = rng.random((members, 2)) * [rows, columns]
        y, x = np.mgrid[:rows, :columns]
        far = np.hypot(y[None] - at[:, 0, None, None], x[None] - at[:, 1, None, None])
        reached = far < 1.0 + 3.0 * share
    return layer_of(reached, rng.uniform(0.0, 30.0, (rows, columns)).astype(np.float32))


@settings(max_examples=150, deadline=None)
@given(
    layer=layers(),
    count=st.integers(1, 3),
    tie=st.sampled_from(Tie),
    apart_m=st.sampled_from([0.0, 150.0, 250.0, 400.0, 1000.0]),
)
def test_sites_together_equal_every_choice_tried(
    layer: MemberLayer, count: int, tie: Tie, apart_m: float
) -> None:
    task = LinkTask(Goal.MOST, layer.call_signs)
    sets = sets_of(layer)
    if not any(sets):
        with pytest.raises(NoPlan, match="no cell works any of"):
            plan_sites(layer, everywhere(layer), task, count=count, tie=tie, apart_m=apart_m)
        return
    plan = plan_sites(layer, everywhere(layer), task, count=count, tie=tie, apart_m=apart_m)
    chosen = plan.together or plan.singles[:1]
    wanted = best_by_trying(layer, sets, [1.0] * len(layer.call_signs), count=count, tie=tie, apart_m=apart_m)
    assert len(plan.linked) == wanted
    # and the choice keeps what was asked
    assert 1 <= len(chosen) <= count
    assert {c for site in chosen for c in site.reaches} == set(plan.linked)
    places = places_m(layer)
    assert all(
        math.dist(places[a.cell], places[b.cell]) >= apart_m for a, b in itertools.combinations(chosen, 2)
    )
    if tie is Tie.SHARED:
        assert tied([sets[site.cell] for site in chosen])


@settings(max_examples=60, deadline=None)
@given(layer=layers(), count=st.integers(1, 3), split=st.integers(2, 4))
def test_joined_groups_equal_every_choice_tried(layer: MemberLayer, count: int, split: int) -> None:
    calls = layer.call_signs
    groups = [g for g in (calls[i::split] for i in range(split)) if g]
    if len(groups) < 2:
        with pytest.raises(NoPlan, match="already form one group"):
            groups_task(groups)
        return
    task = groups_task(groups)
    order = {call: j for j, group in enumerate(groups) for call in group}
    met = [frozenset(order[call] for call in layer.reached(i)) for i in range(len(sets_of(layer)))]
    met = [s if len(s) > 1 else frozenset() for s in met]
    sizes = [float(len(group)) for group in groups]
    wanted = best_by_trying(layer, met, sizes, count=count, tie=Tie.SHARED, apart_m=0.0)
    if not any(met):
        with pytest.raises(NoPlan, match="two of the"):
            plan_sites(layer, everywhere(layer), task, count=count)
        return
    assert len(plan_sites(layer, everywhere(layer), task, count=count).linked) == wanted


@settings(max_examples=60, deadline=None)
@given(layer=layers(), count=st.integers(1, 3), out=st.integers(1, 6))
def test_cut_off_members_equal_every_choice_tried(layer: MemberLayer, count: int, out: int) -> None:
    calls = layer.call_signs
    wanted, inside = calls[:out], calls[out:]
    if not inside:
        return
    task = LinkTask(Goal.CUT_OFF, wanted, inside)
    brought = [
        frozenset(range(len(wanted))) & s if s & frozenset(range(len(wanted), len(calls))) else frozenset()
        for s in sets_of(layer)
    ]
    best = best_by_trying(layer, brought, [1.0] * len(wanted), count=count, tie=Tie.NONE, apart_m=0.0)
    if not any(brought):
        with pytest.raises(NoPlan, match="someone in the net as well"):
            plan_sites(layer, everywhere(layer), task, count=count)
        return
    assert len(plan_sites(layer, everywhere(layer), task, count=count).linked) == best


def test_an_apart_distance_sends_the_second_site_to_a_smaller_set() -> None:
    """Two cells side by side would cover all; kept apart, one of them has to give way to a poorer cell."""
    reached = np.zeros((4, 1, 9), dtype=np.bool_)
    reached[:2, 0, 0] = True
    reached[2:, 0, 1] = True
    reached[2, 0, 8] = True
    layer = layer_of(reached)
    task = LinkTask(Goal.MOST, layer.call_signs)
    near = plan_sites(layer, everywhere(layer), task, count=2)
    far = plan_sites(layer, everywhere(layer), task, count=2, apart_m=500.0)
    assert len(near.linked) == 4
    assert len(far.linked) == 3
    assert sorted(site.cell for site in far.together) == [0, 8]


def test_a_third_site_may_be_there_only_to_tie_the_others() -> None:
    """Two cells cover everyone but share nobody; a third that adds nobody joins them."""
    reached = np.zeros((4, 1, 5), dtype=np.bool_)
    reached[:2, 0, 0] = True
    reached[2:, 0, 4] = True
    reached[1:3, 0, 2] = True
    layer = layer_of(reached)
    task = LinkTask(Goal.MOST, layer.call_signs)
    loose = plan_sites(layer, everywhere(layer), task, count=3)
    joined = plan_sites(layer, everywhere(layer), task, count=3, tie=Tie.SHARED)
    assert sorted(site.cell for site in loose.together) == [0, 4]
    assert sorted(site.cell for site in joined.together) == [0, 2, 4]


def test_more_than_64_members_use_more_words() -> None:
    rng = np.random.default_rng(3)
    reached = rng.random((130, 6, 7)) < 0.3
    layer = layer_of(reached)
    assert layer.planes.shape[0] == 3
    flat = reached.reshape(130, -1)
    for cell in range(42):
        assert layer.reached(cell) == tuple(c for j, c in enumerate(layer.call_signs) if flat[j, cell])
    plan = plan_sites(layer, everywhere(layer), LinkTask(Goal.MOST, layer.call_signs), count=2)
    best = max(int((flat[:, a] | flat[:, b]).sum()) for a, b in itertools.combinations(range(42), 2))
    assert len(plan.linked) == best


@settings(max_examples=80, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), count=st.integers(1, 70), members=st.integers(1, 70))
def test_maximal_sets_are_those_contained_in_no_other(seed: int, count: int, members: int) -> None:
    rng = np.random.default_rng(seed)
    rows = np.unique(rng.random((count, members)) < rng.random(), axis=0)
    kept = set(maximal(words_of(rows)).tolist())
    for i, row in enumerate(rows):
        covered = any(i != j and not (row & ~other).any() for j, other in enumerate(rows))
        assert (i in kept) is not covered


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), members=st.integers(1, 100))
def test_patterns_lose_no_cell(seed: int, members: int) -> None:
    rng = np.random.default_rng(seed)
    kinds = rng.random((5, members)) < 0.5
    rows = kinds[rng.integers(0, 5, 60)]
    patterns = distinct_patterns(words_of(rows).T, np.arange(60), rng.random(60).astype(np.float32))
    assert len(patterns) == len(np.unique(rows, axis=0))
    assert (members_of(patterns.words, members)[patterns.pattern_of] == rows).all()
    for pattern, best in enumerate(patterns.best_cells()):
        same = np.flatnonzero(patterns.pattern_of == pattern)
        assert patterns.quality_db[best] == patterns.quality_db[same].max()


def test_single_sites_are_ranked_by_members_then_by_the_weakest_and_stand_apart() -> None:
    reached = np.zeros((3, 1, 8), dtype=np.bool_)
    reached[:, 0, 2:4] = True
    reached[:2, 0, 6] = True
    worst = np.full((1, 8), 1.0, np.float32)
    worst[0, 3] = 9.0
    plan = plan_sites(
        layer_of(reached, worst), Candidates(np.ones((1, 8), dtype=np.bool_), 0.0),
        LinkTask(Goal.MOST, ("QK3A00", "QK3A01", "QK3A02")), singles=3, singles_apart_m=200.0,
    )  # fmt: skip
    assert [site.cell for site in plan.singles] == [3, 6]
    assert [site.counts for site in plan.singles] == [3, 2]
    assert plan.singles[0].spare_db == 9.0


def test_cells_outside_the_limits_or_without_a_known_path_are_never_chosen() -> None:
    reached = np.ones((1, 1, 3), dtype=np.bool_)
    layer = layer_of(reached)
    known = np.array([[False, True, True]])
    layer = replace(layer, known=known)
    mask = np.array([[True, False, True]])
    plan = plan_sites(layer, Candidates(mask, 0.0), LinkTask(Goal.MOST, layer.call_signs))
    assert [site.cell for site in plan.singles] == [2]


def test_a_least_distance_needs_places() -> None:
    patterns = distinct_patterns(np.array([[1, 2]], np.uint64), np.arange(2), np.zeros(2, np.float32))
    with pytest.raises(ValueError, match="needs the places"):
        best_cover(patterns, [1.0, 1.0], count=2, apart_m=10.0)


def test_linking_counts_groups_only_when_two_are_met() -> None:
    task = LinkTask(Goal.GROUPS, ("QA", "QB", "QC"), (), (("QA", "QB"), ("QC",)))
    assert linked_by(task, [["QA"]]) == ()
    assert linked_by(task, [["QA", "QC"]]) == ("QA", "QB", "QC")
    hanging = LinkTask(Goal.CUT_OFF, ("QC",), ("QA",))
    assert linked_by(hanging, [["QC"], ["QA"]]) == ()
    assert linked_by(hanging, [["QA", "QC"]]) == ("QC",)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 2**32 - 1), east=st.floats(-900, 900), north=st.floats(-900, 900))
def test_the_nearest_spot_is_the_nearest_of_all(seed: int, east: float, north: float) -> None:
    rng = np.random.default_rng(seed)
    grid = grid_of(9, 11)
    spare = rng.normal(0.0, 6.0, grid.shape).astype(np.float32)
    mask = rng.random(grid.shape) < 0.7
    from reach.geodesy import destination

    lat, lon = destination(
        latitude_deg=MIDDLE.latitude_deg,
        longitude_deg=MIDDLE.longitude_deg,
        bearing_deg=math.degrees(math.atan2(east, north)),
        distance_m=math.hypot(east, north),
    )
    home = Position(float(lat), float(lon))
    spots = nearest_spots(grid, Candidates(mask, 0.0), {"QK3RA": spare}, home)
    y, x = np.meshgrid(grid.rows_m(), grid.columns_m(), indexing="ij")
    far = np.hypot(x - east, y - north)
    open_cells = mask & (spare >= 0.0)
    if not open_cells.any():
        assert spots == ()
        return
    # the plane is true to 4e-5 at this size, and positions to the float32 of its distances
    assert spots[0].distance_m == pytest.approx(far[open_cells].min(), abs=0.2)
    roomy = mask & (spare >= 6.0)
    if roomy.any():
        assert spots[0].comfortable is not None
        assert spots[0].comfortable.distance_m == pytest.approx(far[roomy].min(), abs=0.2)
    else:
        assert spots[0].comfortable is None


@settings(max_examples=60, deadline=None)
@given(layer=layers(), count=st.integers(1, 3), tie=st.sampled_from(Tie), seed=st.integers(0, 2**32 - 1))
def test_a_larger_area_never_counts_fewer(layer: MemberLayer, count: int, tie: Tie, seed: int) -> None:
    """Boxes one inside the other over the same cells: each holds what the smaller one held."""
    rng = np.random.default_rng(seed)
    rows, columns = layer.grid.shape
    task = LinkTask(Goal.MOST, layer.call_signs)
    top, left = int(rng.integers(rows)), int(rng.integers(columns))
    best = 0
    for wider in range(max(rows, columns)):
        mask = np.zeros((rows, columns), dtype=np.bool_)
        mask[max(top - wider, 0) : top + wider + 1, max(left - wider, 0) : left + wider + 1] = True
        try:
            plan = plan_sites(layer, Candidates(mask, 0.0), task, count=count, tie=tie)
        except NoPlan:
            assert best == 0
            continue
        assert plan.counted_best and plan.best_count == len(plan.linked) >= best
        best = plan.best_count


def test_few_cells_are_all_to_be_worked_even_those_that_count_for_nothing() -> None:
    reached = np.zeros((2, 1, 9), dtype=np.bool_)
    reached[:, 0, 4] = True
    few = plan_sites(
        layer_of(reached), everywhere(layer_of(reached)), LinkTask(Goal.MOST, ("QK3A00", "QK3A01"))
    )
    assert few.every_cell and [site.cell for site in few.alone] == list(range(9))
    wide = np.ones((2, 20, 30), dtype=np.bool_)
    wide[1, 5:] = False
    many = plan_sites(layer_of(wide), everywhere(layer_of(wide)), LinkTask(Goal.MOST, ("QK3A00", "QK3A01")))
    assert not many.every_cell and 240 <= len(many.alone) < 600
    assert {site.cell for site in many.alone} >= set(range(150))  # both are linked there


def test_cells_that_might_link_more_are_those_with_enough_hope_best_first() -> None:
    rng = np.random.default_rng(4)
    reached = rng.random((6, 3, 8)) < 0.5
    worst_db = rng.random((3, 8)).astype(np.float32)
    layer = replace(layer_of(reached, worst_db), hopeful=rng.integers(0, 7, (3, 8)).astype(np.uint16))
    mask = rng.random((3, 8)) < 0.8
    task = LinkTask(Goal.MOST, layer.call_signs)
    worked = [int(np.flatnonzero((layer.hopeful > 3) & mask)[0])]
    found = could_link_more(layer, Candidates(mask, 0.0), than=3, worked=worked).tolist()
    hope, spare_db = layer.hopeful.ravel(), worst_db.ravel()
    by_hand = [cell for cell in set(range(24)) - set(worked) if mask.ravel()[cell] and hope[cell] > 3]
    assert found == sorted(by_hand, key=lambda cell: (-int(hope[cell]), -spare_db[cell], cell)) and found
    assert not could_link_more(layer, Candidates(mask, 0.0), than=6, worked=()).size
    assert mask[np.unravel_index(worked[0], mask.shape)]  # could_link_more leaves what it was given
    one = site_of(layer, found[0], task)
    assert one.counts == len(one.reaches) == int(reached.reshape(6, -1)[:, found[0]].sum())


def test_cells_that_link_fewer_than_decided_have_no_part_in_what_is_found() -> None:
    """Left aside, they change nothing; and without the rest of what is asked for nothing is decided."""
    rng = np.random.default_rng(5)
    chance = rng.random((9, 1, 1)) * (0.4 + 0.6 * rng.random((1, 30, 40)))
    layer = layer_of(rng.random((9, 30, 40)) < chance, rng.random((30, 40), dtype=np.float32) * 20.0)
    task = LinkTask(Goal.MOST, layer.call_signs)
    plan = plan_sites(layer, everywhere(layer), task, singles=3)
    assert 1 < plan.decided_from < plan.best_count
    enough = replace(layer, whole=layer.count >= plan.decided_from)
    assert not enough.whole.all()
    assert plan_sites(enough, everywhere(layer), task, singles=3) == plan
    assert plan_sites(layer, everywhere(layer), task, singles=10_000).decided_from == 0
    few = layer_of(rng.random((2, 30, 40)) < 0.5)  # four sets at most
    assert plan_sites(few, everywhere(few), LinkTask(Goal.MOST, few.call_signs)).decided_from == 0

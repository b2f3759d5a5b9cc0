"""The reach graph: thresholds, directions, groups, near misses."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.plans.graph.reachability import (
    ChanceThreshold,
    ReadabilityThreshold,
    components,
    heard_lists,
    near_miss,
    one_way_links,
    reach_graph,
)
from reach.stations import Category
from tests.plans.synthetic import SIGMA_DB, call, hilly, linked, network_of, station


def pair(there_db: float, back_db: float) -> np.ndarray:
    return np.array([[np.nan, there_db], [back_db, np.nan]])


@pytest.mark.parametrize(("readability", "needed_db"), [(2, -5.0), (3, 0.0), (4, 3.0), (5, 8.0)])
def test_readability_thresholds_are_the_grades_own_steps(readability: int, needed_db: float) -> None:
    """12 dB SINAD + 0, 5, 8 and 13 dB for R2 to R5, counted from workable (R3)."""
    for off_db, works in ((0.01, True), (-0.01, False)):
        network = network_of(pair(needed_db + off_db, needed_db + off_db))
        assert reach_graph(network, ReadabilityThreshold(readability)).two_way[0, 1] == works


def test_a_chance_threshold_is_met_exactly_where_the_chance_is() -> None:
    # quantile of the normal law: Phi(1.2816) = 0.9 (any statistics table)
    for off_db, works in ((0.01, True), (-0.01, False)):
        margin_db = 1.2816 * SIGMA_DB + off_db
        assert (
            reach_graph(network_of(pair(margin_db, margin_db)), ChanceThreshold(0.9)).two_way[0, 1] == works
        )
    graph = reach_graph(hilly(12, seed=1), ChanceThreshold(0.7))
    assert np.array_equal(graph.hears, graph.chance >= 0.7)


@pytest.mark.parametrize("chance", [0.0, 1.0, -0.1, float("nan")])
def test_impossible_thresholds(chance: float) -> None:
    with pytest.raises(ValueError, match="between 0 and 1"):
        ChanceThreshold(chance)
    with pytest.raises(ValueError, match="between 2 and 5"):
        ReadabilityThreshold(6)


def test_a_one_way_link_is_no_two_way_link_and_is_listed() -> None:
    graph = reach_graph(network_of(pair(4.0, -2.5)))  # 1 hears 0 only
    assert not graph.two_way.any()
    (link,) = one_way_links(graph)
    assert (link.heard, link.hearer) == (call(0), call(1))
    assert link.missing_db == pytest.approx(2.5)
    first, second = heard_lists(graph)
    assert (first.works, first.hears_only, first.heard_only_by) == ((), (), (call(1),))
    assert (second.works, second.hears_only, second.heard_only_by) == ((), (call(0),), ())


def test_lists_and_groups() -> None:
    graph = reach_graph(linked(6, [(0, 1), (1, 2), (4, 5)]))
    assert components(graph) == ((call(0), call(1), call(2)), (call(4), call(5)), (call(3),))
    assert heard_lists(graph)[1].works == (call(0), call(2))


def test_the_near_miss_is_the_strongest_failed_pair_of_those_that_could_serve() -> None:
    margin_db = np.full((4, 4), -20.0)
    margin_db[3, 0], margin_db[0, 3] = -4.0, -1.0  # 0 does not hear 3 by 4 dB
    margin_db[3, 1], margin_db[1, 3] = -1.0, -3.0  # 3 does not hear 1 by 3 dB
    margin_db[3, 2], margin_db[2, 3] = -0.5, -0.5  # nearest of all, but cannot serve
    graph = reach_graph(network_of(margin_db))
    miss = near_miss(graph, 3, np.array([True, True, False, False]))
    assert miss is not None
    assert (miss.near, miss.deaf) == (call(1), call(3))
    assert miss.missing_db == pytest.approx(3.0)
    assert miss.words == (
        f"{call(3)} works {call(1)} only 3 in 10, 3.0 dB short of what counts ({call(3)} is the one that may"
        " not hear)"
    )
    hopeless = replace(miss, chance=0.1)
    assert hopeless.words == f"{call(3)} misses {call(1)} by 3.0 dB ({call(3)} does not hear back)"


def test_no_radio_path_at_all() -> None:
    stations = tuple(
        station(call(i), category=Category.INTERNET if i == 1 else Category.BASE) for i in range(3)
    )
    graph = reach_graph(linked(3, [(0, 1), (0, 2)], stations))
    assert graph.no_radio == (call(1),)
    assert graph.call_signs == (call(0), call(2))
    with pytest.raises(KeyError):
        graph.index(call(1))
    blank = reach_graph(network_of(np.full((2, 2), np.nan)))
    assert not blank.hears.any()
    assert near_miss(blank, 0, np.array([False, True])) is None


@given(st.integers(0, 10_000), st.floats(0.0, 12.0))
@settings(max_examples=40, deadline=None)
def test_stronger_signals_never_lose_a_link(seed: int, more_db: float) -> None:
    network = hilly(9, seed=seed)
    before = reach_graph(network)
    after = reach_graph(network_of(network.margin_db + more_db))
    assert (before.two_way <= after.two_way).all()
    assert np.array_equal(before.two_way, before.two_way.T)

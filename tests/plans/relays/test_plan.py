"""Relay plans: against every possible plan on all small graphs, and each promise on larger ones."""

from __future__ import annotations

from dataclasses import replace

import networkx as nx
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import NoPlan
from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import ChanceThreshold, reach_graph
from reach.plans.relays.net_control import plan_best
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.promises import plan_faults
from reach.plans.relays.rules import Chains, RelayRules, may_relay
from reach.stations import BackupPower, Category
from tests.plans.brute_force import best_plan, fewest_standbys
from tests.plans.synthetic import SIGMA_DB, call, hilly, linked, network_of, station

ANY_SHARE = RelayRules(reach_at_least=0.0)
ATLAS = [g for g in nx.graph_atlas_g() if 2 <= len(g) <= 6 and g.number_of_edges()]


def weighted(graph: nx.Graph, seed: int, *, steps: int) -> SimplexNetwork:
    """Margins of 0 to 9 dB on the edges, in few steps so that ties are many."""
    rng = np.random.default_rng(seed)
    n = len(graph)
    margin_db = np.full((n, n), -5.0)
    for i, j in graph.edges:
        margin_db[i, j] = rng.integers(0, steps) * 9.0 / steps
        margin_db[j, i] = rng.integers(0, steps) * 9.0 / steps
    return network_of(margin_db)


def assert_best(network: SimplexNetwork, control: str, rules: RelayRules) -> RelayPlan:
    graph = reach_graph(network, rules.threshold)
    plan = plan_relays(network, rules, control=control)
    assert plan.proven
    assert plan_faults(plan, network) == ()
    everyone = set(range(len(graph)))
    best = best_plan(graph, graph.index(control), everyone, rules)
    assert len(plan.relays) == len(best.relays)
    assert plan.expected_heard == pytest.approx(best.heard, abs=1e-5)
    assert max((duty.load for duty in plan.relays), default=0) == best.busiest
    forced = [s.weakest_db for s in plan.relayed if not s.direct_chance]
    assert min(forced, default=0.0) == pytest.approx(best.worst_db)
    places = [graph.index(relay) for relay in plan.relay_calls]
    assert sum(places) == sum(best.relays)
    standbys = fewest_standbys(graph, graph.index(control), set(places), everyone, rules)
    assert len(plan.standbys) == standbys
    return plan


def worth_planning(graph: nx.Graph, control: int) -> bool:
    return graph.degree[control] > 0


@pytest.mark.parametrize("nodes", [2, 3, 4, 5, 6])
def test_every_small_graph_under_every_control(nodes: int) -> None:
    for number, graph in enumerate(ATLAS):
        if len(graph) == nodes:
            network = weighted(graph, number, steps=3)
            for control in graph:
                if worth_planning(graph, control) and (nodes < 6 or (number + control) % 3 == 0):
                    assert_best(network, call(control), ANY_SHARE)


@pytest.mark.parametrize("nodes", [4, 5, 6])
def test_every_small_graph_with_chains_that_save_relays(nodes: int) -> None:
    rules = replace(ANY_SHARE, chains=Chains.FEWEST_RELAYS)
    for number, graph in enumerate(ATLAS):
        if len(graph) == nodes and worth_planning(graph, number % nodes) and (nodes < 6 or number % 2):
            assert_best(weighted(graph, number, steps=4), call(number % nodes), rules)


@pytest.mark.parametrize("seed", range(6))
def test_seven_stations_of_continuous_strength(seed: int) -> None:
    network = hilly(7, seed=seed, area_km=45.0)
    for chains in Chains:
        rules = replace(ANY_SHARE, chains=chains, expected_slack=0.0, chain_limit=3)
        graph = reach_graph(network, rules.threshold)
        control = int(graph.two_way.sum(axis=1).argmax())
        assert_best(network, call(control), rules)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("chains", list(Chains))
def test_promises_of_a_club_sized_plan(seed: int, chains: Chains) -> None:
    network = hilly(24, seed=seed, area_km=45.0, willing=0.6)

    plan = plan_best(network, replace(ANY_SHARE, chains=chains))
    assert plan.proven
    assert plan_faults(plan, network) == ()


def test_the_order_of_the_roster_does_not_matter() -> None:
    network = hilly(20, seed=3, area_km=45.0)
    order = np.random.default_rng(1).permutation(20)
    pick = np.ix_(order, order)
    stations = tuple(network.net.stations[i] for i in order)
    shuffled = network_of(network.margin_db[pick], stations)
    first, second = (plan_relays(n, ANY_SHARE, control=call(4)) for n in (network, shuffled))
    assert first == second


def test_the_checker_sees_what_is_wrong() -> None:
    network = linked(4, [(0, 1), (1, 2), (0, 3), (2, 3)])
    plan = plan_relays(network, control=call(0))
    assert plan_faults(plan, network) == ()
    elsewhere = replace(plan, relayed=(replace(plan.relayed[0], via=(call(2),)),))
    assert plan_faults(elsewhere, network)
    assert "expects" in " ".join(plan_faults(replace(plan, expected_heard=9.0), network))
    assert "lost" in " ".join(plan_faults(replace(plan, standbys=()), network))
    assert "missing" in " ".join(plan_faults(replace(plan, direct=plan.direct[:1]), network))


def test_only_willing_and_allowed_stations_relay() -> None:
    # 0 - {1 base, 2 mobile, 3 portable, 4 with a battery} - 5
    kinds = [Category.BASE, Category.BASE, Category.MOBILE, Category.PORTABLE, Category.BASE, Category.BASE]
    pairs = [(0, k) for k in (1, 2, 3, 4)] + [(k, 5) for k in (1, 2, 3, 4)]

    def relay_with(willing: set[int], **rules: bool) -> tuple[str, ...]:
        stations = tuple(
            station(
                call(i), category=kind, relay=i in willing, backup=BackupPower(hours=4.0) if i == 4 else None
            )
            for i, kind in enumerate(kinds)
        )
        return plan_relays(linked(6, pairs, stations), RelayRules(**rules), control=call(0)).relay_calls

    assert relay_with({1, 2, 3, 4}) == (call(1),)
    assert relay_with({2, 3}) == ()
    assert relay_with({2, 3}, allow_mobile=True) == (call(2),)
    assert relay_with({2, 3}, allow_portable=True) == (call(3),)
    assert relay_with({4}) == (call(4),)
    assert relay_with({4}, allow_battery=False) == ()


def test_a_chain_of_two_only_where_needed_and_never_past_the_limit() -> None:
    line = linked(5, [(0, 1), (1, 2), (2, 3), (3, 4)])
    plan = plan_relays(line, RelayRules(chain_limit=2), control=call(0))
    assert [station.via for station in plan.relayed] == [(call(1),), (call(2), call(1))]
    assert [out.call_sign for out in plan.left_out] == [call(4)]
    assert plan.changes[0].words == f"with chains of up to 3 relays, {call(4)} comes in"
    assert plan_relays(line, RelayRules(chain_limit=3), control=call(0)).left_out == ()


def test_a_longer_chain_saves_relays_only_when_asked() -> None:
    # 4, 5, 6 each hang on their own relay 1, 2, 3; relay 7 (behind 1) works all of them
    pairs = [(0, 1), (0, 2), (0, 3), (1, 4), (2, 5), (3, 6), (1, 7), (7, 5), (7, 6)]
    network = linked(8, pairs)
    short = plan_relays(network, RelayRules(), control=call(0))
    assert short.relay_calls == (call(1), call(2), call(3))
    few = plan_relays(network, RelayRules(chains=Chains.FEWEST_RELAYS), control=call(0))
    assert few.relay_calls == (call(1), call(7))


def crossing(direct_db: float) -> SimplexNetwork:
    """0 works 1 and 2; 3 hangs on 1; 2 works 1 at 12 dB and net control at direct_db."""
    margin_db = np.full((4, 4), -30.0)
    for i, j, level_db in ((0, 1, 12.0), (1, 3, 6.0), (1, 2, 12.0), (0, 2, direct_db)):
        margin_db[i, j] = margin_db[j, i] = level_db
    return network_of(margin_db)


def both_ways(margin_db: float) -> float:
    """Chance of both directions at this margin each: a normal pair, nine tenths of the variance shared."""
    stats = pytest.importorskip("scipy.stats")
    z = margin_db / SIGMA_DB
    return float(stats.multivariate_normal.cdf([z, z], cov=[[1.0, 0.9], [0.9, 1.0]]))


def test_a_weak_station_goes_through_a_relay_of_the_plan_when_clearly_surer() -> None:
    plan = plan_relays(crossing(0.5), control=call(0))
    chance = {2: both_ways(0.5), 1: both_ways(12.0)}
    rerouted = next(s for s in plan.relayed if s.call_sign == call(2))
    assert rerouted.via == (call(1),)
    assert rerouted.chance == pytest.approx(chance[1] ** 2)
    assert rerouted.direct_chance == pytest.approx(chance[2])
    assert (plan.surer, plan.direct, plan.worked) == ((call(2),), (call(1),), 2)
    assert plan.relays[0].load == 2
    assert plan.expected_heard == pytest.approx(chance[1] + chance[1] ** 2 + chance[1] * both_ways(6.0))
    assert plan.expected_direct == pytest.approx(chance[1] + chance[2])
    assert plan.sentence == (
        f"{call(0)} as net control works 2 of 3 directly and 1 more through 1 relay ({call(1)});"
        f" {call(2)} is surer through a relay; nobody is left out."
    )


def test_many_who_are_surer_through_a_relay_are_counted() -> None:
    margin_db = np.full((10, 10), -30.0)
    for k in range(2, 9):
        margin_db[0, k] = margin_db[k, 0] = 0.5
        margin_db[1, k] = margin_db[k, 1] = 12.0
    for i, j in ((0, 1), (1, 9)):
        margin_db[i, j] = margin_db[j, i] = 12.0
    plan = plan_relays(network_of(margin_db), control=call(0))
    assert len(plan.surer) == 7
    assert "; 7 of them are surer through a relay; nobody is left out." in plan.sentence


def test_a_strong_station_stays_direct_and_a_weak_one_left_direct_knows_whom_to_ask() -> None:
    assert plan_relays(crossing(9.0), control=call(0)).surer == ()
    almost = plan_relays(crossing(6.6), control=call(0))  # 0.82 directly, 0.94 through the relay: sure enough
    assert almost.surer == ()
    assert plan_relays(crossing(6.6), RelayRules(sure_from=0.9), control=call(0)).surer == (call(2),)
    plan = plan_relays(crossing(0.5), RelayRules(reroute_gain=0.5), control=call(0))
    assert plan.surer == ()
    (weak,) = plan.weak
    assert (weak.call_sign, weak.ask) == (call(2), call(1))
    assert weak.ask_chance == pytest.approx(both_ways(12.0) ** 2)
    assert plan_relays(crossing(9.0), control=call(0)).weak == ()


def test_no_relay_is_posted_for_weak_stations_alone() -> None:
    margin_db = np.full((3, 3), 12.0)
    margin_db[0, 2] = margin_db[2, 0] = 0.5
    plan = plan_relays(network_of(margin_db), control=call(0))
    assert (plan.relays, plan.surer) == ((), ())
    assert [(weak.call_sign, weak.ask) for weak in plan.weak] == [(call(2), "")]


def test_the_checker_sees_a_detour_that_is_not_worth_it() -> None:
    network = crossing(0.5)
    plan = plan_relays(network, control=call(0))
    assert plan_faults(plan, network) == ()
    strict = replace(plan, rules=replace(plan.rules, reroute_gain=0.6))
    assert "gains too little" in " ".join(plan_faults(strict, network))
    direct = plan_relays(network, RelayRules(reroute_gain=0.5), control=call(0))
    assert "listed as weak" in " ".join(plan_faults(replace(direct, weak=()), network))
    alone = replace(direct, weak=(replace(direct.weak[0], ask="", ask_chance=0.0),))
    assert "another to ask" in " ".join(plan_faults(alone, network))


def test_one_way_links_carry_no_relay_traffic() -> None:
    margin_db = np.full((3, 3), -20.0)
    margin_db[0, 1] = margin_db[1, 0] = 6.0
    margin_db[1, 2] = 6.0  # 2 hears the would-be relay, which does not hear 2
    margin_db[2, 1] = -3.0
    plan = plan_relays(network_of(margin_db), RelayRules(reach_at_least=0.0), control=call(0))
    assert plan.relays == ()
    (out,) = plan.left_out
    assert out.near_miss is not None
    assert (out.near_miss.near, out.near_miss.deaf) == (call(1), call(1))
    assert out.near_miss.missing_db == pytest.approx(3.0)
    assert out.hears == (call(1),)
    assert (
        out.words == f"{call(2)} works {call(1)} only 3 in 10, 3.0 dB short of what counts"
        f" ({call(1)} is the one that may not hear); it hears {call(1)}."
    )


def test_the_single_change_that_brings_everyone_in_works() -> None:
    stations = tuple(station(call(i), relay=i != 1) for i in range(4))
    network = linked(4, [(0, 1), (1, 2), (0, 3)], stations)
    plan = plan_relays(network, control=call(0))
    assert [out.call_sign for out in plan.left_out] == [call(2)]
    willing, gain = plan.changes
    assert (willing.call_sign, willing.brings_in, willing.all_in) == (call(1), (call(2),), True)
    assert gain.gain_db == pytest.approx(6.0)  # the margin was 6 dB under workable
    louder = network.margin_db.copy()
    at = network.index(gain.call_sign)
    louder[at, :] += gain.gain_db
    louder[:, at] += gain.gain_db
    assert plan_relays(network_of(louder, stations), control=call(0)).left_out == ()
    too_little = network.margin_db.copy()
    too_little[at, :] += gain.gain_db - 0.1
    too_little[:, at] += gain.gain_db - 0.1
    assert plan_relays(network_of(too_little, stations), control=call(0)).left_out


def test_two_halves_are_no_plan_and_the_text_says_what_would_help() -> None:
    network = linked(6, [(0, 1), (1, 2), (3, 4), (4, 5)])
    with pytest.raises(NoPlan) as caught:
        plan_relays(network, control=call(1))
    text = str(caught.value)
    assert f"({call(0)}, {call(1)}, {call(2)}) and ({call(3)}, {call(4)}, {call(5)})" in text
    assert "6.0 dB more at" in text


def test_no_plan_without_a_second_station_or_a_willing_control() -> None:
    with pytest.raises(NoPlan, match=r"only one station \(\w+\) has a radio path"):
        plan_relays(linked(1, []), control=call(0))
    stations = tuple(station(call(i), control=i == 1) for i in range(3))
    with pytest.raises(NoPlan, match=f"{call(0)} is not willing to be net control"):
        plan_relays(linked(3, [(0, 1), (1, 2)], stations), control=call(0))


def test_internet_members_are_listed_apart() -> None:
    kinds = [Category.BASE, Category.INTERNET, Category.BASE]
    stations = tuple(station(call(i), category=kind) for i, kind in enumerate(kinds))
    plan = plan_relays(linked(3, [(0, 1), (0, 2), (1, 2)], stations), control=call(0))
    assert plan.no_radio == (call(1),)
    assert plan.direct == (call(2),)


@given(st.integers(0, 1_000_000))
@settings(max_examples=60, deadline=None)
def test_mixed_nets_under_any_rules(seed: int) -> None:
    """All kinds of member, missing paths, one-way links, every rule: the best plan, which keeps its word."""
    rng = np.random.default_rng(seed)
    n = int(rng.integers(2, 8))
    margin_db = rng.normal(0.0, 7.0, (n, n))
    margin_db[rng.uniform(size=(n, n)) < 0.1] = np.nan
    margin_db = (margin_db + margin_db.T) / 2.0 + rng.normal(0.0, 1.5, (n, n))
    kinds = rng.choice(list(Category), n, p=[0.6, 0.15, 0.15, 0.1])
    stations = tuple(
        station(
            call(i), category=kinds[i], control=bool(rng.uniform() < 0.7), relay=bool(rng.uniform() < 0.7)
        )
        for i in range(n)
    )
    network = network_of(margin_db, stations)
    rules = RelayRules(
        threshold=ChanceThreshold(float(rng.uniform(0.2, 0.9))),
        chain_limit=int(rng.integers(0, 4)),
        chains=list(Chains)[int(rng.integers(2))],
        allow_mobile=bool(rng.uniform() < 0.5),
        allow_portable=bool(rng.uniform() < 0.5),
        reach_at_least=0.0,
        expected_slack=float(rng.choice([0.0, 0.1, 0.5])),
        reroute_gain=float(rng.choice([0.01, 0.05, 0.2])),
        sure_from=float(rng.choice([0.7, 0.8, 1.0])),
    )
    graph = reach_graph(network, rules.threshold)
    for control in graph.call_signs:
        try:
            plan = plan_relays(network, rules, control=control)
        except NoPlan:
            continue
        assert plan.proven
        assert plan_faults(plan, network) == ()
        allowed = {int(i) for i in np.flatnonzero(may_relay(network, graph, rules))}
        best = best_plan(graph, graph.index(control), allowed, rules)
        assert len(plan.relays) == len(best.relays)
        assert plan.expected_heard == pytest.approx(best.heard, abs=2e-5)
        assert max((duty.load for duty in plan.relays), default=0) == best.busiest

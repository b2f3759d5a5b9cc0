"""Small nets under every set of losses there is, against every way to go on tried."""

from __future__ import annotations

from itertools import chain, combinations

import pytest

from reach.plans.graph.reachability import reach_graph
from reach.plans.outages.backup import plan_outage
from reach.plans.outages.failures import Mains, Outage, joined, standing
from reach.plans.outages.gatherings import all_willing
from reach.plans.relays.rules import RelayRules
from tests.plans.brute_force import hops
from tests.plans.invented_survey import invented_survey, reached_by_hand, without

RULES = RelayRules()


def subsets(calls: tuple[str, ...]) -> chain[tuple[str, ...]]:
    return chain.from_iterable(combinations(calls, size) for size in range(len(calls) + 1))


@pytest.mark.parametrize("seed", range(3))
def test_under_every_set_of_losses_as_many_take_part_as_any_way_tried_keeps(seed: int) -> None:
    survey = invented_survey(5, seed=seed, repeaters=2)
    hubs = tuple(network.repeater.call_sign for network in survey.repeaters)
    kept = 0
    for lost in subsets((*survey.call_signs, *hubs)):
        for mains in Mains:
            outage = Outage(frozenset(lost) & frozenset(hubs), frozenset(lost) - frozenset(hubs), mains)
            plan = plan_outage(survey, outage, RULES)
            left = standing(survey, outage)
            rest = without(survey, {*survey.call_signs, *hubs} - {*left.members, *left.repeaters})
            tried = reached_by_hand(rest) or reached_by_hand(all_willing(rest))
            assert len(plan.in_net) == tried, outage.words
            kept += bool(tried)
    assert kept > 20


@pytest.mark.parametrize("seed", range(6))
def test_no_smaller_set_of_relays_keeps_an_outage_s_net(seed: int) -> None:
    """Every subset of relays tried on the network that the plan stands on."""
    survey = invented_survey(7, seed=seed, repeaters=2)
    compared = 0
    for gone in ((), *((call,) for call in (*survey.call_signs, "QK0RA", "QK0RB"))):
        outage = Outage(
            frozenset(call for call in gone if call.startswith("QK0R")),
            frozenset(call for call in gone if not call.startswith("QK0R")),
        )
        plan = plan_outage(survey, outage, RULES)
        if plan.plan is None:
            continue
        used = survey if plan.willing else all_willing(survey)
        network = joined(used, plan.standing, RULES, hub=plan.hub).network
        graph = reach_graph(network, RULES.threshold)
        number = {call: k for k, call in enumerate(network.call_signs)}
        stations = {station.call_sign: station for station in network.net.stations}
        centre = number[plan.hub or plan.control]
        may = {
            number[call]
            for call in plan.in_net
            if stations[call].willing_relay and not (plan.hub and call == plan.control)
        } - {centre}
        wanted = {number[call] for call in plan.in_net}
        fewest = next(
            (
                size
                for size in range(len(may) + 1)
                for chosen in combinations(sorted(may), size)
                if wanted <= set(hops(graph, centre, set(chosen), RULES.chain_limit))
            ),
            None,
        )
        if fewest is None:  # only with net control itself as a relay
            continue
        assert len(plan.plan.relay_calls) == fewest
        compared += 1
    assert compared

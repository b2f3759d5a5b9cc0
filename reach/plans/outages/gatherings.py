"""Around whom a net gathers after an outage: a repeater that still works, or net control on simplex.

Whoever is marked willing to be net control is asked first. Only where none of them brings two stations
together is the best-placed of all the others looked for, who has to agree before the plan is one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from reach.plans.graph.reachability import BoolArray, ReachGraph, reach_graph
from reach.plans.graph.routes import UNREACHED, best_chances, relays_needed
from reach.plans.outages.failures import JoinedNetwork, NetSurvey, Outage, Standing, joined, standing
from reach.plans.relays.rules import RelayRules, may_control, may_relay, taken_out
from reach.stations import runs_without_mains

SURE = 0.9  # a net control on a repeater should get in at least this often, if one does (own choice)


@dataclass(frozen=True)
class Gathering:
    """One way to go on.

    repeater : call sign of the hub, '' when net control works everyone on simplex. control : net control.
    members : who is in the net, net control included, by call sign; direct : those who work the hub itself.
    score : expected number heard, a station through a relay counting half. willing : False when net control
    is not marked willing (or not among the candidates named) and has to agree first.
    """

    repeater: str
    control: str
    members: tuple[str, ...]
    direct: tuple[str, ...]
    score: float
    willing: bool = True

    @property
    def centre(self) -> str:
        """What the relay plan is made around: the repeater, or net control on simplex."""
        return self.repeater or self.control

    @property
    def order(self) -> tuple[int, bool, float, str]:
        """Sorts the best first: most members, a repeater before simplex, most expected, call sign."""
        return (-len(self.members), not self.repeater, -round(self.score, 6), self.centre)


def best_gathering(survey: NetSurvey, outage: Outage, rules: RelayRules) -> Gathering | None:
    """The way to go on that keeps the most stations in the net; None when no two can be brought together.

    Tried are every repeater left, and on simplex every station willing to be net control; where that makes no
    net, everybody on the air (`asked_gathering`). Raises : KeyError for a call sign the net does not know.
    """
    return willing_gathering(survey, outage, rules) or asked_gathering(survey, outage, rules)


def willing_gathering(survey: NetSurvey, outage: Outage, rules: RelayRules) -> Gathering | None:
    """The same with those willing alone."""
    left = standing(survey, outage)
    hubs = [hub for hub in every_gathering(survey, left, rules) if len(hub.members) > 1]
    return min(hubs, key=lambda hub: hub.order) if hubs else None


def asked_gathering(survey: NetSurvey, outage: Outage, rules: RelayRules) -> Gathering | None:
    """The same with everybody on the air, as if each had agreed to be net control."""
    found = willing_gathering(all_willing(survey), outage, replace(rules, control_candidates=()))
    return None if found is None else replace(found, willing=is_willing(survey, found.control, rules))


def all_willing(survey: NetSurvey) -> NetSurvey:
    """The survey with every station on the air willing to be net control."""
    net = survey.net
    stations = tuple(replace(s, willing_control=s.has_radio_path) for s in net.stations)
    return replace(survey, simplex=replace(survey.simplex, net=replace(net, stations=stations)))


def is_willing(survey: NetSurvey, call_sign: str, rules: RelayRules) -> bool:
    """Whether a member is willing to be net control and, where the rules name candidates, one of them."""
    named = {call.upper() for call in rules.control_candidates}
    station = survey.net.station(call_sign)
    return station.willing_control and (not named or station.call_sign in named)


def controls_on(network: JoinedNetwork, rules: RelayRules) -> tuple[str, ...]:
    """Who may be net control on a hub, best first: they work it both ways and are willing.

    Sure of getting in before those who are not, on battery before mains only, then by chance and call sign.
    """
    graph = reach_graph(network.network, rules.threshold)
    at = graph.index(network.hub)
    willing = may_control(network.network, graph, rules)
    willing[at] = False

    def unfit(candidate: int) -> tuple[bool, bool, float, int]:
        chance = float(graph.pair_chance[at, candidate])
        mains_only = not runs_without_mains(network.network.net.station(graph.call_signs[candidate]))
        return (chance < SURE, mains_only, -round(chance, 6), candidate)

    fit = sorted((int(c) for c in np.flatnonzero(willing & graph.two_way[at])), key=unfit)
    return tuple(graph.call_signs[c] for c in fit)


def every_gathering(survey: NetSurvey, left: Standing, rules: RelayRules) -> Iterator[Gathering]:
    """All ways to go on, repeaters first, each in order."""
    if not left.members:
        return
    for repeater in left.repeaters:
        hub = _on_repeater(joined(survey, left, rules, hub=repeater), rules)
        if hub is not None:
            yield hub
    network = joined(survey, left, rules, hub="")
    graph = reach_graph(network.network, rules.threshold)
    relays = may_relay(network.network, graph, rules)
    for at in np.flatnonzero(may_control(network.network, graph, rules)):
        yield _around(network, graph, relays, int(at), rules, control=graph.call_signs[at])


def reaches(network: JoinedNetwork, rules: RelayRules, *, centre: str) -> tuple[str, ...]:
    """Stations in the net around a centre, a repeater not counted, by call sign."""
    graph = reach_graph(network.network, rules.threshold)
    relays = may_relay(network.network, graph, rules)
    return _around(network, graph, relays, graph.index(centre), rules, control=centre).members


def centre_rules(rules: RelayRules, *, repeater: str) -> RelayRules:
    """The rules for a relay plan around a hub: any size of net will do, and a repeater needs no candidacy."""
    return replace(rules, reach_at_least=0.0, control_candidates=() if repeater else rules.control_candidates)


def _on_repeater(network: JoinedNetwork, rules: RelayRules) -> Gathering | None:
    """None when nobody who works the repeater is willing to be net control."""
    controls = controls_on(network, rules)
    if not controls:
        return None
    graph = reach_graph(network.network, rules.threshold)
    relays = may_relay(network.network, graph, rules)
    at = graph.index(network.hub)
    return _around(network, graph, relays, at, rules, control=controls[0])


def _around(
    network: JoinedNetwork, graph: ReachGraph, willing: BoolArray, at: int, rules: RelayRules, *, control: str
) -> Gathering:
    relays = taken_out(willing, at)
    needed = relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit)
    chances = best_chances(graph, control=at, relays=relays, limit=rules.chain_limit)
    counted = np.ones(len(graph), dtype=np.bool_)
    if network.hub:
        counted[at] = False

    def names(mask: BoolArray) -> tuple[str, ...]:
        return tuple(graph.call_signs[k] for k in np.flatnonzero(mask & counted))

    directly = graph.two_way[at].copy()
    others = np.arange(len(graph)) != at
    return Gathering(
        repeater=network.hub,
        control=control,
        members=names(needed != UNREACHED),
        direct=names(directly),
        score=float(graph.pair_chance[at][directly].sum() + chances[others].sum()) / 2.0,
    )

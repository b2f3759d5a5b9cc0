"""Around whom a net gathers after an outage: a repeater that still works, or net control on simplex.

Whoever is marked willing to be net control is asked first. Only where none of them brings two stations
together is the best-placed of all the others looked for, who has to agree before the plan is one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
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
    return best_of(meeting_graphs(survey, standing(survey, outage), rules), rules)


def best_of(graphs: Iterable[MeetingGraph], rules: RelayRules) -> Gathering | None:
    """The best of all gatherings on these; None when no two stations can be brought together."""
    best: tuple[tuple[int, bool, float, str], MeetingGraph, int, str] | None = None
    for meeting in graphs:
        for at, control in meeting.centres():
            found = _Around(meeting, at, rules)
            if found.count > 1:
                centre = meeting.repeater or control
                order = (-found.count, not meeting.repeater, -round(found.score, 6), centre)
                if best is None or order < best[0]:
                    best = order, meeting, at, control
    return None if best is None else _Around(best[1], best[2], rules).gathering(best[3])


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
    """Who may be net control on a hub, best first (`MeetingGraph.controls`)."""
    return meeting_graph(network, rules).controls


@dataclass(frozen=True)
class MeetingGraph:
    """What is left of a net as a graph: with a repeater as one more station of it, or on simplex.

    repeater : '' on simplex. relays, willing : (n,) in the graph's order: may relay, may be net control.
    mains_only : (n,) without a battery, so later in the order of controls on a repeater.
    """

    repeater: str
    graph: ReachGraph
    relays: BoolArray
    willing: BoolArray
    mains_only: BoolArray

    def without(self, call_sign: str) -> MeetingGraph:
        """The same when that station is gone too."""
        at = self.graph.index(call_sign)
        return MeetingGraph(
            self.repeater,
            self.graph.without(at),
            np.delete(self.relays, at),
            np.delete(self.willing, at),
            np.delete(self.mains_only, at),
        )

    @property
    def controls(self) -> tuple[str, ...]:
        """Who may be net control on the repeater, best first: they work it both ways and are willing.

        Sure of getting in before those who are not, on battery before mains only, then by chance and call.
        """
        graph = self.graph
        at = graph.index(self.repeater)
        fit = self.willing & graph.two_way[at]
        fit[at] = False

        def unfit(candidate: int) -> tuple[bool, bool, float, int]:
            chance = float(graph.pair_chance[at, candidate])
            return (chance < SURE, bool(self.mains_only[candidate]), -round(chance, 6), candidate)

        return tuple(graph.call_signs[c] for c in sorted((int(c) for c in np.flatnonzero(fit)), key=unfit))

    def centres(self) -> Iterator[tuple[int, str]]:
        """Place of each centre a net may gather round, and its net control."""
        if not self.repeater:
            for at in np.flatnonzero(self.willing):
                yield int(at), self.graph.call_signs[at]
        elif controls := self.controls:
            yield self.graph.index(self.repeater), controls[0]


def meeting_graph(network: JoinedNetwork, rules: RelayRules) -> MeetingGraph:
    """What is left of a net as a graph."""
    graph = reach_graph(network.network, rules.threshold)
    stations = [network.network.net.station(call) for call in graph.call_signs]
    return MeetingGraph(
        network.hub,
        graph,
        may_relay(network.network, graph, rules),
        may_control(network.network, graph, rules),
        np.array([not runs_without_mains(station) for station in stations], dtype=np.bool_),
    )


def meeting_graphs(survey: NetSurvey, left: Standing, rules: RelayRules) -> Iterator[MeetingGraph]:
    """Round every repeater left, then on simplex; nothing with nobody left."""
    if left.members:
        for repeater in (*left.repeaters, ""):
            yield meeting_graph(joined(survey, left, rules, hub=repeater), rules)


def every_gathering(survey: NetSurvey, left: Standing, rules: RelayRules) -> Iterator[Gathering]:
    """All ways to go on, repeaters first, each in order."""
    for meeting in meeting_graphs(survey, left, rules):
        for at, control in meeting.centres():
            yield _Around(meeting, at, rules).gathering(control)


def reaches(network: JoinedNetwork, rules: RelayRules, *, centre: str) -> tuple[str, ...]:
    """Stations in the net around a centre, a repeater not counted, by call sign."""
    meeting = meeting_graph(network, rules)
    return _Around(meeting, meeting.graph.index(centre), rules).gathering(centre).members


def centre_rules(rules: RelayRules, *, repeater: str) -> RelayRules:
    """The rules for a relay plan around a hub: any size of net will do, and a repeater needs no candidacy."""
    return replace(rules, reach_at_least=0.0, control_candidates=() if repeater else rules.control_candidates)


class _Around:
    """The net around one centre. count : stations in it, a repeater not counted; score : see `Gathering`."""

    def __init__(self, meeting: MeetingGraph, at: int, rules: RelayRules) -> None:
        graph, relays = meeting.graph, taken_out(meeting.relays, at)
        self.meeting, self.at = meeting, at
        self.reached = (
            relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit) != UNREACHED
        )
        self.directly = graph.two_way[at]
        chances = best_chances(graph, control=at, relays=relays, limit=rules.chain_limit)
        others = np.arange(len(graph)) != at
        self.score = float(graph.pair_chance[at][self.directly].sum() + chances[others].sum()) / 2.0
        self.count = int(np.count_nonzero(self.reached)) - (bool(meeting.repeater) and bool(self.reached[at]))

    def gathering(self, control: str) -> Gathering:
        """The same with its stations named."""
        meeting = self.meeting
        counted = np.ones(len(meeting.graph), dtype=np.bool_)
        if meeting.repeater:
            counted[self.at] = False

        def names(mask: BoolArray) -> tuple[str, ...]:
            return tuple(meeting.graph.call_signs[k] for k in np.flatnonzero(mask & counted))

        return Gathering(
            repeater=meeting.repeater,
            control=control,
            members=names(self.reached),
            direct=names(self.directly),
            score=self.score,
        )

"""Around whom a net gathers after an outage: a repeater that still works, or net control on simplex.

Whoever is marked willing to be net control is asked first. Only where none of them brings two stations
together is the best-placed of all the others looked for, who has to agree before the plan is one.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reach.plans.graph.reachability import BoolArray, ReachGraph
from reach.plans.graph.routes import best_chances_round
from reach.plans.outages.failures import JoinedNetwork, NetSurvey, Outage, Standing, standing
from reach.plans.relays.rules import RelayRules, could_control, may_control, may_relay, taken_out
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
    return best_left(survey, standing(survey, outage), rules)


def best_left(survey: NetSurvey, left: Standing, rules: RelayRules) -> Gathering | None:
    """The same with what is left."""
    graphs = tuple(meeting_graphs(survey, left, rules))
    return best_of(graphs, rules) or asked_of(graphs, survey, rules)


def willing_gathering(survey: NetSurvey, outage: Outage, rules: RelayRules) -> Gathering | None:
    """The same with those willing alone."""
    return best_of(meeting_graphs(survey, standing(survey, outage), rules), rules)


def best_of(graphs: Iterable[MeetingGraph], rules: RelayRules) -> Gathering | None:
    """The best of all gatherings on these; None when no two stations can be brought together."""
    found = (around for meeting in graphs for around in _around_each(meeting, rules) if around.count > 1)
    best = min(found, key=lambda around: around.order, default=None)
    return None if best is None else best.gathering()


def asked_gathering(survey: NetSurvey, outage: Outage, rules: RelayRules) -> Gathering | None:
    """The same with everybody on the air, as if each had agreed to be net control."""
    return asked_of(meeting_graphs(survey, standing(survey, outage), rules), survey, rules)


def asked_of(graphs: Iterable[MeetingGraph], survey: NetSurvey, rules: RelayRules) -> Gathering | None:
    """The best of all gatherings on these as if everybody had agreed to be net control."""
    found = best_of((replace(meeting, willing=meeting.able) for meeting in graphs), rules)
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

    repeater : '' on simplex. there : (n,) in the graph's order: left on the air, the repeater too.
    relays, willing : (n,) may relay, may be net control. able : could be net control if it agreed.
    mains_only : (n,) without a battery, so later in the order of controls on a repeater.
    """

    repeater: str
    graph: ReachGraph
    there: BoolArray
    relays: BoolArray
    willing: BoolArray
    able: BoolArray
    mains_only: BoolArray

    def without(self, call_sign: str) -> MeetingGraph:
        """The same when that station is gone too."""
        return self._left(taken_out(self.there, self.graph.index(call_sign)))

    def of(self, members: Collection[str]) -> MeetingGraph:
        """The same with only these members left; the repeater stays."""
        stay = {*members, self.repeater}
        return self._left(np.array([call in stay for call in self.graph.call_signs]))

    def _left(self, there: BoolArray) -> MeetingGraph:
        return replace(
            self,
            there=there,
            relays=self.relays & there,
            willing=self.willing & there,
            able=self.able & there,
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
    graph = network.graph
    stations = [network.network.net.station(call) for call in graph.call_signs]
    return MeetingGraph(
        network.hub,
        graph,
        np.ones(len(graph), dtype=np.bool_),
        may_relay(network.network, graph, rules),
        may_control(network.network, graph, rules),
        could_control(network.network, graph),
        np.array([not runs_without_mains(station) for station in stations], dtype=np.bool_),
    )


def meeting_graphs(survey: NetSurvey, left: Standing, rules: RelayRules) -> Iterator[MeetingGraph]:
    """Round every repeater left, then on simplex; nothing with nobody left."""
    if left.members:
        for repeater in (*left.repeaters, ""):
            whole = survey.joined_whole(left.repeaters, repeater, rules.threshold)
            yield meeting_graph(whole, rules).of(left.members)


def every_gathering(survey: NetSurvey, left: Standing, rules: RelayRules) -> Iterator[Gathering]:
    """All ways to go on, repeaters first, each in order."""
    for meeting in meeting_graphs(survey, left, rules):
        for around in _around_each(meeting, rules):
            yield around.gathering()


def reaches(network: JoinedNetwork, rules: RelayRules, *, centre: str) -> tuple[str, ...]:
    """Stations in the net around a centre, a repeater not counted, by call sign."""
    meeting = meeting_graph(network, rules)
    (around,) = _around(meeting, [(meeting.graph.index(centre), centre)], rules)
    return around.gathering().members


def centre_rules(rules: RelayRules, *, repeater: str) -> RelayRules:
    """The rules for a relay plan around a hub: any size of net will do, and a repeater needs no candidacy."""
    return replace(rules, reach_at_least=0.0, control_candidates=() if repeater else rules.control_candidates)


@dataclass(frozen=True)
class _Around:
    """The net round one centre.

    at : the centre's place; control : call sign of net control. reached (n,) stations in it, the centre
    included. count : how many, a repeater not counted; score : see `Gathering`.
    """

    meeting: MeetingGraph
    at: int
    control: str
    reached: BoolArray
    count: int
    score: float

    @property
    def order(self) -> tuple[int, bool, float, str]:
        """As `Gathering.order`, without naming everybody."""
        centre = self.meeting.repeater or self.control
        return (-self.count, not self.meeting.repeater, -round(self.score, 6), centre)

    def gathering(self) -> Gathering:
        """The same with its stations named."""
        meeting = self.meeting
        counted = taken_out(meeting.there, self.at) if meeting.repeater else meeting.there

        def names(mask: BoolArray) -> tuple[str, ...]:
            return tuple(meeting.graph.call_signs[k] for k in np.flatnonzero(mask & counted))

        return Gathering(
            repeater=meeting.repeater,
            control=self.control,
            members=names(self.reached),
            direct=names(meeting.graph.two_way[self.at]),
            score=self.score,
        )


def _around_each(meeting: MeetingGraph, rules: RelayRules) -> list[_Around]:
    return _around(meeting, list(meeting.centres()), rules)


def _around(meeting: MeetingGraph, centres: Sequence[tuple[int, str]], rules: RelayRules) -> list[_Around]:
    """The nets round some centres, each its place and its net control."""
    graph, places = meeting.graph, [at for at, _ in centres]
    chances = best_chances_round(graph, places, relays=meeting.relays, limit=rules.chain_limit)
    chances[:, ~meeting.there] = 0.0
    reached = chances > 0.0
    counts = reached.sum(axis=1) - bool(meeting.repeater)
    directly = np.where(graph.two_way[places] & meeting.there, graph.pair_chance[places], 0.0).sum(axis=1)
    scores = (directly + chances.sum(axis=1) - 1.0) / 2.0  # the centre itself is sure
    return [
        _Around(meeting, at, control, reached[k], int(counts[k]), float(scores[k]))
        for k, (at, control) in enumerate(centres)
    ]

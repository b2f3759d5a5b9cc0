"""The relay plan of the stations that are on the air tonight, and whom to ask for each that is missing.

The net is surveyed once; each plan then takes those present out of the same figures, with tonight's own
evidence over them, and is solved exactly as `reach relays` solves the whole net.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from reach.answers.evening_heard import heard_tonight
from reach.answers.open_net import OpenNet
from reach.answers.repeater_net import repeater_net
from reach.answers.surveys import survey_net
from reach.errors import InputProblem, NoPlan
from reach.evening.fold import Sitting
from reach.machinery.progress import Watch, unwatched
from reach.plans.graph.reachability import BoolArray, ReachGraph, reach_graph
from reach.plans.graph.routes import best_relay
from reach.plans.outages.failures import NetSurvey, without_stations
from reach.plans.outages.gatherings import all_willing
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rules import RelayRules, may_relay, rules_of
from reach.stations import Channel, Net, Repeater


@dataclass(frozen=True)
class EveningNet:
    """What the plans of an evening are made from, surveyed once. on : where this sitting meets.

    relays_known : whether anybody in the roster says that they relay; where nobody does, all are asked.
    """

    net: Net
    survey: NetSurvey
    rules: RelayRules
    on: Channel | Repeater
    relays_known: bool = True

    @cached_property
    def graph(self) -> ReachGraph:
        """Of the whole roster on simplex."""
        return reach_graph(self.survey.simplex, self.rules.threshold)

    @cached_property
    def willing(self) -> BoolArray:
        """(n,) who may relay by the rules, in the order of the graph."""
        return may_relay(self.survey.simplex, self.graph, self.rules)

    @cached_property
    def into_repeater(self) -> Mapping[str, float]:
        """Chance of both ways of each member on the repeater; none on simplex."""
        if isinstance(self.on, Channel):
            return {}
        return {m.call_sign: m.chance for m in self.survey.repeater(self.on.call_sign).members}


@dataclass(frozen=True)
class Missing:
    """A member not heard yet.

    comes : chance that it is there at all; directly : that net control works it, given it is there.
    relay : whom to ask among those on the air, '' for nobody; through : chance of that way.
    willing : whether that relay said that it relays. linked : over the internet, with no radio path.
    """

    call_sign: str
    comes: float
    directly: float
    relay: str = ""
    through: float = 0.0
    willing: bool = True
    linked: bool = False

    @property
    def heard(self) -> float:
        """Chance that it comes and is heard on its better way."""
        return self.comes * max(self.directly, self.through)


@dataclass(frozen=True)
class EveningPlan:
    """control, present : what it was made for. plan : None where none can be made, and then why says so.

    willing : False when nobody in the roster says that they relay, so that each has to agree first.
    """

    control: str
    present: tuple[str, ...]
    plan: RelayPlan | None
    why: str
    missing: tuple[Missing, ...]
    willing: bool = True


def meeting_place(net: Net, on: str) -> Channel | Repeater | None:
    """The channel or repeater of that name, None where the net has it no more."""
    places: list[Channel | Repeater] = [*net.channels, *net.repeaters]
    names = {(p.name if isinstance(p, Channel) else p.call_sign): p for p in places}
    return names.get(on)


def evening_net(opened: OpenNet, on: Channel | Repeater, *, watch: Watch = unwatched) -> EveningNet:
    """Survey the net for an evening. Raises : MissingTerrain, OutOfRange."""
    channel = on if isinstance(on, Channel) else opened.net.channels[0]
    survey = all_willing(survey_net(opened, channel, watch=watch))  # whoever leads tonight has agreed
    rules = replace(rules_of(opened.folder.planning), control_candidates=())
    if known := any(station.willing_relay for station in opened.net.stations):
        return EveningNet(opened.net, survey, rules, on, known)
    net = survey.simplex.net
    asked = replace(net, stations=tuple(replace(s, willing_relay=s.has_radio_path) for s in net.stations))
    survey = NetSurvey(replace(survey.simplex, net=asked), survey.repeaters)
    return EveningNet(opened.net, survey, rules, on, known)


def evening_plan(tonight: EveningNet, sitting: Sitting, comes: Mapping[str, float]) -> EveningPlan:
    """The plan for those present, and the members still to come, most likely heard first.

    What was heard tonight goes before what was predicted (`heard_tonight`).

    comes : chance that a member is there, by call sign.
    """
    place = tonight.on if isinstance(tonight.on, Repeater) else None
    tonight = replace(tonight, survey=heard_tonight(tonight.survey, sitting, place))
    members = {station.call_sign for station in tonight.net.stations}
    radio = {station.call_sign for station in tonight.net.stations if station.has_radio_path}
    here = tuple(call for call in sitting.present if call in radio)
    plan, why = plan_for(tonight, sitting.control, here)
    away = [call for call in members if call not in sitting.calls and call != sitting.control]
    found = [_missing(tonight, sitting.control, here, call, comes.get(call, 0.0)) for call in away]
    found.sort(key=lambda one: (-one.heard, -one.comes, one.call_sign))
    return EveningPlan(sitting.control, here, plan, why, tuple(found), tonight.relays_known)


def plan_for(tonight: EveningNet, control: str, here: tuple[str, ...]) -> tuple[RelayPlan | None, str]:
    """The plan under a net control for those here, as `reach relays --only` makes it; why there is none."""
    if control not in here:
        return None, f"{control} has no radio path in this roster, so no relays can be planned around it."
    if len(here) < 2:
        return None, "Nobody else is on the air yet."
    gone = {station.call_sign for station in tonight.net.stations} - set(here)
    simplex = without_stations(tonight.survey.simplex, gone)
    try:
        if isinstance(tonight.on, Channel):
            return plan_relays(simplex, tonight.rules, control=control), ""
        hubs = tuple(
            replace(
                hub,
                net=simplex.net,
                members=tuple(m for m in hub.members if m.call_sign in here),
                no_radio=(),
            )
            for hub in tonight.survey.repeaters
        )
        found = repeater_net(NetSurvey(simplex, hubs), tonight.on, tonight.rules, wished=control)
        return found.plan, ""
    except NoPlan as reason:
        return None, f"No plan: {reason}"
    except InputProblem as problem:
        return None, "; ".join(fault.problem for fault in problem.faults)


def _missing(tonight: EveningNet, control: str, here: tuple[str, ...], call: str, comes: float) -> Missing:
    if not tonight.net.station(call).has_radio_path:
        return Missing(call, comes, 1.0, linked=True)
    directly = _directly(tonight, control, call)
    if control not in here or directly >= tonight.rules.sure_from:
        return Missing(call, comes, directly)
    present = np.array([one in here for one in tonight.graph.call_signs])
    for relays, said in ((present & tonight.willing, True), (present, False)):
        relay, through = _way(tonight, control, call, relays)
        if through >= directly + tonight.rules.reroute_gain:
            return Missing(call, comes, directly, relay, through, said and tonight.relays_known)
    return Missing(call, comes, directly)


def _way(tonight: EveningNet, control: str, call: str, relays: BoolArray) -> tuple[str, float]:
    """The best relay into the net and the chance of the way; on a repeater the relay works it for us."""
    graph = tonight.graph
    at = graph.index(call)
    if isinstance(tonight.on, Channel):
        found = best_relay(graph, at, relays, control=graph.index(control))
        return ("", 0.0) if found is None else (graph.call_signs[found[0]], found[1])
    into = tonight.into_repeater
    ways = [
        (float(graph.pair_chance[at, k]) * into[one], one)
        for k, one in enumerate(graph.call_signs)
        if relays[k] and graph.two_way[at, k] and one in into and one != call
    ]
    chance, relay = max(ways, key=lambda way: way[0], default=(0.0, ""))
    return relay, chance


def _directly(tonight: EveningNet, control: str, call: str) -> float:
    if isinstance(tonight.on, Repeater):
        return tonight.into_repeater.get(call, 0.0)
    graph = tonight.graph
    if control not in graph.call_signs:
        return 0.0
    return float(graph.pair_chance[graph.index(control), graph.index(call)])

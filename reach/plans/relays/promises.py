"""Whether a relay plan keeps every promise it makes: checked link by link, without the optimiser."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import ReachGraph, reach_graph
from reach.plans.graph.routes import UNREACHED, relays_needed
from reach.plans.relays.plan import RelayPlan
from reach.plans.relays.rules import Chains, may_control, may_relay
from reach.plans.relays.standby import survivors


def plan_faults(plan: RelayPlan, network: SimplexNetwork) -> tuple[str, ...]:
    """Every promise of the plan that does not hold on this network, in plain words; empty for a good plan.

    Looked at: willingness and kind of control, relays and stand-bys; that every station on the air is in the
    plan exactly once; that every link of every way works both ways; chain lengths; loads; the tree; the
    numbers expected; and that any one missing relay loses no station that the ground could keep.
    """
    graph = reach_graph(network, plan.rules.threshold)
    faults = [
        *_wrong_people(plan, network, graph),
        *_wrong_lists(plan, graph),
        *_wrong_ways(plan, network, graph),
    ]
    return (*faults, *_wrong_numbers(plan, graph), *_lost_stations(plan, network, graph))


def _wrong_people(plan: RelayPlan, network: SimplexNetwork, graph: ReachGraph) -> list[str]:
    faults = []
    if not may_control(network, graph, plan.rules)[graph.index(plan.control)]:
        faults.append(f"{plan.control} is not willing to be net control")
    allowed = may_relay(network, graph, plan.rules)
    for call in (*plan.relay_calls, *(standby.call_sign for standby in plan.standbys)):
        if call == plan.control:
            faults.append(f"{call} is net control and a relay")
        if not allowed[graph.index(call)]:
            faults.append(f"{call} may not relay")
    return faults


def _wrong_lists(plan: RelayPlan, graph: ReachGraph) -> list[str]:
    listed = [
        plan.control,
        *plan.direct,
        *(station.call_sign for station in plan.relayed),
        *(out.call_sign for out in plan.left_out),
    ]
    return [] if sorted(listed) == list(graph.call_signs) else ["a station is missing or listed twice"]


def _wrong_ways(plan: RelayPlan, network: SimplexNetwork, graph: ReachGraph) -> list[str]:
    def works(one: str, other: str) -> bool:
        return bool(graph.two_way[graph.index(one), graph.index(other)])

    faults = [f"{call} does not work net control" for call in plan.direct if not works(call, plan.control)]
    allowed = may_relay(network, graph, plan.rules)
    allowed[graph.index(plan.control)] = False
    needed = relays_needed(
        graph.two_way, control=graph.index(plan.control), relays=allowed, limit=plan.rules.chain_limit
    )
    answers = {station.call_sign: station.via for station in plan.relayed} | {
        call: () for call in plan.direct
    }
    second_hands = set(plan.relay_calls) | {standby.call_sign for standby in plan.standbys}
    for station in plan.relayed:
        for what, via, hands in (
            ("first", station.via, set(plan.relay_calls)),
            ("second", station.second, second_hands),
        ):
            if not via:
                continue
            way = (station.call_sign, *via, plan.control)
            faults += [
                f"{a} and {b} do not work each other ({what} way)"
                for a, b in pairwise(way)
                if not works(a, b)
            ]
            faults += [f"{relay} is no relay of the plan" for relay in via if relay not in hands]
            if len(via) > plan.rules.chain_limit or len(set(way)) < len(way):
                faults.append(f"the {what} way of {station.call_sign} is too long or runs in a circle")
        if station.second and station.second[0] == station.via[0]:
            faults.append(f"{station.call_sign} has the same relay twice")
        if answers.get(station.via[0]) != station.via[1:]:
            faults.append(f"{station.via[0]} answers to another than {station.call_sign}'s way says")
        if plan.rules.chains is Chains.SHORTEST and len(station.via) != max(
            needed[graph.index(station.call_sign)], 1
        ):
            faults.append(f"{station.call_sign} goes through more relays than needed")
    faults += _wrong_reroutes(plan, graph, needed)
    faults += [
        f"{out.call_sign} could be reached"
        for out in plan.left_out
        if needed[graph.index(out.call_sign)] != UNREACHED
    ]
    return faults


def _wrong_reroutes(plan: RelayPlan, graph: ReachGraph, needed: NDArray[np.int64]) -> list[str]:
    """Of stations that net control works itself: one relay, clearly surer, and no relay among them."""
    faults = []
    at = graph.index(plan.control)
    for station in plan.relayed:
        place, call = graph.index(station.call_sign), station.call_sign
        directly = float(graph.pair_chance[at, place]) if needed[place] == 0 else 0.0
        if abs(station.direct_chance - directly) > 1e-9:
            faults.append(f"{call} is worked directly with another chance than listed")
        if needed[place] != 0:
            continue
        if len(station.via) != 1 or len(station.second) > 1:
            faults.append(f"{call}, worked directly, goes through more than one relay")
        if call in plan.relay_calls:
            faults.append(f"{call} is a relay that net control works, and answers to another")
        if directly >= plan.rules.sure_from:
            faults.append(f"{call} is sure enough directly")
        if station.chance < directly + plan.rules.reroute_gain - 1e-8:
            faults.append(f"{call} gains too little through {station.via[0]}")
    posts = {*plan.relay_calls, *(standby.call_sign for standby in plan.standbys)}
    weak = {call for call in plan.direct if graph.pair_chance[at, graph.index(call)] < plan.rules.sure_from}
    if weak != {station.call_sign for station in plan.weak}:
        faults.append("a weak station is missing, or a sure one is listed as weak")
    for found in plan.weak:
        place = graph.index(found.call_sign)
        hands = {call: graph.index(call) for call in posts - {found.call_sign}}
        helps = {
            call: float(graph.pair_chance[place, hand] * graph.pair_chance[at, hand])
            for call, hand in hands.items()
            if graph.two_way[place, hand] and graph.two_way[at, hand]
        }
        if abs(helps.get(found.ask, 0.0) - found.ask_chance) > 1e-9 or found.ask_chance < max(
            helps.values(), default=0.0
        ):
            faults.append(f"{found.call_sign} has another to ask who hears it better")
    return faults


def _wrong_numbers(plan: RelayPlan, graph: ReachGraph) -> list[str]:
    faults = []
    for duty in plan.relays:
        served = tuple(s.call_sign for s in plan.relayed if s.via[0] == duty.call_sign)
        if served != duty.serves:
            faults.append(f"{duty.call_sign} serves others than listed")
        if sum(duty.call_sign in s.via for s in plan.relayed) != duty.load:
            faults.append(f"the load of {duty.call_sign} is miscounted")
    at = graph.index(plan.control)
    heard = sum(float(graph.pair_chance[at, graph.index(call)]) for call in plan.direct)
    for station in plan.relayed:
        way = (station.call_sign, *station.via, plan.control)
        heard += float(np.prod([graph.pair_chance[graph.index(a), graph.index(b)] for a, b in pairwise(way)]))
    if abs(heard - plan.expected_heard) > 1e-6:
        faults.append(f"expects {plan.expected_heard:.3f} heard where its links give {heard:.3f}")
    return faults


def _lost_stations(plan: RelayPlan, network: SimplexNetwork, graph: ReachGraph) -> list[str]:
    control = graph.index(plan.control)
    allowed = may_relay(network, graph, plan.rules)
    allowed[control] = False
    posted = np.zeros(len(graph), dtype=bool)
    for call in (*plan.relay_calls, *(standby.call_sign for standby in plan.standbys)):
        posted[graph.index(call)] = True
    faults = []
    for call in plan.relay_calls:
        missing = graph.index(call)
        could = survivors(graph, control=control, relays=allowed, missing=missing, rules=plan.rules)
        does = survivors(graph, control=control, relays=posted, missing=missing, rules=plan.rules)
        for lost in np.flatnonzero(could & ~does):
            faults.append(f"without {call}, {graph.call_signs[lost]} is lost though a relay could keep it")
    return faults

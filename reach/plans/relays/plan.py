"""The relay plan: exactly the fewest willing stations through which net control works everyone it can.

The order of what is sought, each kept while the next is improved:
1. the fewest relays; 2. (only with Chains.FEWEST_RELAYS) the fewest passes from hand to hand;
3. the greatest expected number of stations heard; 4. the lightest load on the busiest relay (within
`RelayRules.expected_slack` of 3); 5. the strongest worst link; 6. call signs first in the alphabet.
Then the fewest stand-by relays, so that every station which can have a second way has one.

A chain is as long as the ground forces it to be. One relay more is taken in one case: a station that net
control works itself, but not for sure (`RelayRules.sure_from`), goes through one relay of the plan when that
makes it surer by `RelayRules.reroute_gain` at least. Relays answer to net control where it works them.

Each station, a relay too, answers to one relay or to net control, so the ways form a tree. Solved by HiGHS.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from reach.errors import NoPlan
from reach.links.network import SimplexNetwork
from reach.lists import named
from reach.plans.graph.reachability import BoolArray, ReachGraph, components, reach_graph
from reach.plans.graph.routes import best_relay, best_way, relays_needed
from reach.plans.optimiser.stages import StageProof
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.fewest import fewest_hearers, fewest_relays
from reach.plans.relays.first_ways import FirstWays, solve_first_ways
from reach.plans.relays.near_fix import LeftOut, SingleChange, left_out_stations, single_changes
from reach.plans.relays.rules import DEFAULT_RULES, RelayRules, may_control, relays_under, taken_out
from reach.plans.relays.standby import fewest_standbys

MOST_AWAY = 6  # call signs of who is away, in a sentence
_MOST_NAMED = 6  # stations the sentence names before it only counts them


@dataclass(frozen=True)
class RelayedStation:
    """One station whose traffic is passed on.

    via : relays of its first way, the one it works first; second : the same should via[0] be missing, ()
    without.
    chance, second_chance : of the whole way. weakest_db : spare of the weakest link of the first way, dB.
    direct_chance : of net control working it itself, which it can, but less surely; 0 where it cannot.
    """

    call_sign: str
    via: tuple[str, ...]
    chance: float
    weakest_db: float
    second: tuple[str, ...] = ()
    second_chance: float = 0.0
    direct_chance: float = 0.0


@dataclass(frozen=True)
class WeakStation:
    """A station called directly though net control does not hear it every time.

    chance : of working it directly. ask : the relay or stand-by to ask when it is not heard, '' where none
    works it; ask_chance : of that way by itself.
    """

    call_sign: str
    chance: float
    ask: str = ""
    ask_chance: float = 0.0


@dataclass(frozen=True)
class RelayDuty:
    """One relay of the plan.

    answers_to : net control or the relay nearer to it. serves : stations it works for net control, by call
    sign.
    load : stations whose traffic it passes, those behind other relays included.
    """

    call_sign: str
    answers_to: str
    serves: tuple[str, ...]
    load: int


@dataclass(frozen=True)
class Standby:
    """A willing station that steps in when a relay is missing; backs : for whom it is the second relay."""

    call_sign: str
    backs: tuple[str, ...]


@dataclass(frozen=True)
class RelayPlan:
    """Who controls, who relays for whom, and who stays out.

    relays : by call sign; standbys : second relays that are no first relay for anyone.
    direct : stations net control calls itself. relayed : all others it reaches, those it could work itself
    but reaches more surely through a relay (`surer`) among them. weak : those of `direct` that are less
    sure than `RelayRules.sure_from`. direct_chances : of `direct`, in its order.
    expected_direct : expected number of stations heard without relays; expected_heard : on the first way.
    expected_best : upper end, the most that any choice of so few relays could give.
    proofs : one a stage of the optimiser. changes : single changes that would bring everyone in, best first.
    """

    control: str
    relays: tuple[RelayDuty, ...]
    standbys: tuple[Standby, ...]
    direct: tuple[str, ...]
    relayed: tuple[RelayedStation, ...]
    left_out: tuple[LeftOut, ...]
    no_radio: tuple[str, ...]
    expected_direct: float
    expected_heard: float
    proofs: tuple[StageProof, ...]
    changes: tuple[SingleChange, ...]
    rules: RelayRules
    warnings: tuple[str, ...] = ()
    weak: tuple[WeakStation, ...] = ()
    direct_chances: tuple[float, ...] = ()

    @property
    def surer(self) -> tuple[str, ...]:
        """Stations that net control works itself, yet more surely through a relay."""
        return tuple(station.call_sign for station in self.relayed if station.direct_chance > 0.0)

    @property
    def worked(self) -> int:
        """Stations that net control works itself, whether or not they go through a relay."""
        return len(self.direct) + len(self.surer)

    @property
    def reached(self) -> int:
        """Stations that net control works, directly or through relays, itself not counted."""
        return len(self.direct) + len(self.relayed)

    @property
    def on_air(self) -> int:
        """Stations with a radio path besides net control."""
        return self.reached + len(self.left_out)

    @property
    def proven(self) -> bool:
        """Whether every stage was proven best; those between plans equal in everything else do not count."""
        return all(proof.proven for proof in self.proofs if not proof.is_tie_break)

    @property
    def relay_calls(self) -> tuple[str, ...]:
        """Call signs of the relays."""
        return tuple(duty.call_sign for duty in self.relays)

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        start = f"{self.control} as net control works {self.worked} of {self.on_air} directly"
        if self.relays:
            who = _listed(self.relay_calls)
            more = self.reached - self.worked
            start += f" and {more} more through {_count(len(self.relays), 'relay')} ({who})"
        if self.surer:
            verb = "is" if len(self.surer) == 1 else "are"
            who = _listed(self.surer) if len(self.surer) <= _MOST_NAMED else f"{len(self.surer)} of them"
            start += f"; {who} {verb} surer through a relay"
        if self.left_out:
            verb = "is" if len(self.left_out) == 1 else "are"
            return f"{start}; {_listed([out.call_sign for out in self.left_out])} {verb} left out."
        return f"{start}; nobody is left out."


def plan_relays(network: SimplexNetwork, rules: RelayRules = DEFAULT_RULES, *, control: str) -> RelayPlan:
    """Exact relay plan for a given net control.

    Raises : KeyError for a call sign that is not in the net; NoPlan when it has no radio path, is alone, not
    willing, or reaches no more than `rules.reach_at_least` of the others, with the single change that would
    bring them in.
    """
    graph = reach_graph(network, rules.threshold)
    if len(graph) < 2:
        raise too_few(graph, network.net.away)
    if control.upper() in graph.no_radio:
        raise NoPlan(
            f"{control.upper()} has no radio path (it is linked over the internet), so it cannot be net"
            " control on simplex; choose another."
        )
    at = graph.index(control)
    control = graph.call_signs[at]
    if not may_control(network, graph, rules)[at]:
        raise NoPlan(f"{control} is not willing to be net control; say so in the roster, or choose another.")
    relays = relays_under(network, graph, rules, control=at)
    needed = relays_needed(graph.two_way, control=at, relays=relays, limit=rules.chain_limit)
    left_out = left_out_stations(graph, needed, relays=relays, control=at, limit=rules.chain_limit)
    changes = single_changes(network, graph, rules, control=at) if left_out else ()
    if len(graph) - 1 - len(left_out) <= rules.reach_at_least * (len(graph) - 1):
        raise NoPlan(_no_plan_text(network, graph, rules, control, left_out, changes))
    budget = TimeBudget(rules.time_limit_s)
    fewest = fewest_relays(graph, needed, control=at, relays=relays, rules=rules, budget=budget)
    ways = solve_first_ways(
        graph, needed, control=at, relays=relays, rules=rules, cover=fewest, budget=budget
    )
    standby, standby_proofs = fewest_standbys(
        graph, ways, control=at, relays=relays, rules=rules, budget=budget
    )
    proofs = (fewest.proof, *ways.proofs, *standby_proofs)
    return _plan(
        graph,
        ways,
        needed == 0,
        standby,
        control=at,
        rules=rules,
        proofs=proofs,
        left_out=left_out,
        changes=changes,
    )


def too_few(graph: ReachGraph, away: Sequence[str] = ()) -> NoPlan:
    """What to say when fewer than two stations are on the air. away : members left out for tonight."""
    who = f"only one station ({graph.call_signs[0]})" if len(graph) else "no station"
    if away:
        return NoPlan(
            f"without {named(away, most=MOST_AWAY)} {who} has a radio path; a net needs two. Leave fewer "
            "members out."
        )
    return NoPlan(f"{who} has a radio path; a net needs two. Add stations to the roster.")


def _plan(
    graph: ReachGraph, ways: FirstWays, direct: BoolArray, standby: tuple[int, ...], *, control: int,
    rules: RelayRules, proofs: tuple[StageProof, ...], left_out: tuple[LeftOut, ...],
    changes: tuple[SingleChange, ...],
) -> RelayPlan:  # fmt: skip
    names = graph.call_signs
    posted = np.zeros(len(graph), dtype=bool)
    posted[[*ways.relays, *standby]] = True
    relayed = []
    backs: dict[int, list[str]] = {s: [] for s in standby}
    for station in sorted(ways.via):
        via = ways.via[station]
        without = taken_out(posted, via[0])
        if direct[station]:
            second = _surer_way(graph, station, without, control=control, gain=rules.reroute_gain)
        else:
            second = best_way(graph, station, control=control, relays=without, limit=rules.chain_limit)
        way = (station, *via, control)
        for relay in second[0] if second else ():
            if relay in backs:
                backs[relay].append(names[station])
        relayed.append(
            RelayedStation(
                call_sign=names[station],
                via=tuple(names[r] for r in via),
                chance=float(np.prod([graph.pair_chance[a, b] for a, b in itertools.pairwise(way)])),
                weakest_db=float(min(graph.pair_spare_db[a, b] for a, b in itertools.pairwise(way))),
                second=tuple(names[r] for r in second[0]) if second else (),
                second_chance=second[1] if second else 0.0,
                direct_chance=float(graph.pair_chance[station, control]) if direct[station] else 0.0,
            )
        )
    called = [int(i) for i in np.flatnonzero(direct) if i != control and i not in ways.via]
    frail = [i for i in called if graph.pair_chance[control, i] < rules.sure_from]
    weak = tuple(_weak_station(graph, i, posted, control=control) for i in frail)
    for asking in weak:
        if asking.ask and graph.index(asking.ask) in backs:
            backs[graph.index(asking.ask)].append(asking.call_sign)
    expected_direct = float(graph.pair_chance[control][direct].sum())
    expected_heard = float(graph.pair_chance[control][called].sum()) + sum(s.chance for s in relayed)
    duties = tuple(
        RelayDuty(
            call_sign=names[relay],
            answers_to=names[ways.via[relay][0]] if relay in ways.via else names[control],
            serves=tuple(names[s] for s in sorted(ways.via) if ways.via[s][0] == relay),
            load=sum(relay in via for via in ways.via.values()),
        )
        for relay in ways.relays
    )
    return RelayPlan(
        control=names[control],
        relays=duties,
        standbys=tuple(Standby(names[s], tuple(sorted(backs[s]))) for s in standby),
        direct=tuple(names[i] for i in called),
        relayed=tuple(relayed),
        left_out=left_out,
        no_radio=graph.no_radio,
        expected_direct=expected_direct,
        expected_heard=expected_heard,
        proofs=proofs,
        changes=changes,
        rules=rules,
        weak=weak,
        direct_chances=tuple(float(graph.pair_chance[control, i]) for i in called),
    )


def _surer_way(
    graph: ReachGraph, station: int, posted: BoolArray, *, control: int, gain: float
) -> tuple[tuple[int, ...], float] | None:
    """Another one relay through which a station is clearly surer than worked directly."""
    way = best_relay(graph, station, posted, control=control)
    if way is None or way[1] < float(graph.pair_chance[station, control]) + gain:
        return None
    return (way[0],), way[1]


def _weak_station(graph: ReachGraph, station: int, posted: BoolArray, *, control: int) -> WeakStation:
    way = best_relay(graph, station, posted, control=control)
    ask, ask_chance = (graph.call_signs[way[0]], way[1]) if way else ("", 0.0)
    chance = float(graph.pair_chance[station, control])
    return WeakStation(graph.call_signs[station], chance, ask, ask_chance)


def _no_plan_text(
    network: SimplexNetwork,
    graph: ReachGraph,
    rules: RelayRules,
    control: str,
    left_out: tuple[LeftOut, ...],
    changes: tuple[SingleChange, ...],
) -> str:
    others = len(graph) - 1
    text = [
        f"no relay plan: {control} as net control reaches only {others - len(left_out)}"
        f" of the {others} other stations"
    ]
    parts = [group for group in components(graph) if len(group) > 1]
    if len(parts) > 1:
        halves = " and ".join("(" + ", ".join(group) + ")" for group in parts)
        text.append(f"; the net falls into parts that cannot work each other: {halves}")
    elif not relays_under(network, graph, rules, control=graph.index(control)).any():
        text.append("; nobody else is willing (and allowed) to relay")
    text.append(". ")
    if changes:
        what = "bring everyone in" if changes[0].all_in else "help most"
        text.append(f"One change would {what}: " + "; or ".join(change.words for change in changes) + ".")
    else:
        text.append("No single change would bring anyone in.")
        misses = [out.near_miss for out in left_out if out.near_miss]
        if misses:
            text.append(f" Nearest: {min(misses, key=lambda miss: miss.missing_db).words}.")
    hearers = fewest_hearers(graph, candidates=may_control(network, graph, rules), rules=rules)
    if hearers is not None and len(hearers.relays) > 1:
        calls = _listed([graph.call_signs[c] for c in hearers.relays])
        text.append(f" Without relays, separate nets under {calls} would between them work everyone.")
    return "".join(text)


def _listed(calls: tuple[str, ...] | list[str]) -> str:
    return ", ".join(calls)


def _count(number: int, noun: str) -> str:
    return f"{number} {noun}" + ("" if number == 1 else "s")

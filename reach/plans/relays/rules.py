"""What a relay plan may and may not do: one frozen record, and which stations it allows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from reach.errors import OutOfRange
from reach.inputs.bands import works_on
from reach.inputs.planning import LONGEST_CHAIN, PlanningRules
from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import (
    WORKABLE_BOTH_WAYS,
    BoolArray,
    ChanceThreshold,
    ReachGraph,
    ReadabilityThreshold,
    Threshold,
)
from reach.stations import Category, Station, runs_without_mains


class Chains(Enum):
    """How far the length of a relay chain counts against the number of relays."""

    SHORTEST = "shortest"  # nobody goes through more relays than the ground forces on that station
    FEWEST_RELAYS = "fewest_relays"  # a longer chain (within the limit) is taken when it saves a relay


@dataclass(frozen=True)
class RelayRules:
    """Rules of a relay plan.

    threshold : when a direction counts.
    chain_limit : most relays between a station and net control, 0 (none) to 3.
    chains : whether chains stay as short as the ground allows, or may grow to save a relay.
    allow_battery : stations with a battery or other backup may relay (no: only those on the mains alone).
    allow_mobile, allow_portable : willing mobiles, willing handhelds and portables may relay.
    control_candidates : call signs that may be net control; empty for everyone willing.
    expected_slack : how much of the expected number of stations heard may be given up to even the load,
    stations.
    reach_at_least : a plan reaching no more than this share of the other stations is no plan, 0 to 1.
    sure_from : chance from which a station that net control works itself is sure enough, 0 to 1. It stays
        direct and needs no second way (own choice).
    reroute_gain : one less sure is passed on through a relay of the plan when that raises its chance by at
        least this much, 0 to 1. Smaller gains are not worth it: every word passed on is said twice and takes
        air time (own choice).
    time_limit_s : time of the optimiser for a whole plan, and a quarter as much for ranking net controls;
        past it the gap is stated.
    """

    threshold: Threshold = WORKABLE_BOTH_WAYS
    chain_limit: int = 2
    chains: Chains = Chains.SHORTEST
    allow_battery: bool = True
    allow_mobile: bool = False
    allow_portable: bool = False
    expected_slack: float = 0.1
    reach_at_least: float = 0.5
    sure_from: float = 0.8
    reroute_gain: float = 0.05
    time_limit_s: float = 5.0
    control_candidates: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not 0 <= self.chain_limit <= LONGEST_CHAIN:
            raise ValueError(
                f"a chain limit lies between 0 and {LONGEST_CHAIN} relays, not {self.chain_limit}"
            )
        if not 0.0 <= self.reach_at_least < 1.0:
            raise ValueError(f"reach_at_least lies between 0 and 1, not {self.reach_at_least}")
        if not self.expected_slack >= 0.0:
            raise ValueError(f"expected_slack is never negative, not {self.expected_slack}")
        if not 0.0 < self.reroute_gain <= 1.0:
            raise ValueError(f"reroute_gain lies above 0 and up to 1, not {self.reroute_gain}")


DEFAULT_RULES = RelayRules()


def rules_of(planning: PlanningRules) -> RelayRules:
    """The rules of a net folder as a plan needs them. Chains are planned up to LONGEST_CHAIN relays.

    Raises : OutOfRange for a readability threshold of R1, which nothing fails.
    """
    threshold: Threshold
    if planning.relay_chance is not None:
        threshold = ChanceThreshold(min(planning.relay_chance, 0.9999))
    elif planning.relay_readability < 2:
        raise OutOfRange("relay_readability R1 would count links on which nothing is heard; write R2 to R5.")
    else:
        threshold = ReadabilityThreshold(planning.relay_readability)
    return RelayRules(
        threshold=threshold,
        chain_limit=min(planning.most_relays_in_a_row, LONGEST_CHAIN),
        allow_battery=planning.battery_relays,
        allow_mobile=planning.mobile_relays,
        allow_portable=planning.portable_relays,
        control_candidates=planning.control_candidates,
    )


def relays_under(network: SimplexNetwork, graph: ReachGraph, rules: RelayRules, *, control: int) -> BoolArray:
    """(n,) in the graph's order: who may relay for that net control, which never relays for itself."""
    return taken_out(may_relay(network, graph, rules), control)


def taken_out(stations: BoolArray, *out: int) -> BoolArray:
    """A copy of a choice of stations (n,) without some of them."""
    left = stations.copy()
    left[list(out)] = False
    return left


def may_relay(network: SimplexNetwork, graph: ReachGraph, rules: RelayRules) -> BoolArray:
    """(n,) in the graph's order: willing to relay, and of a kind the rules allow."""
    stations = [network.net.station(call) for call in graph.call_signs]
    return np.array(
        [
            s.willing_relay and kind_allowed(s, rules) and works_on(s, network.channel.frequency_mhz)
            for s in stations
        ],
        dtype=bool,
    )


def kind_allowed(station: Station, rules: RelayRules) -> bool:
    """Whether the rules let a station like this relay at all."""
    if runs_without_mains(station) and not rules.allow_battery:
        return False
    if station.category is Category.MOBILE:
        return rules.allow_mobile
    if station.category is Category.PORTABLE:
        return rules.allow_portable
    return station.category is Category.BASE


def may_control(network: SimplexNetwork, graph: ReachGraph, rules: RelayRules) -> BoolArray:
    """(n,) in the graph's order: willing to be net control and, where the rules name candidates, one of
    them."""
    named = {call.upper() for call in rules.control_candidates}
    stations = [network.net.station(call) for call in graph.call_signs]
    willing = [s.willing_control and (not named or s.call_sign in named) for s in stations]
    return np.array(willing, dtype=bool) & could_control(network, graph)


def could_control(network: SimplexNetwork, graph: ReachGraph) -> BoolArray:
    """(n,) in the graph's order: has a radio for the channel, so could be net control if it agreed."""
    stations = [network.net.station(call) for call in graph.call_signs]
    return np.array([works_on(s, network.channel.frequency_mhz) for s in stations], dtype=bool)

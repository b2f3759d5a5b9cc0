"""What a relay plan may and may not do: one frozen record, and which stations it allows."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np

from reach.links.network import SimplexNetwork
from reach.plans.reachability import BoolArray, ReachGraph, ReadabilityThreshold, Threshold
from reach.stations import Category


class Chains(Enum):
    """How far the length of a relay chain counts against the number of relays."""

    SHORTEST = "shortest"  # nobody goes through more relays than the ground forces on that station
    FEWEST_RELAYS = "fewest_relays"  # a longer chain (within the limit) is taken when it saves a relay


@dataclass(frozen=True)
class RelayRules:
    """Rules of a relay plan.

    threshold : when a direction counts.
    chain_limit : most relays between a station and net control, 1 to 3.
    chains : whether chains stay as short as the ground allows, or may grow to save a relay.
    allow_mobile, allow_portable : willing mobiles, willing handheld and portable (battery) stations may relay.
    expected_slack : how much of the expected number of stations heard may be given up to even the load, stations.
    reach_at_least : a plan reaching no more than this share of the other stations is no plan, 0 to 1.
    time_limit_s : most time for one stage of the optimiser; past it the gap is stated.
    """

    threshold: Threshold = ReadabilityThreshold()  # noqa: RUF009
    chain_limit: int = 2
    chains: Chains = Chains.SHORTEST
    allow_mobile: bool = False
    allow_portable: bool = False
    expected_slack: float = 0.1
    reach_at_least: float = 0.5
    time_limit_s: float = 2.0

    def __post_init__(self) -> None:
        if not 1 <= self.chain_limit <= 3:
            raise ValueError(f"a chain limit lies between 1 and 3 relays, not {self.chain_limit}")
        if not 0.0 <= self.reach_at_least < 1.0:
            raise ValueError(f"reach_at_least lies between 0 and 1, not {self.reach_at_least}")
        if not self.expected_slack >= 0.0:
            raise ValueError(f"expected_slack is never negative, not {self.expected_slack}")


def may_relay(network: SimplexNetwork, graph: ReachGraph, rules: RelayRules) -> BoolArray:
    """(n,) in the graph's order: willing to relay, and of a kind the rules allow."""
    stations = [network.net.station(call) for call in graph.call_signs]
    return np.array(
        [station.willing_relay and kind_allowed(station.category, rules) for station in stations], dtype=bool
    )


def kind_allowed(category: Category, rules: RelayRules) -> bool:
    """Whether the rules let a station of this category relay at all."""
    if category is Category.MOBILE:
        return rules.allow_mobile
    if category is Category.PORTABLE:
        return rules.allow_portable
    return category is Category.BASE


def may_control(network: SimplexNetwork, graph: ReachGraph) -> BoolArray:
    """(n,) in the graph's order: willing to be net control."""
    return np.array([network.net.station(call).willing_control for call in graph.call_signs], dtype=bool)

"""Who stays out of a plan, how near each comes, and the one change that would bring them in."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.inputs.planning import LONGEST_CHAIN
from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import BoolArray, NearMiss, ReachGraph, near_miss, reach_graph
from reach.plans.graph.routes import UNREACHED, relays_needed
from reach.plans.relays.rules import RelayRules, kind_allowed, relays_under
from reach.stations import Category


@dataclass(frozen=True)
class LeftOut:
    """A station on the air that no allowed way reaches.

    near_miss : its closest failed link to net control or to a relay that could take it; None without any
    path.
    works : stations it does work (none of which may or can pass its traffic on); hears : whom it only hears.
    """

    call_sign: str
    near_miss: NearMiss | None
    works: tuple[str, ...] = ()
    hears: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """One sentence: how near it comes, whom it works or hears."""
        text = (
            self.near_miss.words
            if self.near_miss
            else f"{self.call_sign} has no path to net control or a relay"
        )
        if self.works:
            text += f"; it works {', '.join(self.works)}"
        if self.hears:
            text += f"; it hears {', '.join(self.hears)}"
        return text + "."


MOST_GAIN_DB = 20.0  # more than a member can gain by antenna, height and power is no advice (own choice)


class ChangeKind(Enum):
    """What a single change does."""

    WILLING = "willing"  # a station offers to relay
    LONGER_CHAIN = "longer_chain"  # the chain limit goes up
    GAIN = "gain"  # a station's antenna gives more, both directions


@dataclass(frozen=True)
class SingleChange:
    """One change and whom it brings in. gain_db : for ChangeKind.GAIN only, else 0; call_sign : '' for a
    limit.

    all_in : nobody is left out after it.
    """

    kind: ChangeKind
    call_sign: str
    gain_db: float
    brings_in: tuple[str, ...]
    all_in: bool
    words: str


def left_out_stations(
    graph: ReachGraph, needed: NDArray[np.int64], *, relays: BoolArray, control: int, limit: int
) -> tuple[LeftOut, ...]:
    """Stations with needed == UNREACHED, by call sign."""
    servers = relays & (needed != UNREACHED) & (needed < limit)
    servers[control] = True
    one_way = graph.hears & ~graph.hears.T

    def names(mask: BoolArray) -> tuple[str, ...]:
        return tuple(graph.call_signs[k] for k in np.flatnonzero(mask))

    return tuple(
        LeftOut(
            call_sign=graph.call_signs[v],
            near_miss=near_miss(graph, int(v), servers),
            works=names(graph.two_way[v]),
            hears=names(one_way[:, v]),
        )
        for v in np.flatnonzero(needed == UNREACHED)
    )


def single_changes(
    network: SimplexNetwork, graph: ReachGraph, rules: RelayRules, *, control: int
) -> tuple[SingleChange, ...]:
    """The best change of each kind that brings everyone in; failing all, the one that brings in most (or
    none).

    Of willing stations the one of a kind the rules allow comes first, then by call sign; of gains the
    smallest.
    """
    relays = relays_under(network, graph, rules, control=control)
    before = _reached(graph.two_way, control, relays, rules.chain_limit)
    found = [
        *_more_willing(network, graph, rules, control=control, relays=relays, before=before),
        *_longer_chain(graph, rules, control=control, relays=relays, before=before),
        *_more_gain(network, graph, rules, control=control, relays=relays, before=before),
    ]
    whole = [change for change in found if change.all_in]
    if whole:
        best = {change.kind: change for change in reversed(whole)}
        return tuple(best[kind] for kind in ChangeKind if kind in best)
    return tuple(sorted(found, key=lambda change: -len(change.brings_in))[:1])  # stable: kinds in order


def reached_from(network: SimplexNetwork, rules: RelayRules, *, control: str) -> frozenset[str]:
    """Stations that an allowed way leads to from a net control, itself among them."""
    graph = reach_graph(network, rules.threshold)
    at = graph.index(control)
    relays = relays_under(network, graph, rules, control=at)
    reached = _reached(graph.two_way, at, relays, rules.chain_limit)
    return frozenset(graph.call_signs[k] for k in np.flatnonzero(reached))


def _reached(two_way: BoolArray, control: int, relays: BoolArray, limit: int) -> BoolArray:
    return np.asarray(relays_needed(two_way, control=control, relays=relays, limit=limit) != UNREACHED)


def _brought(graph: ReachGraph, before: BoolArray, after: BoolArray) -> tuple[str, ...]:
    return tuple(graph.call_signs[k] for k in np.flatnonzero(after & ~before))


def _more_willing(
    network: SimplexNetwork, graph: ReachGraph, rules: RelayRules, *,
    control: int, relays: BoolArray, before: BoolArray,
) -> list[SingleChange]:  # fmt: skip
    changes = []
    for station in np.flatnonzero(~relays & before):
        call = graph.call_signs[station]
        member = network.net.station(call)
        if station == control:
            continue
        with_it = relays.copy()
        with_it[station] = True
        after = _reached(graph.two_way, control, with_it, rules.chain_limit)
        brought = _brought(graph, before, after)
        if brought:
            allowed = kind_allowed(member, rules)
            what = (
                "were willing to relay"
                if allowed
                else f"({member.category.value}) were allowed and willing to relay"
            )
            change = SingleChange(
                ChangeKind.WILLING,
                call,
                0.0,
                brought,
                bool(after.all()),
                f"if {call} {what}, {_come(brought)} in",
            )
            changes.append((not allowed, -len(brought), change))
    return [change for *_, change in sorted(changes, key=lambda item: (item[0], item[1], item[2].call_sign))]


def _longer_chain(
    graph: ReachGraph, rules: RelayRules, *, control: int, relays: BoolArray, before: BoolArray
) -> list[SingleChange]:
    for limit in range(rules.chain_limit + 1, LONGEST_CHAIN + 1):
        after = _reached(graph.two_way, control, relays, limit)
        brought = _brought(graph, before, after)
        if brought and (after.all() or limit == LONGEST_CHAIN):
            words = f"with chains of up to {limit} relays, {_come(brought)} in"
            return [SingleChange(ChangeKind.LONGER_CHAIN, "", 0.0, brought, bool(after.all()), words)]
    return []


def _more_gain(
    network: SimplexNetwork, graph: ReachGraph, rules: RelayRules, *,
    control: int, relays: BoolArray, before: BoolArray,
) -> list[SingleChange]:  # fmt: skip
    """Each station in turn: the least gain at it (it counts in both directions) that brings in the most."""
    changes = []
    for station in range(len(graph)):
        row = graph.pair_spare_db[station]
        steps = np.unique(-row[np.isfinite(row) & (row < 0.0) & (row >= -MOST_GAIN_DB)])
        if not len(steps):
            continue
        most = _with_gain(graph, station, float(steps[-1]), control, relays, rules)
        brought = _brought(graph, before, most)
        if not brought:
            continue
        low, high = 0, len(steps) - 1  # more gain never reaches fewer
        while low < high:
            middle = (low + high) // 2
            if _with_gain(graph, station, float(steps[middle]), control, relays, rules).sum() == most.sum():
                high = middle
            else:
                low = middle + 1
        changes.append((not most.all(), float(steps[low]), station, brought))
    changes.sort(key=lambda item: (item[0], item[1] if not item[0] else -len(item[3]), item[1], item[2]))
    return [
        SingleChange(
            ChangeKind.GAIN, graph.call_signs[station], gain_db, brought, not partly,
            f"with {gain_db:.1f} dB more at {graph.call_signs[station]}"
            f" ({_how(network, graph.call_signs[station], gain_db)}; try it as a what-if),"
            f" {_come(brought)} in",
        )
        for partly, gain_db, station, brought in changes[:1]
    ]  # fmt: skip


def _with_gain(
    graph: ReachGraph, station: int, gain_db: float, control: int, relays: BoolArray, rules: RelayRules
) -> BoolArray:
    two_way = graph.two_way.copy()
    gained = graph.pair_spare_db[station] + gain_db >= -1e-9  # NaN stays out
    two_way[station] |= gained
    two_way[:, station] |= gained
    return _reached(two_way, control, relays, rules.chain_limit)


def _how(network: SimplexNetwork, call_sign: str, gain_db: float) -> str:
    """What a person does for so much more, both ways: for a base a higher antenna, 6 dB for twice the height
    over flat ground (two-ray plane earth); for the others the place comes first (common practice, no source).
    """
    member = network.net.station(call_sign)
    if member.category is not Category.BASE:
        return "from higher or more open ground, or with a better antenna"
    if gain_db > 12.0:
        return "with a beam, or from another place"
    height_m = member.antenna.height_m
    more_m = height_m * (10.0 ** (gain_db / 20.0) - 1.0)
    return f"over flat ground about its antenna {max(more_m, 1.0):.0f} m higher than {height_m:.0f} m"


def _come(brought: tuple[str, ...]) -> str:
    return f"{', '.join(brought)} {'comes' if len(brought) == 1 else 'come'}"

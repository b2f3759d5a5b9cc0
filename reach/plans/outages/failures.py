"""What is gone and what is left: outages, and every link of a net over its simplex channel and its repeaters.

A net that has lost something goes on around a hub: a repeater that still works, which every station that
gets in hears, or on simplex a station as net control. Whoever does not work the hub is brought in by
relays, on simplex or over another repeater; so each pair of stations counts on its better way. The hub
stands in the network as one more station, so that the same relay plan serves both kinds.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.notes import Note, once
from reach.plans.graph.reachability import ReachGraph, Threshold, reach_graph
from reach.plans.relays.rules import RelayRules
from reach.stations import Category, Net, Repeater, Station, runs_without_mains

FloatArray = NDArray[np.float64]
Figure = TypeVar("Figure", bound=np.generic)

ON_SIMPLEX = ""  # the medium of a pair that works over no repeater


class Mains(Enum):
    """Whether the public supply is there; `value` is how it is said."""

    ON = "mains on"
    LOST = "mains lost"


@dataclass(frozen=True)
class Outage:
    """What is lost.

    repeaters : call signs of repeaters that failed by themselves. stations : members who are not there.
    mains : lost, it takes everyone and every repeater without backup power off the air.
    """

    repeaters: frozenset[str] = frozenset()
    stations: frozenset[str] = frozenset()
    mains: Mains = Mains.ON

    @property
    def words(self) -> str:
        """'QK3RA down, mains lost, QK3ABC absent', or 'Nothing lost'."""
        parts = [f"{', '.join(sorted(self.repeaters))} down"] if self.repeaters else []
        parts += [self.mains.value] if self.mains is Mains.LOST else []
        parts += [f"{', '.join(sorted(self.stations))} absent"] if self.stations else []
        text = ", ".join(parts) or "nothing lost"
        return text[0].upper() + text[1:]


@dataclass(frozen=True)
class NetSurvey:
    """A net surveyed once: its simplex channel and all its repeaters, in the order of the net."""

    simplex: SimplexNetwork
    repeaters: tuple[RepeaterNetwork, ...] = ()

    @cached_property
    def _joined(self) -> dict[tuple[tuple[str, ...], str, Threshold], JoinedNetwork]:
        """All members joined over some repeaters, round a hub: what an outage leaves is part of it."""
        return {}

    def joined_whole(self, repeaters: tuple[str, ...], hub: str, threshold: Threshold) -> JoinedNetwork:
        """As `joined` with no member gone; made once."""
        key = (repeaters, hub, threshold)
        if key not in self._joined:
            self._joined[key] = _joined_whole(self, *key)
        return self._joined[key]

    @property
    def net(self) -> Net:
        """The net's record."""
        return self.simplex.net

    @property
    def call_signs(self) -> tuple[str, ...]:
        """Members with a radio path, by call sign."""
        return tuple(sorted(s.call_sign for s in self.net.stations if s.has_radio_path))

    @property
    def warnings(self) -> tuple[Note, ...]:
        """What to beware of in any of the surveys, each said once."""
        each = (self.simplex.warnings, *(network.warnings for network in self.repeaters))
        return once(*each)

    def repeater(self, call_sign: str) -> RepeaterNetwork:
        """The survey of one repeater; KeyError when there is none."""
        for network in self.repeaters:
            if network.repeater.call_sign == call_sign:
                return network
        raise KeyError(call_sign)


@dataclass(frozen=True)
class Standing:
    """Who is still there under an outage, by call sign; repeaters in the order of the net.

    members, repeaters : on the air. dark : members off the air for want of power; dark_repeaters likewise.
    absent : members who are not there. linked : members on the internet only, never on the air.
    """

    members: tuple[str, ...]
    repeaters: tuple[str, ...]
    dark: tuple[str, ...]
    dark_repeaters: tuple[str, ...]
    absent: tuple[str, ...]
    linked: tuple[str, ...]


def standing(survey: NetSurvey, outage: Outage) -> Standing:
    """Who is left. Raises : KeyError for a call sign the net does not know."""
    known = {s.call_sign for s in survey.net.stations}
    hubs = {n.repeater.call_sign for n in survey.repeaters}
    for call in sorted((outage.stations - known) | (outage.repeaters - hubs)):
        raise KeyError(call)
    radio = {s.call_sign: s for s in survey.net.stations if s.has_radio_path}
    there = [call for call in sorted(radio) if call not in outage.stations]
    up = [n.repeater for n in survey.repeaters if n.repeater.call_sign not in outage.repeaters]

    def powered(who: Station | Repeater) -> bool:
        return outage.mains is Mains.ON or runs_without_mains(who)

    return Standing(
        members=tuple(call for call in there if powered(radio[call])),
        repeaters=tuple(r.call_sign for r in up if powered(r)),
        dark=tuple(call for call in there if not powered(radio[call])),
        dark_repeaters=tuple(r.call_sign for r in up if not powered(r)),
        absent=tuple(sorted(outage.stations & set(radio))),
        linked=tuple(sorted(known - set(radio))),
    )


def without_stations(network: SimplexNetwork, gone: Collection[str]) -> SimplexNetwork:
    """The same survey without some stations; the rest keep their order and figures."""
    keep = [k for k, call in enumerate(network.call_signs) if call not in gone]

    def part(values: NDArray[Figure]) -> NDArray[Figure]:
        return values.take(keep, axis=0).take(keep, axis=1)  # a third of the time of picking both at once

    def matrix(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else part(values)

    def vector(values: FloatArray | None) -> FloatArray | None:
        return None if values is None else values[keep]

    net = network.net
    return replace(
        network,
        net=replace(net, stations=tuple(s for s in net.stations if s.call_sign not in gone)),
        call_signs=tuple(network.call_signs[k] for k in keep),
        distance_m=part(network.distance_m),
        bearing_deg=part(network.bearing_deg),
        path_loss_db=part(network.path_loss_db),
        received_dbm=part(network.received_dbm),
        margin_db=part(network.margin_db),
        chance=part(network.chance),
        sigma_db=part(network.sigma_db),
        line_of_sight=part(network.line_of_sight),
        fresnel_clearance=part(network.fresnel_clearance),
        required_dbm=matrix(network.required_dbm),
        path_sigma_db=matrix(network.path_sigma_db),
        station_sigma_db=vector(network.station_sigma_db),
        receive_sigma_db=vector(network.receive_sigma_db),
        time_sigma_db=matrix(network.time_sigma_db),
        land_loss_db=matrix(network.land_loss_db),
        path_kind=None if network.path_kind is None else part(network.path_kind),
        models_apart_db=matrix(network.models_apart_db),
        pair_chance=part(network.chance_both_ways),
        elevation_deg=matrix(network.elevation_deg),
        effective_height_m=matrix(network.effective_height_m),
        lasting=None if network.lasting is None else network.lasting.of(np.array(keep)),
    )


@dataclass(frozen=True)
class JoinedNetwork:
    """All that is left of a net as one network, each pair on its better way.

    network : in place of the survey; with a hub the repeater is one more station, willing to be net control.
    hub : call sign of that repeater, '' on simplex. threshold : from which a pair counts.
    medium : (n, n) call sign of the repeater a pair works over, ON_SIMPLEX otherwise, in the network's order.
    """

    network: SimplexNetwork
    hub: str
    threshold: Threshold
    medium: NDArray[np.object_]

    def way(self, one: str, other: str) -> str:
        """The repeater two stations work over, or ON_SIMPLEX."""
        return str(self.medium[self.network.index(one), self.network.index(other)])

    @cached_property
    def graph(self) -> ReachGraph:
        """Who works whom in it."""
        return reach_graph(self.network, self.threshold)

    def of(self, members: Collection[str]) -> JoinedNetwork:
        """The same with only these members left; the hub stays."""
        stay = {*members, self.hub}
        gone = [call for call in self.network.call_signs if call not in stay]
        if not gone:
            return self
        keep = np.flatnonzero([call in stay for call in self.network.call_signs])
        network = without_stations(self.network, gone)
        return JoinedNetwork(
            network, self.hub, self.threshold, self.medium.take(keep, axis=0).take(keep, axis=1)
        )


def joined(survey: NetSurvey, left: Standing, rules: RelayRules, *, hub: str) -> JoinedNetwork:
    """What is left as one network. hub : a repeater of `left`, or '' for net control on simplex.

    Over a repeater a pair works as well as the worse of its two legs. A repeater that serves a pair both
    ways is taken before simplex; where neither serves, the way that comes closest stands.
    """
    return survey.joined_whole(left.repeaters, hub, rules.threshold).of(left.members)


def _joined_whole(
    survey: NetSurvey, repeaters: tuple[str, ...], hub: str, threshold: Threshold
) -> JoinedNetwork:
    on_air = set(survey.call_signs)
    base = without_stations(
        survey.simplex, [call for call in survey.simplex.call_signs if call not in on_air]
    )
    n = len(base.call_signs)
    margin_db, sigma_db, chance = base.margin_db.copy(), base.sigma_db.copy(), base.chance.copy()
    pair_chance = base.chance_both_ways.copy()
    medium = np.full((n, n), ON_SIMPLEX, dtype=object)
    best_db = _pair_spare_db(margin_db, sigma_db, threshold)
    best_db[np.isnan(best_db)] = -np.inf
    served = np.zeros((n, n), dtype=np.bool_)
    for call in (c for c in repeaters if c != hub):
        through = _through(survey.repeater(call), base.call_signs)
        spare_db = _pair_spare_db(through.margin_db, through.sigma_db, threshold)
        better = np.where(served | (spare_db < 0.0), spare_db > best_db, True) & np.isfinite(spare_db)
        np.fill_diagonal(better, False)
        margin_db[better], sigma_db[better] = through.margin_db[better], through.sigma_db[better]
        chance[better], medium[better] = through.chance[better], call
        pair_chance[better] = through.pair_chance[better]
        best_db[better] = spare_db[better]
        served |= better & (spare_db >= 0.0)
    network = replace(
        base,
        margin_db=margin_db,
        sigma_db=sigma_db,
        chance=chance,
        path_sigma_db=None,
        station_sigma_db=None,
        receive_sigma_db=None,
        time_sigma_db=None,
        land_loss_db=None,
        path_kind=None,
        models_apart_db=None,
        effective_height_m=None,
        pair_chance=pair_chance,
        lasting=None,
    )
    if hub:
        network = _with_hub(network, survey.repeater(hub))
        medium = np.pad(medium, ((0, 1), (0, 1)), constant_values=hub)
    return JoinedNetwork(network, hub, threshold, medium)


@dataclass(frozen=True)
class _Through:
    margin_db: FloatArray
    sigma_db: FloatArray
    chance: FloatArray
    pair_chance: FloatArray


def _through(repeater: RepeaterNetwork, call_signs: Iterable[str]) -> _Through:
    """[tx, rx] over one repeater: the worse leg's margin and spread, the product of both chances.

    pair_chance : that both members get in and hear.
    """
    members = [repeater.member(call) for call in call_signs]
    in_db, out_db = _legs([(m.talk_in.margin_db, m.talk_out.margin_db) for m in members])
    in_sigma, out_sigma = _legs([(m.talk_in.sigma_db, m.talk_out.sigma_db) for m in members])
    in_chance, out_chance = _legs([(m.talk_in.chance, m.talk_out.chance) for m in members])
    margin_db = np.minimum(in_db[:, np.newaxis], out_db)
    np.fill_diagonal(margin_db, np.nan)
    chance = np.nan_to_num(in_chance[:, np.newaxis] * out_chance, nan=0.0)
    np.fill_diagonal(chance, 0.0)
    both = np.array([m.chance for m in members], dtype=np.float64)
    pair_chance = np.nan_to_num(both[:, np.newaxis] * both, nan=0.0)
    np.fill_diagonal(pair_chance, 0.0)
    sigma_db = np.where(in_db[:, np.newaxis] <= out_db, in_sigma[:, np.newaxis], out_sigma)
    return _Through(margin_db, sigma_db, chance, pair_chance)


def _legs(pairs: list[tuple[float, float]]) -> tuple[FloatArray, FloatArray]:
    both = np.array(pairs, dtype=np.float64).reshape(-1, 2)
    return both[:, 0], both[:, 1]


def _pair_spare_db(margin_db: FloatArray, sigma_db: FloatArray, threshold: Threshold) -> FloatArray:
    spare_db = margin_db - threshold.needed_margin_db(sigma_db)
    return np.asarray(np.minimum(spare_db, spare_db.T))


def _with_hub(network: SimplexNetwork, repeater: RepeaterNetwork) -> SimplexNetwork:
    """The network with the repeater as its last station, hearing by talk-in and heard by talk-out."""
    members = [repeater.member(call) for call in network.call_signs]

    def wider(
        matrix: NDArray[np.generic], way_in: list[object], way_out: list[object]
    ) -> NDArray[np.generic]:
        larger = np.zeros((len(members) + 1, len(members) + 1), dtype=matrix.dtype)
        larger[:-1, :-1] = matrix
        larger[:-1, -1], larger[-1, :-1] = way_in, way_out
        if np.issubdtype(matrix.dtype, np.floating):
            larger[-1, -1] = np.nan
        return larger

    fields = {
        name: wider(
            getattr(network, name),
            [getattr(m.talk_in, attribute) for m in members],
            [getattr(m.talk_out, attribute) for m in members],
        )
        for name, attribute in _LINK_MATRICES.items()
        if getattr(network, name) is not None
    }
    fields["chance"][-1, -1] = 0.0
    pair_chance = np.pad(network.chance_both_ways, ((0, 1), (0, 1)))
    pair_chance[:-1, -1] = pair_chance[-1, :-1] = [m.chance for m in members]
    hub = _as_station(repeater.repeater)
    net = network.net
    return replace(
        network,
        net=replace(net, stations=(*net.stations, hub)),
        call_signs=(*network.call_signs, hub.call_sign),
        required_dbm=None,
        pair_chance=pair_chance,
        **fields,  # type: ignore[arg-type]  # arrays of the same fields
    )


_LINK_MATRICES = {
    "distance_m": "distance_m",
    "bearing_deg": "bearing_deg",
    "path_loss_db": "path_loss_db",
    "received_dbm": "received_dbm",
    "margin_db": "margin_db",
    "chance": "chance",
    "sigma_db": "sigma_db",
    "line_of_sight": "line_of_sight",
    "fresnel_clearance": "fresnel_clearance",
    "elevation_deg": "elevation_deg",
}


def _as_station(repeater: Repeater) -> Station:
    return Station(
        call_sign=repeater.call_sign,
        name=repeater.name,
        position=repeater.position,
        category=Category.BASE,
        antenna=repeater.antenna,
        transmit_power_dbm=repeater.transmit_power_dbm,
        backup=repeater.backup,
        willing_control=True,
    )

"""What it would take to bring a cut-off member in: decibels, watts, antenna height; and where a battery
helps most.

The plan stays as it is: the same hub, the same relays willing. Only what the member itself can change is
tried.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.inputs.deeds import Deed, deeds_in_words, deeds_of
from reach.links.network import DirectedLink, RepeaterNetwork, SimplexNetwork
from reach.links.paths import PathEnd, path_end
from reach.links.survey import net_model, survey_net_paths
from reach.plans.graph.routes import best_way
from reach.plans.outages.backup import OutagePlan
from reach.plans.outages.failures import Mains, NetSurvey, Standing, joined, standing
from reach.plans.outages.gatherings import all_willing, best_left, reaches
from reach.plans.relays.rules import RelayRules, relays_under
from reach.propagation.variability import chance_of_working
from reach.stations import BackupPower
from reach.terrain.tiles import Terrain
from reach.units import dbm_to_watts, power_in_words, watts_to_dbm

FloatArray = NDArray[np.float64]

MOST_DB = 20.0  # more gain than any antenna a member can put up, a hundredfold power (own choice)
MOST_DEEDS = 2  # things to do said of one member, least effort first
HIGHEST_M = 30.0  # the tallest mast looked at (own choice)


@dataclass(frozen=True)
class Remedy:
    """The smallest change at one cut-off member that brings it in, each on its own; None where none would do.

    gain_db : more antenna gain (or less feed-line loss), both directions, rounded up to 0.1 dB.
    power_db, power_w : more transmit power and the power it makes, rounded up.
    height_m : antenna height above ground in whole metres, no more than HIGHEST_M; None also when not tried.
    near : whom it would then work. deeds : what the member can do by hand, each planned and found to bring it
    in; None when not tried; tried : all that was.
    """

    call_sign: str
    gain_db: float | None
    power_db: float | None
    power_w: float | None
    near: str
    height_m: float | None = None
    height_tried: bool = False
    deeds: tuple[str, ...] | None = None
    tried: tuple[str, ...] = ()

    @property
    def words(self) -> str:
        """One sentence, with what to mind: what it can do by hand, else the figures."""
        if self.deeds is not None:
            return deeds_in_words(self.call_sign, self.deeds, tried=self.tried)
        ways = []
        if self.gain_db is not None:
            ways.append(f"{self.gain_db:.1f} dB more antenna gain or less loss")
        if self.power_w is not None and self.power_db is not None:
            power = power_in_words(float(watts_to_dbm(self.power_w)))
            ways.append(f"{power} transmit power ({self.power_db:.1f} dB more), if the licence allows")
        if self.height_m is not None:
            ways.append(f"the antenna at {self.height_m:.0f} m, clear of power lines")
        if not ways:
            tried = f", nor an antenna up to {HIGHEST_M:.0f} m" if self.height_tried else ""
            return (
                f"{self.call_sign}: neither {MOST_DB:.0f} dB of gain nor of power would bring it in{tried}; "
                "another place might."
            )
        then = f", then it works {self.near}" if self.near else ""
        return f"{self.call_sign} comes in with {'; or '.join(ways)}{then}."


@dataclass(frozen=True)
class BatteryRemedy:
    """Backup power at one place that has none, with the mains lost.

    brings : who is in the net then and was not before.
    """

    call_sign: str
    brings: tuple[str, ...]


def remedies(
    survey: NetSurvey,
    plan: OutagePlan,
    rules: RelayRules,
    *,
    terrain: Terrain | None = None,
    survey_with: Callable[[Deed], NetSurvey] | None = None,
) -> tuple[Remedy, ...]:
    """A remedy for each member the plan cuts off, by call sign; nothing when there is no net to join.

    terrain : with it, antenna heights are tried too. survey_with : the net surveyed with what a member does;
    with it, what can be done by hand is tried. Raises : MissingTerrain, OutOfRange.
    """
    if plan.plan is None:
        return ()
    if not plan.willing:
        survey, rules = all_willing(survey), replace(rules, control_candidates=())
    found = (_remedy(survey, plan, rules, call, terrain) for call in plan.cut_off)
    if survey_with is None:
        return tuple(found)
    return tuple(_with_deeds(survey, plan, rules, remedy, survey_with) for remedy in found)


def _with_deeds(
    survey: NetSurvey,
    plan: OutagePlan,
    rules: RelayRules,
    remedy: Remedy,
    survey_with: Callable[[Deed], NetSurvey],
) -> Remedy:
    """The remedy with what the member can do by hand, each thing planned anew on the net surveyed with it."""
    deeds = deeds_of(survey.net.station(remedy.call_sign))
    works = []
    for deed in deeds:
        changed = survey_with(deed)
        if not plan.willing:
            changed = all_willing(changed)
        left = standing(changed, plan.outage)
        network = joined(changed, left, rules, hub=plan.hub)
        if remedy.call_sign in reaches(network, rules, centre=plan.hub or plan.control):
            works.append(deed.words)
    return replace(remedy, deeds=tuple(works[:MOST_DEEDS]), tried=tuple(deed.words for deed in deeds))


def best_batteries(survey: NetSurvey, plan: OutagePlan, rules: RelayRules) -> tuple[BatteryRemedy, ...]:
    """Each place off the air for want of power, most helpful first; () with the mains on."""
    if plan.outage.mains is Mains.ON:
        return ()
    before = set(plan.in_net)
    found = []
    for call in (*plan.standing.dark_repeaters, *plan.standing.dark):
        left = standing(_with_battery(survey, call), plan.outage)
        hub = best_left(survey, left, rules)
        members = hub.members if hub else ()
        found.append(BatteryRemedy(call, tuple(member for member in members if member not in before)))
    return tuple(sorted(found, key=lambda remedy: (-len(remedy.brings), remedy.call_sign)))


def stronger(survey: NetSurvey, call_sign: str, *, transmit_db: float, receive_db: float) -> NetSurvey:
    """The survey with one member heard better by so much, and hearing better by so much, on every path."""
    everyone = survey.simplex.call_signs
    hubs = [network.repeater.call_sign for network in survey.repeaters]
    return shifted(
        survey,
        call_sign,
        transmit_db=dict.fromkeys((*everyone, *hubs), transmit_db),
        receive_db=dict.fromkeys((*everyone, *hubs), receive_db),
    )


def shifted(
    survey: NetSurvey, call_sign: str, *, transmit_db: Mapping[str, float], receive_db: Mapping[str, float]
) -> NetSurvey:
    """The survey with the paths of one member changed: by how much each station and repeater hears it better,
    and it them. Spreads stay as they are; chances follow.
    """  # fmt: skip
    simplex = survey.simplex
    at = simplex.index(call_sign)
    more_db = np.zeros_like(simplex.margin_db)
    more_db[at, :] = [transmit_db.get(call, 0.0) for call in simplex.call_signs]
    more_db[:, at] = [receive_db.get(call, 0.0) for call in simplex.call_signs]
    margin_db = simplex.margin_db + more_db
    changed = replace(
        simplex,
        margin_db=margin_db,
        received_dbm=simplex.received_dbm + more_db,
        chance=np.nan_to_num(chance_of_working(margin_db, simplex.sigma_db), nan=0.0),
        pair_chance=None,
    ).with_pairs_of(call_sign, simplex)
    hubs = tuple(_shifted_repeater(n, call_sign, transmit_db, receive_db) for n in survey.repeaters)
    return NetSurvey(changed, hubs)


def _shifted_repeater(
    network: RepeaterNetwork,
    call_sign: str,
    transmit_db: Mapping[str, float],
    receive_db: Mapping[str, float],
) -> RepeaterNetwork:
    hub = network.repeater.call_sign

    def moved(link: DirectedLink, more_db: float) -> DirectedLink:
        margin_db = link.margin_db + more_db
        return replace(
            link,
            margin_db=margin_db,
            received_dbm=link.received_dbm + more_db,
            chance=float(chance_of_working(margin_db, link.sigma_db)),
        )

    members = tuple(
        replace(
            member,
            talk_in=moved(member.talk_in, transmit_db.get(hub, 0.0)),
            talk_out=moved(member.talk_out, receive_db.get(hub, 0.0)),
        )
        if member.call_sign == call_sign
        else member
        for member in network.members
    )
    return replace(network, members=members)


def _remedy(
    survey: NetSurvey, plan: OutagePlan, rules: RelayRules, call: str, terrain: Terrain | None
) -> Remedy:
    left = standing(survey, plan.outage)
    centre = plan.hub or plan.control

    def joins(changed: NetSurvey) -> bool:
        return call in reaches(joined(changed, left, rules, hub=plan.hub), rules, centre=centre)

    def with_gain(db: float) -> NetSurvey:
        return stronger(survey, call, transmit_db=db, receive_db=db)

    def with_power(db: float) -> NetSurvey:
        return stronger(survey, call, transmit_db=db, receive_db=0.0)

    tenths = range(1, round(MOST_DB * 10) + 1)  # more never brings in less, so halving finds the smallest
    gain = _smallest(tenths, lambda n: joins(with_gain(n / 10.0)))
    power = _smallest(tenths, lambda n: joins(with_power(n / 10.0)))
    power_w = None
    if power is not None:
        power_w = _rounded_up_w(
            float(dbm_to_watts(survey.net.station(call).transmit_power_dbm + power / 10.0))
        )
    height_m = None
    if terrain is not None:
        height_m = next((h for h, higher in _raised(survey, left, terrain, call) if joins(higher)), None)
    shown = (
        with_gain(gain / 10.0)
        if gain is not None
        else with_power(power / 10.0)
        if power is not None
        else None
    )
    return Remedy(
        call_sign=call,
        gain_db=None if gain is None else gain / 10.0,
        power_db=None if power is None else power / 10.0,
        power_w=power_w,
        near="" if shown is None else _near(shown, left, plan, rules, call),
        height_m=height_m,
        height_tried=terrain is not None,
    )


def _smallest(steps: range, works: Callable[[int], bool]) -> int | None:
    if not works(steps[-1]):
        return None
    low, high = 0, len(steps) - 1
    while low < high:
        middle = (low + high) // 2
        if works(steps[middle]):
            high = middle
        else:
            low = middle + 1
    return steps[low]


def _near(changed: NetSurvey, left: Standing, plan: OutagePlan, rules: RelayRules, call: str) -> str:
    """The first on its best way to the hub: a relay, net control or the repeater."""
    network = joined(changed, left, rules, hub=plan.hub)
    graph = network.graph
    at = graph.index(plan.hub or plan.control)
    relays = relays_under(network.network, graph, rules, control=at)
    way = best_way(graph, graph.index(call), control=at, relays=relays, limit=rules.chain_limit)
    if way is None:
        return ""
    return graph.call_signs[way[0][0] if way[0] else at]


def _raised(survey: NetSurvey, left: Standing, terrain: Terrain, call: str) -> list[tuple[float, NetSurvey]]:
    """The survey with one member's antenna at each whole metre above its own, lowest first.

    Only the path loss is new, all else (feed line too) stays; each profile is sampled once a height.
    """
    net = survey.net
    station = net.station(call)
    heights_m = [float(h) for h in range(math.floor(station.antenna.height_m) + 1, int(HIGHEST_M) + 1)]
    others = [net.station(c) for c in left.members if c != call]
    hubs = [survey.repeater(c) for c in left.repeaters]
    if not heights_m:
        return []
    now_db = {
        other.call_sign: float(survey.simplex.link(call, other.call_sign).path_loss_db) for other in others
    }
    gains: list[dict[str, float]] = [{} for _ in heights_m]
    ends = [path_end(other) for other in others]
    losses_db = _losses(survey.simplex, terrain, call, heights_m, ends)
    for row, found in zip(gains, losses_db):
        row |= {o.call_sign: now_db[o.call_sign] - float(loss) for o, loss in zip(others, found)}
    ups: list[dict[str, float]] = [dict(row) for row in gains]
    for hub in hubs:
        member = hub.member(call)
        repeater = hub.repeater
        end = path_end(repeater)
        own = [(path_end(station, antenna_height_m=h), end) for h in heights_m]
        model = net_model(net, min(repeater.input_mhz, repeater.output_mhz))
        paths = survey_net_paths(
            net, terrain, model, own, frequencies_mhz=[repeater.input_mhz, repeater.output_mhz]
        )
        for k, row in enumerate(paths.path_loss_db):
            ups[k][repeater.call_sign] = member.talk_in.path_loss_db - float(row[0])
            gains[k][repeater.call_sign] = member.talk_out.path_loss_db - float(row[1])
    return [
        (height_m, shifted(survey, call, transmit_db=up, receive_db=down))
        for height_m, up, down in zip(heights_m, ups, gains)
    ]


def _losses(
    simplex: SimplexNetwork, terrain: Terrain, call: str, heights_m: list[float], others: list[PathEnd]
) -> FloatArray:
    """(heights, others) path loss on the simplex channel, dB."""
    net, channel = simplex.net, simplex.channel
    station = net.station(call)
    ends = [(path_end(station, antenna_height_m=h), other) for h in heights_m for other in others]
    if not ends:
        return np.zeros((len(heights_m), 0))
    paths = survey_net_paths(
        net,
        terrain,
        net_model(net, channel.frequency_mhz),
        ends,
        frequencies_mhz=[channel.frequency_mhz],
        polarisation=channel.polarisation,
    )
    return paths.path_loss_db[:, 0].reshape(len(heights_m), len(others))


def _with_battery(survey: NetSurvey, call_sign: str) -> NetSurvey:
    net = survey.net
    stations = tuple(
        replace(s, backup=BackupPower()) if s.call_sign == call_sign else s for s in net.stations
    )
    hubs = tuple(
        replace(n, repeater=replace(n.repeater, backup=BackupPower()))
        if n.repeater.call_sign == call_sign
        else n
        for n in survey.repeaters
    )
    return NetSurvey(replace(survey.simplex, net=replace(net, stations=stations)), hubs)


def _rounded_up_w(power_w: float) -> float:
    """Up to the next whole watt, below 10 W to the next tenth."""
    return math.ceil(power_w - 1e-9) if power_w >= 10.0 else math.ceil(power_w * 10.0 - 1e-9) / 10.0

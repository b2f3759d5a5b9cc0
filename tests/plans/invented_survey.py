"""Invented surveys of a simplex channel and repeaters, from a seed or from lists of links; no terrain."""

from __future__ import annotations

import math
from collections.abc import Collection, Sequence
from dataclasses import replace

import numpy as np

from reach.links.network import DirectedLink, RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.plans.outages.failures import NetSurvey
from reach.propagation.variability import chance_of_working
from reach.stations import Antenna, BackupPower, Net, Position, Repeater
from tests.plans.synthetic import SIGMA_DB, hilly

WORKS_DB, FAILS_DB = 6.0, -6.0


def a_repeater(call_sign: str, *, backup: BackupPower | None = None) -> Repeater:
    return Repeater(
        call_sign, "Hill", Position(41.3, -38.1), 146.94, 146.34, Antenna(20.0, 5.15), 46.0, backup=backup
    )


def repeater_network(
    net: Net, repeater: Repeater, margins_db: dict[str, tuple[float, float]]
) -> RepeaterNetwork:
    """margins_db : member -> (talk-in, talk-out)."""

    def link(tx: str, rx: str, margin_db: float) -> DirectedLink:
        return DirectedLink(
            tx=tx, rx=rx, frequency_mhz=146.94, distance_m=1000.0, bearing_deg=0.0,
            path_loss_db=120.0 - margin_db, received_dbm=margin_db - 116.0, margin_db=margin_db,
            chance=float(chance_of_working(margin_db, SIGMA_DB)), line_of_sight=True, fresnel_clearance=1.0,
            sigma_db=SIGMA_DB,
        )  # fmt: skip

    hub = repeater.call_sign
    return RepeaterNetwork(
        net=net,
        repeater=repeater,
        members=tuple(
            RepeaterMember(call, link(call, hub, way_in), link(hub, call, way_out))
            for call, (way_in, way_out) in margins_db.items()
        ),
    )


def survey_of(
    simplex: SimplexNetwork, served: dict[str, Collection[str]], *, backed: Collection[str] = ()
) -> NetSurvey:
    """served : repeater -> members it works both ways; the rest miss it. backed : with a battery."""
    repeaters = {call: a_repeater(call, backup=BackupPower() if call in backed else None) for call in served}
    net = replace(simplex.net, repeaters=tuple(repeaters.values()))
    simplex = replace(simplex, net=net)
    on_air = [s.call_sign for s in net.stations if s.has_radio_path]
    networks = tuple(
        repeater_network(
            net,
            repeaters[hub],
            {call: (WORKS_DB, WORKS_DB) if call in members else (FAILS_DB, FAILS_DB) for call in on_air},
        )
        for hub, members in served.items()
    )
    return NetSurvey(simplex, networks)


def invented_survey(
    n: int = 12, *, seed: int, repeaters: int = 2, powered: float = 0.6, willing: float = 0.7
) -> NetSurvey:
    """Hilly simplex net; repeaters work some members, some one way only, some not; some have batteries."""
    rng = np.random.default_rng([seed, n, repeaters])
    simplex = hilly(n, seed=seed, area_km=45.0, willing=willing)
    stations = tuple(
        replace(s, backup=BackupPower(hours=float(rng.integers(1, 40))) if rng.random() < powered else None)
        for s in simplex.net.stations
    )
    net = replace(simplex.net, stations=stations)
    made = []
    for k in range(repeaters):
        backup = BackupPower(hours=8.0) if rng.random() < 0.5 else None
        repeater = a_repeater(f"QK0R{chr(65 + k)}", backup=backup)
        way_out = rng.normal(2.0, 9.0, n)
        way_in = way_out + rng.normal(-2.0, 4.0, n)
        margins = {
            s.call_sign: (float(a), float(b)) for s, a, b in zip(stations, way_in, way_out, strict=True)
        }
        made.append((repeater, margins))
    net = replace(net, repeaters=tuple(repeater for repeater, _ in made))
    return NetSurvey(
        replace(simplex, net=net), tuple(repeater_network(net, r, margins) for r, margins in made)
    )


def without(survey: NetSurvey, gone: Collection[str]) -> NetSurvey:
    """The survey made anew as if stations and repeaters had never been in the net, by plain copying."""
    old = survey.simplex
    keep = [k for k, call in enumerate(old.call_signs) if call not in gone]
    net = replace(
        survey.net,
        stations=tuple(s for s in survey.net.stations if s.call_sign not in gone),
        repeaters=tuple(r for r in survey.net.repeaters if r.call_sign not in gone),
    )

    def rows(matrix: Sequence[Sequence[float]]) -> np.ndarray:
        return np.array([[matrix[i][j] for j in keep] for i in keep]).reshape(len(keep), len(keep))

    simplex = SimplexNetwork(
        net=net, channel=old.channel, call_signs=tuple(old.call_signs[k] for k in keep),
        distance_m=rows(old.distance_m), bearing_deg=rows(old.bearing_deg),
        path_loss_db=rows(old.path_loss_db),
        received_dbm=rows(old.received_dbm), margin_db=rows(old.margin_db), chance=rows(old.chance),
        sigma_db=rows(old.sigma_db), line_of_sight=rows(old.line_of_sight).astype(bool),
        fresnel_clearance=rows(old.fresnel_clearance),
        path_sigma_db=rows(old.path_sigma_db), station_sigma_db=np.array(old.station_sigma_db)[keep],
        receive_sigma_db=np.array(old.receive_sigma_db)[keep], time_sigma_db=rows(old.time_sigma_db),
    )  # fmt: skip
    return NetSurvey(
        simplex,
        tuple(
            repeater_network(
                net,
                n.repeater,
                {
                    m.call_sign: (m.talk_in.margin_db, m.talk_out.margin_db)
                    for m in n.members
                    if m.call_sign not in gone
                },
            )
            for n in survey.repeaters
            if n.repeater.call_sign not in gone
        ),
    )


def reached_by_hand(survey: NetSurvey, *, chain_limit: int = 2) -> int:
    """Most stations any hub brings together, over sets of call signs; mains and everyone there.

    A plain restatement for tests: two stations work each other on simplex both ways, or over a repeater that
    both work both ways; relays must be willing base stations; a hub is a repeater that serves a willing net
    control, or a willing net control itself. A net has two stations at least, otherwise 0.
    """  # fmt: skip
    stations = {s.call_sign: s for s in survey.net.stations if s.has_radio_path}
    simplex = survey.simplex
    served = {
        n.repeater.call_sign: {
            m.call_sign for m in n.members if m.talk_in.margin_db >= 0.0 and m.talk_out.margin_db >= 0.0
        }
        for n in survey.repeaters
    }

    def works(a: str, b: str) -> bool:
        i, j = simplex.index(a), simplex.index(b)
        both = (simplex.margin_db[i, j], simplex.margin_db[j, i])
        if not any(math.isnan(m) for m in both) and min(both) >= 0.0:
            return True
        return any(a in members and b in members for members in served.values())

    def spread(front: set[str], control: str) -> set[str]:
        reached = set(front)
        for _ in range(chain_limit):
            relays = {c for c in front if stations[c].willing_relay and c != control}
            front = {v for v in stations if v not in reached and any(works(v, r) for r in relays)}
            reached |= front
        return reached

    sizes = [0]
    for members in served.values():
        if any(stations[c].willing_control for c in members):
            sizes.append(len(spread(set(members), "")))
    for control, station in stations.items():
        if station.willing_control:
            first = {v for v in stations if v != control and works(v, control)}
            sizes.append(len(spread(first, control) | {control}))
    return max(size if size > 1 else 0 for size in sizes)

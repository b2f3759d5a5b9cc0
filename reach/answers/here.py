"""Who could be worked from any place, by each of the usual kinds of station standing there."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from reach.answers.open_net import OpenNet
from reach.answers.surveys import simplex_paths
from reach.errors import Fault, InputProblem
from reach.inputs.equipment import usual_station
from reach.machinery.progress import unwatched
from reach.stations import Category, Channel, Position

_KINDS = {Category.PORTABLE: "handheld", Category.MOBILE: "car", Category.BASE: "base"}
_FEWEST = 0.05  # of a chance that is worth naming


@dataclass(frozen=True)
class FromHere:
    """kind : of the station standing there, in words. works : (call sign, chance both ways), surest first.

    expected : of the members, how many such a station works.
    """

    kind: str
    works: tuple[tuple[str, float], ...]
    expected: float


def worked_from(opened: OpenNet, where: Position, channel: Channel) -> tuple[FromHere, ...]:
    """A usual handheld outdoors, a car and a base at a place, each against every member.

    Raises : InputProblem where there is no elevation; MissingTerrain; OutOfRange.
    """
    at = (where.latitude_deg, where.longitude_deg)
    if np.isnan(opened.terrain.sample(np.array(at[:1]), np.array(at[1:]))[0]):
        raise InputProblem(
            Fault("there is no elevation at that place", "choose one on the map, or add a tile")
        )
    guests = {
        kind: replace(usual_station(kind, name=f"HERE {said.upper()}"), position=where)
        for kind, said in _KINDS.items()
    }
    net = replace(opened.net, stations=(*opened.net.stations, *guests.values()))
    network = simplex_paths(opened, channel, changed=net, watch=unwatched)
    found = []
    for kind, guest in guests.items():
        chances = {
            station.call_sign: float(
                network.chance_both_ways[network.index(guest.call_sign), network.index(station.call_sign)]
            )
            for station in opened.net.stations
            if station.has_radio_path
        }
        works = sorted(
            ((c, p) for c, p in chances.items() if p >= _FEWEST), key=lambda one: (-one[1], one[0])
        )
        found.append(FromHere(_KINDS[kind], tuple(works), sum(chances.values())))
    return tuple(found)

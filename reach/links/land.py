"""What stands round a net's stations and along its paths, as its files say it."""

from __future__ import annotations

from dataclasses import replace
from typing import TypeVar

from reach.propagation.models import LandSight
from reach.propagation.typical_land.model import Cover
from reach.propagation.typical_land.rule import LAND_HEIGHT_M, USUAL_LAND
from reach.stations import Land, Net, Repeater, Station, Surface, Surrounding

Party = TypeVar("Party", Station, Repeater)


def net_cover(net: Net) -> Cover:
    """What stands along a net's paths: its land-cover raster, the usual, or nothing where it asks so."""
    if net.surface is Surface.BARE:
        return Cover.BARE
    return Cover.USUAL if net.land_cover is None else Cover.GIVEN


def stated_land(party: Station | Repeater) -> Land | None:
    """What somebody said stands round a station; woodland among its surroundings says trees."""
    if party.land is None and Surrounding.WOODLAND in party.surroundings:
        return Land.TREES
    return party.land


def land_height_m(land: Land | None) -> float:
    """Height of what stands round a station, m; None is the usual, houses."""
    return LAND_HEIGHT_M[USUAL_LAND if land is None else land]


def counted_once(party: Party, sees: LandSight) -> Party:
    """The same station without woodland among its losses, for a model whose paths hold it already."""
    if sees is not LandSight.ENDS or Surrounding.WOODLAND not in party.surroundings:
        return party
    rest = tuple(s for s in party.surroundings if s is not Surrounding.WOODLAND)
    return replace(party, surroundings=rest, land=stated_land(party))

"""The page of a simplex net: who hears whom, with the relays of its plan."""

from __future__ import annotations

from reach.answers.simplex import SimplexAnswer
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.net_map import simplex_map
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.plan_marks import marks_of
from reach.terrain.tiles import Terrain


def simplex_page(found: SimplexAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """The simplex net, its plan's relays where there is a plan."""
    return simplex_map(
        found.network,
        headline=found.headline,
        relief=relief_around(terrain, places_of(found.net)),
        marks=marks_of(found.plan) if found.plan else None,
        notes=found.assumed,
        online=online,
        ground=terrain,
    )

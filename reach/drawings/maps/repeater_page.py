"""The page of one repeater, on the ground of the net's own tiles."""

from __future__ import annotations

from reach.answers.repeater import RepeaterAnswer
from reach.drawings.maps.ground import places_of, relief_around
from reach.drawings.maps.net_map import repeater_map
from reach.drawings.maps.page import OnlineTiles
from reach.terrain.tiles import Terrain


def repeater_page(found: RepeaterAnswer, terrain: Terrain, *, online: OnlineTiles | None = None) -> str:
    """The repeater and its members. Raises : ValueError for an answer of several repeaters."""
    (network,) = found.networks
    return repeater_map(
        network,
        headline=found.headline,
        relief=relief_around(terrain, places_of(found.net)),
        notes=found.assumed,
        online=online,
        ground=terrain,
    )

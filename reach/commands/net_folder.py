"""What most commands begin with: the terrain of a net opened as its folder declares it."""

from __future__ import annotations

from reach.stations import Net
from reach.terrain.tiles import Terrain


def open_terrain(net: Net) -> Terrain:
    """The net's elevation tiles. Raises : InputProblem, MissingTerrain."""
    return Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)

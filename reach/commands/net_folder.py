"""What most commands begin with: the terrain of a net opened as its folder declares it."""

from __future__ import annotations

from reach.errors import Fault, InputProblem
from reach.inputs.station_fields import did_you_mean
from reach.links.misplaced import misplaced
from reach.propagation.choose import AUTO, MODEL_NAMES
from reach.stations import Net
from reach.terrain.tiles import Terrain


def open_terrain(net: Net) -> Terrain:
    """The net's elevation tiles.

    Raises : InputProblem, also for a path-loss model nobody knows and for swapped or mirrored positions.
    """
    if fault := model_fault(net):
        raise InputProblem(fault)
    terrain = Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)
    if faults := misplaced(net, terrain):
        terrain.close()
        raise InputProblem(faults)
    return terrain


def model_fault(net: Net) -> Fault | None:
    """What is wrong with the name of the net's path-loss model, None when it is known."""
    names = (AUTO, *MODEL_NAMES)
    if net.model in names:
        return None
    fix = did_you_mean(net.model, names, otherwise=f"write one of: {', '.join(names)}")
    return Fault(f'"{net.model}" is not a path-loss model', fix, file="net.toml", key="net.model")

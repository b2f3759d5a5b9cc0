"""What planning begins with: a net's paths computed on its open terrain, with a bar to watch."""

from __future__ import annotations

from collections.abc import Sequence

from reach.commands.options import progress_bar
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.survey import survey_repeater, survey_simplex
from reach.plans.outages.failures import NetSurvey
from reach.stations import Channel, Net, Repeater
from reach.terrain.tiles import Terrain


def simplex_paths(net: Net, terrain: Terrain, channel: Channel) -> SimplexNetwork:
    """Every pair on a simplex channel. Raises : MissingTerrain, OutOfRange."""
    with progress_bar(f"paths on {channel.frequency_mhz:g} MHz") as progress:
        return survey_simplex(net, terrain, channel, progress=progress)


def repeater_paths(net: Net, terrain: Terrain, repeaters: Sequence[Repeater]) -> tuple[RepeaterNetwork, ...]:
    """Every member against each of these repeaters. Raises : MissingTerrain, OutOfRange."""
    found = []
    for repeater in repeaters:
        with progress_bar(f"paths to {repeater.call_sign}") as progress:
            found.append(survey_repeater(net, terrain, repeater, progress=progress))
    return tuple(found)


def survey_net(net: Net, terrain: Terrain, channel: Channel) -> NetSurvey:
    """Every pair on the simplex channel and every member against every repeater.

    Raises : MissingTerrain, OutOfRange.
    """
    return NetSurvey(simplex_paths(net, terrain, channel), repeater_paths(net, terrain, net.repeaters))

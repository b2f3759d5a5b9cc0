"""What planning begins with: a net's paths computed on its open terrain, each stretch of work by name."""

from __future__ import annotations

from collections.abc import Sequence

from reach.answers.open_net import OpenNet
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.machinery.progress import Watch
from reach.plans.outages.failures import NetSurvey
from reach.stations import Channel, Net, Repeater
from reach.terrain.tiles import Terrain


def simplex_paths(net: Net, terrain: Terrain, channel: Channel, *, watch: Watch) -> SimplexNetwork:
    """Every pair on a simplex channel. Raises : MissingTerrain, OutOfRange."""
    with watch(f"paths on {channel.frequency_mhz:g} MHz") as progress:
        return survey_simplex(net, terrain, channel, progress=progress)


def repeater_paths(
    net: Net, terrain: Terrain, repeaters: Sequence[Repeater], *, watch: Watch
) -> tuple[RepeaterNetwork, ...]:
    """Every member against each of these repeaters. Raises : MissingTerrain, OutOfRange."""
    found = []
    for repeater in repeaters:
        with watch(f"paths to {repeater.call_sign}") as progress:
            found.append(survey_repeater(net, terrain, repeater, progress=progress))
    return tuple(found)


def survey_net(opened: OpenNet, channel: Channel, *, watch: Watch) -> NetSurvey:
    """Every pair on the simplex channel and every member against every repeater.

    Raises : MissingTerrain, OutOfRange.
    """
    net, terrain = opened.net, opened.terrain
    return NetSurvey(
        simplex_paths(net, terrain, channel, watch=watch),
        repeater_paths(net, terrain, net.repeaters, watch=watch),
    )

"""What planning begins with: a net's paths computed on its open terrain, each stretch of work by name.

Once there are reports, every network is corrected by them here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Sequence

from reach.answers.learned import band_of_channel, band_of_repeater
from reach.answers.open_net import OpenNet
from reach.learning.correct import corrected_repeater, corrected_simplex
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.machinery.progress import Watch
from reach.plans.outages.failures import NetSurvey
from reach.stations import Channel, Net, Repeater


def simplex_paths(
    opened: OpenNet, channel: Channel, *, changed: Net | None = None, watch: Watch
) -> SimplexNetwork:
    """Every pair on a simplex channel, corrected by what was heard.

    changed : the net with changes nobody has heard yet, in place of the net as it is; what was learned of its
    stations and paths goes with it. Raises : MissingTerrain, OutOfRange.
    """
    net = opened.net if changed is None else changed
    if net == opened.learned.net:
        network = opened.learned.simplex(channel, watch=watch)
    else:
        with watch(f"paths on {channel.frequency_mhz:g} MHz") as progress:
            network = survey_simplex(net, opened.terrain, channel, progress=progress)
    learned = opened.learned.band(band_of_channel(channel), watch=watch)
    return network if learned is None else corrected_simplex(network, learned)


def repeater_paths(
    opened: OpenNet, repeaters: Sequence[Repeater], *, watch: Watch
) -> tuple[RepeaterNetwork, ...]:
    """Every member against each of these repeaters, corrected by what was heard.

    Raises : MissingTerrain, OutOfRange.
    """
    found = []
    for repeater in repeaters:
        if opened.net == opened.learned.net:
            network = opened.learned.repeater(repeater, watch=watch)
        else:
            with watch(f"paths to {repeater.call_sign}") as progress:
                network = survey_repeater(opened.net, opened.terrain, repeater, progress=progress)
        learned = opened.learned.band(band_of_repeater(repeater), watch=watch)
        found.append(network if learned is None else corrected_repeater(network, learned))
    return tuple(found)


def survey_net(opened: OpenNet, channel: Channel, *, watch: Watch) -> NetSurvey:
    """Every pair on the simplex channel and every member against every repeater.

    Raises : MissingTerrain, OutOfRange.
    """
    return NetSurvey(
        simplex_paths(opened, channel, watch=watch),
        repeater_paths(opened, opened.net.repeaters, watch=watch),
    )

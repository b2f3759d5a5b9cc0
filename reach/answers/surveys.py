"""What planning begins with: a net's paths computed on its open terrain, each stretch of work by name.

Once there are reports, every network is corrected by them here, and nowhere else.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from reach.answers.learned import band_of_channel, band_of_repeater
from reach.answers.open_net import OpenNet
from reach.learning.correct import corrected_repeater, corrected_simplex
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.machinery.progress import Watch, unwatched
from reach.plans.outages.failures import NetSurvey
from reach.stations import Channel, Net, Repeater, Station


def simplex_paths(
    opened: OpenNet, channel: Channel, *, changed: Net | None = None, watch: Watch
) -> SimplexNetwork:
    """Every pair on a simplex channel, corrected by what was heard.

    changed : the net with changes nobody has heard yet, in place of the net as it is; what was learned of its
    stations and paths goes with it, and paths the changes leave alone are not worked again: what there is to
    say of those was said of the net. Raises : MissingTerrain, OutOfRange.
    """
    learned_here = opened.learned
    net = opened.net if changed is None else changed
    if net == learned_here.net:
        network = learned_here.simplex(channel, watch=watch)
    else:
        known = None if changed is None else learned_here.surveyed(channel)
        with watch(f"paths on {channel.frequency_mhz:.8g} MHz") as progress:
            network = survey_simplex(net, opened.terrain, channel, known=known, progress=progress)
        if changed is None:
            learned_here.keep(network)
    learned = learned_here.band(band_of_channel(channel), watch=watch)
    if learned is not None:
        return corrected_simplex(network, learned)
    return replace(network, warnings=(*learned_here.left_aside, *network.warnings))


def paths_with_places(
    opened: OpenNet, net: Net, channel: Channel, wanted: Callable[[Station, Station], bool] | None
) -> SimplexNetwork:
    """The net with stations put where nobody stands: those are as predicted, the members as they were heard.

    wanted : as `survey_simplex`. Raises : MissingTerrain, OutOfRange.
    """
    network = survey_simplex(net, opened.terrain, channel, wanted=wanted)
    learned = opened.learned.band(band_of_channel(channel), watch=unwatched)
    return network if learned is None else corrected_simplex(network, learned)


def repeater_paths(
    opened: OpenNet, repeaters: Sequence[Repeater], *, changed: Net | None = None, watch: Watch
) -> tuple[RepeaterNetwork, ...]:
    """Every member against each of these repeaters, corrected by what was heard.

    changed : as in `simplex_paths`. Raises : MissingTerrain, OutOfRange.
    """
    learned_here = opened.learned
    net = opened.net if changed is None else changed
    found = []
    for repeater in repeaters:
        if net == learned_here.net:
            network = learned_here.repeater(repeater, watch=watch)
        else:
            known = None if changed is None else learned_here.surveyed_repeater(repeater)
            with watch(f"paths to {repeater.call_sign}") as progress:
                network = survey_repeater(net, opened.terrain, repeater, known=known, progress=progress)
            if changed is None:
                learned_here.keep(network)
        learned = learned_here.band(band_of_repeater(repeater), watch=watch)
        if learned is not None:
            found.append(corrected_repeater(network, learned))
        else:
            aside = learned_here.left_aside
            found.append(replace(network, warnings=(*aside, *network.warnings)))
    return tuple(found)


def varied_survey(opened: OpenNet, changed: Net, channel: Channel, *, watch: Watch) -> NetSurvey:
    """`survey_net` of the net with changes, as in `simplex_paths`. Raises : MissingTerrain, OutOfRange."""
    return NetSurvey(
        simplex_paths(opened, channel, changed=changed, watch=watch),
        repeater_paths(opened, changed.repeaters, changed=changed, watch=watch),
    )


def survey_net(opened: OpenNet, channel: Channel, *, watch: Watch) -> NetSurvey:
    """Every pair on the simplex channel and every member against every repeater.

    Raises : MissingTerrain, OutOfRange.
    """
    return NetSurvey(
        simplex_paths(opened, channel, watch=watch),
        repeater_paths(opened, opened.net.repeaters, watch=watch),
    )

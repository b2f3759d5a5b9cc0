"""What backup, exercise and kit begin with: the net surveyed once on its channel and to all its repeaters."""

from __future__ import annotations

from collections.abc import Sequence

from reach.commands.options import progress_bar
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_party
from reach.links.survey import survey_repeater, survey_simplex
from reach.plans.failures import Mains, NetSurvey, Outage
from reach.stations import Channel, Net, Repeater
from reach.terrain.tiles import Terrain


def survey_net(net: Net, terrain: Terrain, channel: Channel) -> NetSurvey:
    """Every pair on the simplex channel and every member against every repeater.

    Raises : MissingTerrain, OutOfRange.
    """
    with progress_bar(f"paths on {channel.frequency_mhz:g} MHz") as progress:
        simplex = survey_simplex(net, terrain, channel, progress=progress)
    networks = []
    for repeater in net.repeaters:
        with progress_bar(f"paths to {repeater.call_sign}") as progress:
            networks.append(survey_repeater(net, terrain, repeater, progress=progress))
    return NetSurvey(simplex, tuple(networks))


def asked_outage(net: Net, down: Sequence[str], *, mains: Mains) -> Outage:
    """The outage a user named. Raises : InputProblem with every call sign the net does not know."""
    faults: list[Fault] = []
    repeaters, stations = set[str](), set[str]()
    for call in down:
        try:
            party = find_party(net, call)
        except InputProblem as problem:
            faults += problem.faults
            continue
        (repeaters if isinstance(party, Repeater) else stations).add(party.call_sign)
    if faults:
        raise InputProblem(faults)
    return Outage(frozenset(repeaters), frozenset(stations), mains)

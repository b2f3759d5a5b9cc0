"""What to beware of when a net's paths run over land cover."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from reach.links.paths import NAMED_AT_MOST, PathEnd
from reach.lists import named
from reach.notes import Note, NoteKind
from reach.propagation.models import LandSight, PathLossModel
from reach.stations import Station, Surrounding
from reach.terrain.clutter import LandCover


def cover_doubts(
    land_cover: LandCover, ends: Iterable[PathEnd], stations: Iterable[Station], model: PathLossModel
) -> tuple[Note, ...]:
    """Notes on antennas lower than what stands round them, trees counted twice, a model that is blind.

    ends : of the paths, repeated as they come; stations : the net's, for the surroundings they name.
    A model that sees the ends reckons with both: nothing to beware of.
    """
    if model.sees is LandSight.ENDS:
        return ()
    if model.sees is LandSight.NOTHING:
        return (
            Note(
                NoteKind.LAND,
                "",
                f"{model.name} is worked over bare ground: land_cover changes nothing in these losses; "
                "leave the model to auto and the surface to typical to have it count.",
            ),
        )
    places = {end.name: end for end in ends}
    if not places:
        return ()
    height_m = land_cover.surrounding_height_m(
        np.array([end.position.latitude_deg for end in places.values()]),
        np.array([end.position.longitude_deg for end in places.values()]),
    )
    round_about_m = dict(zip(places, height_m.tolist()))
    said = []
    lower = [name for name, end in places.items() if end.antenna_height_m < round_about_m[name]]
    if lower:
        who = named(lower, most=NAMED_AT_MOST)
        said.append(
            Note(
                NoteKind.LAND,
                who,
                f"{who}: antenna lower than the trees or houses of its land cover, which then cost some "
                "10 to 15 dB at that end; if it stands clear of them, correct the class heights.",
            )
        )
    twice = [
        station.call_sign
        for station in stations
        if Surrounding.WOODLAND in station.surroundings and round_about_m.get(station.call_sign, 0.0) > 0.0
    ]
    if twice:
        who = named(twice, most=NAMED_AT_MOST)
        said.append(
            Note(
                NoteKind.LAND,
                who,
                f"{who}: woodland is named and land cover has trees or houses there too: counted twice; "
                "leave one out.",
            )
        )
    return tuple(said)

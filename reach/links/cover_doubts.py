"""What to beware of when a net's paths run over land cover."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from reach.links.paths import NAMED_AT_MOST, PathEnd
from reach.lists import named
from reach.stations import Station, Surrounding
from reach.terrain.clutter import LandCover

BLIND_MODELS = ("free_space", "itm")  # they look at no clutter


def cover_doubts(
    land_cover: LandCover, ends: Iterable[PathEnd], stations: Iterable[Station], *, model: str
) -> tuple[str, ...]:
    """Sentences on antennas lower than what stands round them, trees counted twice, a model that is blind.

    ends : of the paths, repeated as they come; stations : the net's, for the surroundings they name.
    """
    if model in BLIND_MODELS:
        return (
            f"{model} sees bare ground only: land_cover changes nothing in these losses; "
            "name woodland or the like in the surroundings of a member.",
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
        said.append(
            f"{named(lower, most=NAMED_AT_MOST)}: antenna lower than the trees or houses of its land cover, "
            "which then cost some 10 to 15 dB at that end; if it stands clear of them, correct the class "
            "heights."
        )
    twice = [
        station.call_sign
        for station in stations
        if Surrounding.WOODLAND in station.surroundings and round_about_m.get(station.call_sign, 0.0) > 0.0
    ]
    if twice:
        said.append(
            f"{named(twice, most=NAMED_AT_MOST)}: woodland is named and land cover has trees or houses there "
            "too: counted twice; leave one out."
        )
    return tuple(said)

"""The ground under the lines of a map, so that a page can show a path's profile with no network.

Only where the map shows the real places, and only for a club's number of lines: a page of two hundred
stations stays small.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.drawings.maps.map_parts import LinkProfile, MapLink, MapStation
from reach.geodesy import distance_and_bearing, points_along
from reach.propagation.earth import earth_bulge_m, effective_radius_km
from reach.stations import Net, Repeater, Station

POINTS = 61
MOST_LINES = 500


class KnowsGround(Protocol):
    """What `Terrain` tells here: metres above sea level at points, NaN where unknown."""

    def sample(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.float64]: ...


def with_profiles(
    links: Sequence[MapLink], stations: Sequence[MapStation], ground: KnowsGround | None, net: Net
) -> list[MapLink]:
    """The lines with their profiles; as they are without ground, for a shared net, or for too many.

    A path over unknown ground gets none.
    """
    if ground is None or net.shared_square_m or len(links) > MOST_LINES:
        return list(links)
    parties: tuple[Station | Repeater, ...] = (*net.stations, *net.repeaters)
    heights_m = {party.call_sign: party.antenna.height_m for party in parties}
    return [replace(link, profile=_profile(link, stations, ground, heights_m, net)) for link in links]


def _profile(
    link: MapLink,
    stations: Sequence[MapStation],
    ground: KnowsGround,
    heights_m: Mapping[str, float],
    net: Net,
) -> LinkProfile | None:
    start, end = stations[link.talker], stations[link.listener]
    if start.call_sign not in heights_m or end.call_sign not in heights_m:
        return None
    length_m, _ = distance_and_bearing(
        from_latitude_deg=start.latitude_deg,
        from_longitude_deg=start.longitude_deg,
        to_latitude_deg=end.latitude_deg,
        to_longitude_deg=end.longitude_deg,
    )
    length_km = float(length_m) / 1000.0
    if not length_km > 0.0:
        return None
    _, latitude, longitude = points_along(
        from_latitude_deg=start.latitude_deg,
        from_longitude_deg=start.longitude_deg,
        to_latitude_deg=end.latitude_deg,
        to_longitude_deg=end.longitude_deg,
        step_m=float(length_m) / (POINTS - 1),
    )
    ground_m = ground.sample(latitude, longitude)
    if np.isnan(ground_m).any():
        return None
    along_km = np.linspace(0.0, length_km, ground_m.size)
    bent_m = ground_m + earth_bulge_m(along_km, length_km - along_km, effective_radius_km(net.k_factor))
    return LinkProfile(
        length_km=length_km,
        ground_m=tuple(round(float(height), 1) for height in bent_m),
        start_m=round(float(ground_m[0]) + heights_m[start.call_sign], 1),
        end_m=round(float(ground_m[-1]) + heights_m[end.call_sign], 1),
    )

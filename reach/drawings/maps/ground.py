"""The ground under a map: shaded relief of the user's own elevation tiles around the stations of a net."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace
from weakref import WeakKeyDictionary

from reach.drawings.maps.picture import MERCATOR_RADIUS_M, MapPicture, MercatorBox, relief_picture
from reach.stations import Net, Position
from reach.terrain.tiles import Terrain

LONGEST_SIDE_PIXELS = 1200
SMALLEST_MARGIN_M = 4_000.0
FINEST_PIXEL_M = 25.0
SAMPLES_PER_SIDE = 1  # of a pixel: the mean of four looked the same and took three times as long
WINDOW_SHAPE = 1.5  # width to height of the map in a usual browser window

# pages of one net share their ground: (places, longest side) -> picture, for each terrain that is still open
_DRAWN: WeakKeyDictionary[Terrain, dict[tuple[tuple[Position, ...], int], MapPicture]] = WeakKeyDictionary()


def mercator_m(position: Position) -> tuple[float, float]:
    """(easting, northing) in EPSG:3857, m."""
    return (
        MERCATOR_RADIUS_M * math.radians(position.longitude_deg),
        MERCATOR_RADIUS_M * math.asinh(math.tan(math.radians(position.latitude_deg))),
    )


def places_of(net: Net) -> list[Position]:
    """Where the stations with a radio path and the repeaters of a net stand."""
    members = [station.position for station in net.stations if station.has_radio_path]
    return members + [repeater.position for repeater in net.repeaters]


def _as_wide_as_a_window(
    eastings: Sequence[float], northings: Sequence[float]
) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """The extremes of both, spread so that the box is about as wide to its height as a map window."""
    west, east, south, north = min(eastings), max(eastings), min(northings), max(northings)
    wide = max((WINDOW_SHAPE * (north - south) - (east - west)) / 2.0, 0.0)
    high = max(((east - west) / WINDOW_SHAPE - (north - south)) / 2.0, 0.0)
    return (west - wide, east + wide), (south - high, north + high)


def relief_around(terrain: Terrain, places: Sequence[Position]) -> MapPicture:
    """Relief over a box that holds every place with a margin of an eighth of its longer side.

    The pixel grows with the box, so that the picture stays small; ground without tiles is left plain. Drawn
    once for the same places as long as the terrain lives. Raises : ValueError without any place.
    """
    if not places:
        raise ValueError("no place to draw the ground around")
    drawn = _DRAWN.setdefault(terrain, {})
    asked = (tuple(places), LONGEST_SIDE_PIXELS)
    if asked not in drawn:
        drawn[asked] = _drawn_relief(terrain, places)
    return drawn[asked]


def _drawn_relief(terrain: Terrain, places: Sequence[Position]) -> MapPicture:
    eastings, northings = zip(*(mercator_m(place) for place in places))
    eastings, northings = _as_wide_as_a_window(eastings, northings)
    stretch = math.cosh(sum(northings) / len(northings) / MERCATOR_RADIUS_M)
    longer_m = max(max(eastings) - min(eastings), max(northings) - min(northings))
    margin_m = max(longer_m / 8.0, SMALLEST_MARGIN_M * stretch)
    pixel_m = max((longer_m + 2.0 * margin_m) / LONGEST_SIDE_PIXELS, FINEST_PIXEL_M * stretch)
    box = (
        min(eastings) - margin_m,
        min(northings) - margin_m,
        max(eastings) + margin_m,
        max(northings) + margin_m,
    )
    grid = terrain.window(box, "EPSG:3857", pixel_m, samples_per_side=SAMPLES_PER_SIDE)
    west, south, east, north = grid.bounds
    picture = relief_picture(grid.elevation_m, MercatorBox(west, south, east, north))
    return replace(picture, credits=terrain.credits)

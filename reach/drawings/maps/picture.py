"""Pictures that lie under the maps: shaded relief from elevation, and coloured coverage classes.

Both are in web Mercator (EPSG:3857), as the map page shows them; a plain latitude/longitude picture would be
off by hundreds of metres over a degree.
"""

from __future__ import annotations

import base64
import math
import warnings
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile

from reach.coverage.search.grid import sea_cells
from reach.drawings.style.palette import CHANCE_STEPS, GAP, RELIEF_DARK, RELIEF_LIGHT, WATER, ChanceStep, rgb

WEB_MERCATOR = "EPSG:3857"
MERCATOR_RADIUS_M = 6_378_137.0  # WGS 84 semi-major axis: the sphere of EPSG:3857


@dataclass(frozen=True)
class MercatorBox:
    """Outer edges of a picture in EPSG:3857 metres."""

    west_m: float
    south_m: float
    east_m: float
    north_m: float

    @property
    def edges_m(self) -> tuple[float, float, float, float]:
        """(west, south, east, north)."""
        return self.west_m, self.south_m, self.east_m, self.north_m

    @property
    def corners_deg(self) -> tuple[tuple[float, float], tuple[float, float]]:
        """((south, west), (north, east)) as (latitude, longitude), degrees."""
        return (
            (_latitude_deg(self.south_m), math.degrees(self.west_m / MERCATOR_RADIUS_M)),
            (_latitude_deg(self.north_m), math.degrees(self.east_m / MERCATOR_RADIUS_M)),
        )


def _latitude_deg(northing_m: float) -> float:
    return math.degrees(math.atan(math.sinh(northing_m / MERCATOR_RADIUS_M)))


@dataclass(frozen=True)
class MapPicture:
    """A PNG and where it lies. credits : whose data it was drawn from."""

    png: bytes
    box: MercatorBox
    credits: tuple[str, ...] = ()

    @property
    def data_uri(self) -> str:
        """The picture as a data: address, so that the page needs no second file."""
        return "data:image/png;base64," + base64.b64encode(self.png).decode("ascii")


@dataclass(frozen=True)
class CoverageOverlay:
    """Coverage to lay over the relief.

    name : shown in the legend (any text); classes : (rows, columns) uint8, north row first, 0 = nothing,
    k = steps[k - 1]; box : outer edges; steps : what the classes mean, weakest first.
    """

    name: str
    classes: NDArray[np.uint8]
    box: MercatorBox
    steps: tuple[ChanceStep, ...] = CHANCE_STEPS

    def picture(self) -> MapPicture:
        """The classes as a palette PNG with see-through parts. ValueError when a class has no step."""
        highest = int(self.classes.max(initial=0))
        if highest > len(self.steps):
            raise ValueError(
                f"coverage class {highest} has no colour; only {len(self.steps)} steps are given"
            )
        colours = {0: (0, 0, 0, 0)}
        for number, step in enumerate(self.steps, start=1):
            colours[number] = (*rgb(step.fill), round(step.opacity * 255))
        return MapPicture(_png(self.classes[np.newaxis], colours=colours), self.box)


def chance_classes(
    chance: NDArray[np.floating], steps: Sequence[ChanceStep] = CHANCE_STEPS
) -> NDArray[np.uint8]:
    """Class per cell: 0 below the first step or NaN, else the number of the highest step reached."""
    classes = np.zeros(chance.shape, dtype=np.uint8)
    for number, step in enumerate(steps, start=1):
        classes[np.asarray(chance) >= step.from_chance] = number  # NaN compares false
    return classes


_SEA, _UNKNOWN = 0, 1  # below every grey of the relief
_RELIEF_COLOURS = {
    _SEA: (*WATER, 255),
    _UNKNOWN: (*GAP, 255),
    **{grey: (grey, grey, grey, 255) for grey in range(RELIEF_DARK, RELIEF_LIGHT + 1)},
}


def relief_picture(elevation_m: NDArray[np.floating], box: MercatorBox) -> MapPicture:
    """Soft grey shaded relief; flat ground at or below sea level in a faint water tint; gaps plain.

    elevation_m : (rows, columns) metres above sea level, north row first, NaN where unknown; at least 2 x 2.
    Light comes mostly from the north-west, weaker from west and north, so that no slope goes black.
    """
    ground = np.asarray(elevation_m, dtype=np.float64)
    if ground.ndim != 2 or min(ground.shape) < 2:
        raise ValueError(f"a relief needs a grid of at least 2 by 2 cells, not {ground.shape}")
    rows, columns = ground.shape
    stretch = np.cosh((box.south_m + box.north_m) / 2.0 / MERCATOR_RADIUS_M)  # Mercator metres per true metre
    cell_x_m = (box.east_m - box.west_m) / columns / stretch
    cell_y_m = (box.north_m - box.south_m) / rows / stretch
    known = np.isfinite(ground)
    filled = np.where(known, ground, 0.0)
    slope_south, slope_east = np.gradient(filled, cell_y_m, cell_x_m)

    # Exaggerate gentle country and hold back steep country, so that both stay quiet and legible.
    steepness = np.hypot(slope_east, slope_south)
    typical = float(np.percentile(steepness[known], 90)) if known.any() else 0.0
    gain = np.clip(0.55 / typical, 0.6, 8.0) if typical > 0.0 else 1.0
    east, south = slope_east * gain, slope_south * gain
    length = np.sqrt(1.0 + east**2 + south**2)
    shade = np.zeros_like(ground)
    for azimuth_deg, weight in ((315.0, 0.6), (270.0, 0.2), (0.0, 0.2)):
        azimuth = math.radians(azimuth_deg)
        light_east, light_north, light_up = math.sin(azimuth) * 0.71, math.cos(azimuth) * 0.71, 0.71
        shade += weight * np.maximum(0.0, (-east * light_east + south * light_north + light_up) / length)
    tone = np.clip((shade - 0.25) / 0.7, 0.0, 1.0)
    grey = RELIEF_DARK + (RELIEF_LIGHT - RELIEF_DARK) * tone
    picture = np.rint(grey).astype(np.uint8)
    picture[sea_cells(ground)] = _SEA
    picture[~known] = _UNKNOWN
    return MapPicture(_png(picture[np.newaxis], colours=_RELIEF_COLOURS), box)


def _png(bands: NDArray[np.uint8], colours: dict[int, tuple[int, int, int, int]] | None = None) -> bytes:
    """Bands (count, rows, columns) as PNG bytes; one band may carry a palette."""
    count, rows, columns = bands.shape
    with warnings.catch_warnings(), MemoryFile() as memory:
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with memory.open(
            driver="PNG", width=columns, height=rows, count=count, dtype="uint8", zlevel=6
        ) as sink:
            sink.write(bands)
            if colours is not None:
                sink.write_colormap(1, colours)
        return bytes(memory.read())

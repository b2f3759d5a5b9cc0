"""Relief and coverage pictures, read back with rasterio."""

from __future__ import annotations

import math

import numpy as np
import pytest
from rasterio.errors import NotGeoreferencedWarning
from rasterio.io import MemoryFile

from reach.drawings.maps.picture import CoverageOverlay, MercatorBox, chance_classes, relief_picture
from reach.drawings.style.palette import CHANCE_STEPS, GAP, RELIEF_DARK, WATER, rgb

BOX = MercatorBox(-4_290_000.0, 5_010_000.0, -4_280_000.0, 5_020_000.0)
pytestmark = pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
assert NotGeoreferencedWarning


def pixels(png: bytes) -> np.ndarray:
    """(3, rows, columns) red, green and blue as seen."""
    with MemoryFile(png) as memory, memory.open() as source:
        palette = source.colormap(1)
        colours = np.array([palette.get(n, (0, 0, 0, 0))[:3] for n in range(256)], dtype=np.uint8)
        return np.moveaxis(colours[source.read(1)], -1, 0)


def test_slopes_to_the_light_are_lighter_than_slopes_away() -> None:
    x = np.linspace(0.0, 500.0, 50)
    east_up = np.tile(x, (50, 1)) + 100.0  # faces west, towards the light
    light = pixels(relief_picture(east_up, BOX).png)[:, 25, 25]
    shade = pixels(relief_picture(east_up[:, ::-1], BOX).png)[:, 25, 25]
    assert light[0] > shade[0] >= RELIEF_DARK
    north_down = np.tile(np.linspace(0.0, 500.0, 50)[:, None], (1, 50)) + 100.0  # ground falls to the north
    assert pixels(relief_picture(north_down, BOX).png)[0, 25, 25] > shade[0]


def test_relief_is_grey_and_quiet(invented) -> None:
    bands = pixels(invented.relief().png).astype(int)
    land = bands[0] == bands[1]
    assert land.mean() > 0.8
    greys = bands[0][land]
    assert greys.min() >= RELIEF_DARK and 215 < greys.mean() < 250
    assert len(invented.relief().png) < 300_000


def test_sea_is_tinted_and_low_rough_land_is_not() -> None:
    ground = np.zeros((40, 40))
    ground[:, 20:] = 50.0 + np.arange(20) * 10.0
    below = np.full((40, 40), -3.0) + 40.0 * np.sin(np.arange(40))[:, None]  # rough ground below the sea
    assert tuple(pixels(relief_picture(ground, BOX).png)[:, 20, 5]) == WATER
    assert tuple(pixels(relief_picture(ground, BOX).png)[:, 20, 30]) != WATER
    seen = pixels(relief_picture(below, BOX).png)
    assert not (seen == np.array(WATER)[:, None, None]).all(axis=0).any()


def test_gaps_are_plain_and_marked_never_sea() -> None:
    ground = np.full((30, 30), 120.0)
    ground[10:15, 10:15] = np.nan
    seen = pixels(relief_picture(ground, BOX).png)
    assert tuple(seen[:, 12, 12]) == GAP
    assert tuple(seen[:, 25, 25]) not in (GAP, WATER)
    assert tuple(pixels(relief_picture(np.full((5, 5), np.nan), BOX).png)[:, 2, 2]) == GAP


def test_too_small_a_grid_is_refused() -> None:
    with pytest.raises(ValueError, match="2 by 2"):
        relief_picture(np.zeros((1, 9)), BOX)


def test_box_corners_against_pyproj() -> None:
    from pyproj import Transformer

    back = Transformer.from_crs("EPSG:3857", "EPSG:4326", always_xy=True)
    (south, west), (north, east) = BOX.corners_deg
    assert back.transform(BOX.west_m, BOX.south_m) == pytest.approx((west, south), abs=1e-9)
    assert back.transform(BOX.east_m, BOX.north_m) == pytest.approx((east, north), abs=1e-9)


def test_classes_by_chance() -> None:
    chance = np.array([[np.nan, 0.0, 0.4999, 0.5, 0.7, 0.9, 0.99, 1.0]])
    np.testing.assert_array_equal(chance_classes(chance), [[0, 0, 0, 1, 2, 3, 4, 4]])


def test_overlay_picture_has_the_steps_colours_and_see_through_nothing() -> None:
    classes = np.array([[0, 1], [2, 4]], dtype=np.uint8)
    picture = CoverageOverlay("any", classes, BOX).picture()
    with MemoryFile(picture.png) as memory, memory.open() as source:
        np.testing.assert_array_equal(source.read(1), classes)
        colours = source.colormap(1)
    assert colours[0][3] == 0
    for number, step in enumerate(CHANCE_STEPS, start=1):
        assert colours[number] == (*rgb(step.fill), round(step.opacity * 255))
    assert picture.box == BOX and math.isfinite(BOX.corners_deg[0][0])


def test_a_class_without_a_colour_is_refused() -> None:
    with pytest.raises(ValueError, match="class 9 has no colour"):
        CoverageOverlay("any", np.full((2, 2), 9, dtype=np.uint8), BOX).picture()

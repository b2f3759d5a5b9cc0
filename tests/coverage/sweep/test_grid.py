"""The ground cut out round a site: true distances and bearings, voids, and what is refused."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.coverage.sweep.grid import (
    fill_small_voids,
    grid_from_raster,
    radius_in_cells,
    sea_cells,
    site_grid,
)
from reach.errors import InputProblem, MissingTerrain, OutOfRange
from reach.geodesy import distance_and_bearing
from reach.stations import Position
from reach.terrain.tiles import Terrain
from tests.coverage.conftest import relief

SITE = Position(41.05, -38.05)
STEP = 1.0 / 1200.0


@pytest.fixture(scope="module")
def terrain(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Terrain]:
    """A tile of 0.2 degrees at 3 arc seconds: height says the place, 1000 m a degree of latitude above 41
    north."""
    folder = tmp_path_factory.mktemp("tiles")
    rows = 240
    latitude = 41.15 - (np.arange(rows) + 0.5) * STEP
    ground = np.repeat(((latitude - 41.0) * 1000.0 + 200.0)[:, None], rows, axis=1).astype(np.float32)
    ground[100:102, 60:62] = -9999.0
    with rasterio.open(
        folder / "plane.tif", "w", driver="GTiff", width=rows, height=rows, count=1,
        dtype="float32", crs="EPSG:4326", transform=from_origin(-38.15, 41.15, STEP, STEP), nodata=-9999.0,
    ) as sink:  # fmt: skip
        sink.write(ground, 1)
        sink.units = ("m",)
    with Terrain.open([folder], elevation_unit="m") as opened:
        yield opened


def test_cells_lie_where_distance_and_bearing_say(terrain: Terrain) -> None:
    grid = site_grid(terrain, SITE, radius_m=3000.0, cell_m=50.0, who="QK3AA")
    assert grid.elevation_m.shape == (121, 121)
    from pyproj import Transformer

    to_lonlat = Transformer.from_crs(grid.crs, "EPSG:4326", always_xy=True)
    for row, column in [(0, 60), (60, 118), (20, 33), (97, 80)]:
        x, y = grid.transform.c + (column + 0.5) * 50.0, grid.transform.f - (row + 0.5) * 50.0
        longitude, latitude = to_lonlat.transform(x, y)
        distance, bearing = distance_and_bearing(
            from_latitude_deg=SITE.latitude_deg, from_longitude_deg=SITE.longitude_deg,
            to_latitude_deg=latitude, to_longitude_deg=longitude,
        )  # fmt: skip
        assert grid.distance_m()[row, column] == pytest.approx(float(distance), abs=0.01)
        assert grid.bearing_deg()[row, column] == pytest.approx(float(bearing), abs=0.001)
        assert grid.elevation_m[row, column] == pytest.approx((latitude - 41.0) * 1000.0 + 200.0, abs=0.05)


def test_a_circle_beyond_the_tiles_is_unknown_there(terrain: Terrain) -> None:
    grid = site_grid(terrain, SITE, radius_m=15_000.0, cell_m=100.0, who="QK3AA")
    assert np.isnan(grid.elevation_m[0, 150]) and np.isfinite(grid.elevation_m[150, 150])


def test_a_site_outside_the_tiles_is_refused_by_name(terrain: Terrain) -> None:
    with pytest.raises(MissingTerrain, match=r"QK3ZZ.*40\.0"):
        site_grid(terrain, Position(40.0, -38.0), radius_m=3000.0, cell_m=50.0, who="QK3ZZ")


def test_small_voids_are_filled_and_large_ones_are_not() -> None:
    ground = relief(80, seed=1, slope=3.0, spread_m=50.0)
    holed = ground.copy()
    holed[10:14, 10:14] = np.nan
    holed[40:60, 40:60] = np.nan
    filled, cells = fill_small_voids(holed, cell_m=30.0)
    assert cells == 16
    assert np.isfinite(filled[10:14, 10:14]).all() and np.isnan(filled[40:60, 40:60]).all()
    known = np.isfinite(holed)
    assert np.array_equal(filled[known], ground[known])
    assert np.abs(filled[10:14, 10:14] - ground[10:14, 10:14]).max() < 15.0


@pytest.mark.parametrize(
    ("radius_m", "cell_m", "words"),
    [
        (0.0, 30.0, "radius of 0 m"),
        (-5.0, 30.0, "radius of -5 m"),
        (float("nan"), 30.0, "radius of nan"),
        (2e6, 30.0, "radius of 2000 km; valid: above 0, up to 500 km"),
        (50.0, 30.0, "only 2 cells"),
        (5000.0, 0.0, "cell of 0 m"),
        (5000.0, 5000.0, "cell of 5 km"),
    ],
)
def test_senseless_radii_and_cells_are_refused(radius_m: float, cell_m: float, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        radius_in_cells(radius_m=radius_m, cell_m=cell_m)


def test_a_metric_raster_is_read_cell_for_cell(tmp_path: Path) -> None:
    ground = relief(101, seed=2, slope=3.0, spread_m=50.0)
    path = tmp_path / "metric.tif"
    profile = {"driver": "GTiff", "width": 101, "height": 101, "count": 1, "dtype": "float32"}
    with rasterio.open(
        path, "w", crs="EPSG:32623", transform=from_origin(500_000, 4_600_000, 30, 30), **profile
    ) as sink:
        sink.write(ground, 1)
    x, y = 500_000 + 50.5 * 30.0, 4_600_000 - 40.5 * 30.0
    grid = grid_from_raster(path, easting_m=x, northing_m=y, radius_m=1200.0)
    assert np.array_equal(grid.elevation_m, ground[0:81, 10:91])
    with pytest.raises(InputProblem, match="does not hold the whole circle"):
        grid_from_raster(path, easting_m=x, northing_m=y, radius_m=1500.0)


def test_a_raster_in_degrees_is_not_taken_for_metres(tmp_path: Path) -> None:
    path = tmp_path / "degrees.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=10, height=10, count=1,
        dtype="float32", crs="EPSG:4326", transform=from_origin(-38, 41, 0.01, 0.01),
    ) as sink:  # fmt: skip
        sink.write(np.zeros((10, 10), np.float32), 1)
    with pytest.raises(InputProblem, match=r"degrees\.tif: the raster has no square cells in metres"):
        grid_from_raster(path, easting_m=-37.95, northing_m=40.95, radius_m=100.0)


def test_sea_is_flat_ground_at_zero_or_below() -> None:
    ground = np.full((6, 8), 30.0, np.float32)
    ground[:, 0] = 0.0
    ground[0, 7] = np.nan
    ground[2:5, 3:6] = -3.0  # a flat pan below sea level: its rim is a slope, its middle is flat
    ground[5, 7] = -2.0
    sea = sea_cells(ground)
    assert sea[:, 0].all() and sea.sum() == 7 and sea[3, 4]

"""Land cover: classes to P.1812 categories, heights along paths and at terminals, zones."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from pyproj import Geod
from rasterio.transform import from_origin

from reach.coverage.sweep.grid import cover_window_m
from reach.errors import InputProblem
from reach.propagation.choose import model_named
from reach.stations import Position
from reach.terrain.clutter import NO_CLASS, Clutter, LandCover, Zones, class_table
from reach.terrain.profile import ZONE_COASTAL, ZONE_INLAND, ZONE_SEA
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain


@pytest.fixture
def cover(tmp_path: Path) -> Path:
    """Stripes of WorldCover codes, 0.1 degree wide from 72 W: 10, 30, 50, 80, 77 (no such class), 0."""
    codes = np.repeat(np.array([10, 30, 50, 80, 77, 0], dtype="uint8"), 120)[None, :].repeat(700, axis=0)
    path = tmp_path / "cover.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=720, height=700, count=1, dtype="uint8",
        crs="EPSG:4326", nodata=0,
        transform=from_origin(-72.0, 42.0, 1 / 1200, 1 / 1200),
    ) as data:  # fmt: skip
        data.write(codes, 1)
    return path


LON = np.array([-71.95, -71.85, -71.75, -71.65])


def test_nearest_class_under_each_point(cover: Path) -> None:
    with LandCover(cover) as land:
        np.testing.assert_array_equal(land.codes(41.7, LON), [10, 30, 50, 80])
        np.testing.assert_array_equal(land.codes([41.7, 50.0], [-71.45, -71.95]), [NO_CLASS, NO_CLASS])
        assert land.codes(np.full((2, 3), 41.9), -71.95).shape == (2, 3)
        # a pixel west and east of a border between classes
        np.testing.assert_array_equal(land.codes(41.7, [-71.9 - 1e-5, -71.9 + 1e-5]), [10, 30])


def test_terminal_heights_are_those_of_p1812(cover: Path) -> None:
    # Rec. ITU-R P.1812, default representative clutter heights: open 10, suburban 10, trees 15 m, water 10
    # (same figures as Rec. ITU-R P.2108, 3.1)
    with LandCover(cover) as land:
        np.testing.assert_array_equal(land.terminal_height_m(41.7, LON), [15.0, 10.0, 10.0, 10.0])
        assert land.category_at(41.7, -71.95) is Clutter.URBAN_TREES
        assert land.category_at(0.0, 0.0) is None
    assert Clutter.DENSE_URBAN.terminal_height_m == 20.0


def test_a_window_of_heights_is_that_of_its_points(cover: Path) -> None:
    """Cells of a plane round a place, each the class under its middle, up to a pixel at the borders."""
    plane = "+proj=aeqd +lat_0=41.7 +lon_0=-71.8 +datum=WGS84 +units=m +no_defs"
    with LandCover(cover) as land:
        found = land.window_m((-15_000.0, -6_000.0, 15_000.0, 6_000.0), plane, 300.0)
        east = (np.arange(100) + 0.5) * 300.0 - 15_000.0
        north = 6_000.0 - (np.arange(40) + 0.5) * 300.0
        lon, lat, _ = Geod(ellps="WGS84").fwd(
            np.full(found.shape, -71.8),
            np.full(found.shape, 41.7),
            np.degrees(np.arctan2(east[None, :], north[:, None])),
            np.hypot(east[None, :], north[:, None]),
        )
        wanted = land.surrounding_height_m(lat, lon)
    assert found.shape == (40, 100) and found.dtype == np.float32
    assert set(np.unique(found)) == {0.0, 10.0, 15.0}
    assert (found == wanted).mean() > 0.98


def test_unknown_class_warns_and_counts_as_open(cover: Path) -> None:
    with LandCover(cover) as land:
        assert land.warnings == ()
        assert land.terminal_height_m(41.7, -71.55) == 10.0
        assert land.unknown_codes == {77}
        assert "class 77 is not known" in land.warnings[0]
    with LandCover(cover, overrides=[("77", 4.0)]) as land:
        assert land.terminal_height_m(41.7, -71.55) == 4.0
        assert land.warnings == ()


def test_user_heights_replace_the_defaults(cover: Path) -> None:
    with LandCover(cover, overrides=[("10", 22.0), (80, 1.5)]) as land:
        np.testing.assert_array_equal(land.terminal_height_m(41.7, LON), [22.0, 10.0, 10.0, 1.5])


def test_bad_overrides_all_at_once() -> None:
    with pytest.raises(InputProblem) as caught:
        class_table([("tree", 10.0), ("10", 900.0), ("20", 5.0)])
    assert [fault.problem.split()[0] for fault in caught.value.faults] == ['"tree"', "900"]


def test_every_known_class_has_plausible_heights() -> None:
    for row in class_table().values():
        assert row.category is not None
        assert 10.0 <= row.terminal_height_m <= 20.0 and row.path_height_m in (0.0, row.terminal_height_m)
        if row.category in (Clutter.WATER, Clutter.OPEN):
            assert row.path_height_m == 0.0


def test_clutter_along_a_path(cover: Path, geotiff_of: Callable[..., Path]) -> None:
    def ground(lat: Any, lon: Any) -> Any:
        return 50.0 + 0.0 * lat * lon

    tile = geotiff_of("a.tif", surface=ground, columns=720, rows=700, pixel_deg=1 / 1200)
    with Terrain.open([tile]) as terrain, LandCover(cover) as land:
        profile = sample_profile(terrain, Position(41.7, -71.99), Position(41.7, -71.61), land_cover=land)
        bare = sample_profile(terrain, Position(41.7, -71.99), Position(41.7, -71.61))
    lon = -71.99 + 0.38 * profile.distance_m / profile.length_m
    sure = np.abs((lon + 72.0) / 0.1 - np.round((lon + 72.0) / 0.1)) > 0.02
    sure &= np.minimum(profile.distance_m, profile.length_m - profile.distance_m) > 30.0
    expected = np.select([lon < -71.9, lon < -71.8, lon < -71.7], [15.0, 0.0, 10.0], 0.0)
    np.testing.assert_array_equal(profile.clutter_m[sure], expected[sure])
    np.testing.assert_array_equal(profile.ground_m, bare.ground_m)  # ground stays bare
    assert not bare.clutter_m.any()
    assert (profile.zone == ZONE_INLAND).all()


@pytest.mark.parametrize("step_m", [3.0, 5.0, 10.0, 15.0])
def test_trees_beside_an_antenna_are_no_nearer_on_finer_tiles(
    cover: Path, geotiff_of: Callable[..., Path], step_m: float
) -> None:
    """Nothing within 27 m of an end, P.2108, 3.1 (from memory): forest costs an end the same on fine tiles.

    The ridge makes the losses at both ends add to one that is there already, where they matter most.
    """

    def ground(lat: Any, lon: Any) -> Any:
        return 200.0 * np.exp(-(((lon + 71.95) / 0.008) ** 2)) + 0.0 * lat

    tile = geotiff_of("a.tif", surface=ground, columns=720, rows=700, pixel_deg=1 / 1200)
    ends = Position(41.7, -71.985), Position(41.7, -71.915)  # all in forest
    model = model_named("p1812")
    link = {"tx_height_m": 1.5, "rx_height_m": 2.0, "frequency_mhz": 146.0}

    def added_db(step_m: float) -> float:
        with Terrain.open([tile]) as terrain, LandCover(cover) as land:
            wooded = sample_profile(terrain, *ends, land_cover=land, step_m=step_m)
            bare = sample_profile(terrain, *ends, step_m=step_m)
        near = np.minimum(wooded.distance_m, wooded.length_m - wooded.distance_m) < 27.0
        np.testing.assert_array_equal(wooded.clutter_m, np.where(near, 0.0, 15.0))
        return model.loss(wooded, **link).loss_db - model.loss(bare, **link).loss_db

    assert added_db(step_m) == pytest.approx(added_db(30.0), abs=1.0)
    assert 10.0 < added_db(30.0) < 25.0


def test_sea_and_coast_from_water(cover: Path, geotiff_of: Callable[..., Path]) -> None:
    def ground(lat: Any, lon: Any) -> Any:  # shore at 71.7 W, rising westward, 150 m at 71.9 W
        return np.clip((-71.7 - lon) / 0.2 * 150.0, 0.0, None) + 0.0 * lat

    tile = geotiff_of("a.tif", surface=ground, columns=720, rows=700, pixel_deg=1 / 1200)
    with Terrain.open([tile]) as terrain, LandCover(cover, zones=Zones.FROM_WATER) as land:
        profile = sample_profile(terrain, Position(41.7, -71.99), Position(41.7, -71.61), land_cover=land)
    lon = -71.99 + 0.38 * profile.distance_m / profile.length_m
    assert (profile.zone[lon > -71.695] == ZONE_SEA).all()
    assert (profile.zone[(lon < -71.705) & (profile.ground_m < 99.0)] == ZONE_COASTAL).all()
    assert (profile.zone[profile.ground_m > 101.0] == ZONE_INLAND).all()


def test_corine_numbered_in_order_is_told_from_worldcover(tmp_path: Path) -> None:
    """The grid code 10 is green urban areas there and tree cover in WorldCover: no guess, a clear line."""
    path = tmp_path / "clc.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=3, height=1, count=1, dtype="uint8", crs="EPSG:4326",
        transform=from_origin(-72.0, 42.0, 0.1, 0.1),
    ) as data:  # fmt: skip
        data.write(np.array([[2, 10, 23]], dtype="uint8"), 1)
    with LandCover(path) as land:
        land.codes(41.95, [-71.95, -71.85, -71.75])
        assert land.warnings == (
            "clc.tif: class 2, 23 is not known and looks like CORINE's grid codes 1 to 44, whose 10 and 20 "
            "mean other things here; translate the raster to the level-3 codes 111 to 523.",
        )


def test_not_a_land_cover(tmp_path: Path, geotiff_of: Callable[..., Path]) -> None:
    with pytest.raises(InputProblem, match="cannot be read"):
        LandCover(tmp_path / "none.tif")
    with pytest.raises(InputProblem, match="whole-number classes"):
        LandCover(geotiff_of("a.tif", surface=lambda lat, lon: lat + lon))


@pytest.mark.parametrize(("name", "counted"), [("ground_dtm.tif", True), ("land_dsm.tif", False)])
def test_trees_within_the_heights_are_not_counted_again(
    cover: Path, geotiff_of: Callable[..., Path], name: str, counted: bool
) -> None:
    path = geotiff_of(name, surface=lambda lat, lon: 100.0 + 0.0 * lat * lon)
    a, b = Position(41.7, -71.98), Position(41.9, -71.76)  # woods, open land, houses
    with Terrain.open([path]) as terrain, LandCover(cover) as land:
        assert terrain.is_surface_model is not counted
        profile = sample_profile(terrain, a, b, land_cover=land)
    assert bool(profile.clutter_m.max() > 0.0) is counted


def test_of_two_kinds_of_tiles_each_counts_as_it_is(cover: Path, geotiff_of: Callable[..., Path]) -> None:
    flat = {"surface": lambda lat, lon: 100.0 + 0.0 * lat * lon, "columns": 12, "rows": 60}
    geotiff_of("west_dsm.tif", west=-72.0, **flat)
    path = geotiff_of("east_dtm.tif", west=-71.9, **flat)
    with Terrain.open([path.parent]) as terrain:
        assert terrain.is_surface_at([41.8, 41.8, 50.0], [-71.95, -71.85, 0.0]).tolist() == [
            True,
            False,
            False,
        ]


def test_a_grid_tells_what_its_heights_hold_already(cover: Path, geotiff_of: Callable[..., Path]) -> None:
    flat = {"surface": lambda lat, lon: 100.0 + 0.0 * lat * lon, "columns": 12, "rows": 60}
    geotiff_of("west_dsm.tif", west=-72.0, **flat)
    path = geotiff_of("east_dtm.tif", west=-71.9, **flat)
    box = (-72.0, 41.6, -71.8, 41.9)
    with Terrain.open([path.parent]) as terrain, LandCover(cover) as land:
        assert terrain.surface_window(box, "EPSG:4326", 0.1).tolist() == [[True, False]] * 3
        cover_m = cover_window_m(land, terrain, box, "EPSG:4326", 0.01)
        assert np.array_equal(np.abs(cover_m), land.window_m(box, "EPSG:4326", 0.01))
    assert (cover_m[:, :10] <= 0.0).all() and (cover_m[:, :10] < 0.0).any() and (cover_m[:, 10:] >= 0.0).all()

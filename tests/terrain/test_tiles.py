"""Reading elevation: formats, seams, holes, priority, coordinate systems, windows, memory."""

from __future__ import annotations

import time
import zipfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pyproj import CRS, Transformer
from rasterio.transform import from_origin

from reach.errors import InputProblem, MissingTerrain, OutOfRange
from reach.stations import Position
from reach.terrain._sampling_kernel import BLOCK_PX
from reach.terrain.blocks import BlockPool
from reach.terrain.lattice import lattice_of
from reach.terrain.tiles import Terrain

GeoTiff = Callable[..., Path]
Hgt = Callable[..., bytes]
INSIDE = [(41.9, -71.9), (41.7512, -71.6001), (41.5501, -71.98)]


def slope(lat: Any, lon: Any) -> Any:
    """A tilted plane, 300..1200 m over the degree that N41W072 covers."""
    return 300.0 + 500.0 * (lat - 41.0) + 400.0 * (lon + 72.0)


@pytest.fixture
def geotiff(geotiff_of: GeoTiff) -> GeoTiff:
    return partial(geotiff_of, surface=slope)


@pytest.fixture
def hgt(hgt_of: Hgt) -> Hgt:
    return partial(hgt_of, surface=slope)


def agree(terrain: Terrain, points: Any, *, within_m: float, surface: Any = slope) -> None:
    lat, lon = np.array(points, dtype=float).reshape(-1, 2).T
    got = terrain.sample(lat, lon)
    assert not np.isnan(got).any(), f"gaps at {np.c_[lat, lon][np.isnan(got)]}"
    worst = np.abs(got - surface(lat, lon)).max()
    assert worst <= within_m, f"{worst} m off"


@pytest.mark.filterwarnings("error::FutureWarning")
def test_one_point_may_be_given_in_any_shape(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        for lat, lon in ((41.9, [-71.9]), ([41.9], -71.9), (41.9, -71.9), ([[41.9]], [-71.9])):
            assert terrain.sample(lat, lon).ravel() == pytest.approx(slope(41.9, -71.9), abs=1e-3)
            assert terrain.step_m_at(lat, lon).ravel() == pytest.approx(terrain.tiles[0].resolution_m)


# formats -------------------------------------------------------------------------------------------------


def test_plane_is_reproduced_between_pixel_centres(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        agree(terrain, INSIDE, within_m=1e-3)  # float32 of about 1000 m


@pytest.mark.parametrize("name", ["N41W072.hgt", "n41w072.hgt"])
def test_srtm_tile_needs_no_unit(tmp_path: Path, hgt: Hgt, name: str) -> None:
    (tmp_path / name).write_bytes(hgt(south=41, west=-72))
    with Terrain.open([tmp_path]) as terrain:
        agree(terrain, [*INSIDE, (41.0, -72.0), (42.0, -71.0)], within_m=0.51)  # stored to the metre
        assert terrain.tiles[0].unit == "m"
        assert terrain.tiles[0].resolution_m == pytest.approx(92.7, abs=0.1)  # 3 arc seconds of a meridian


@pytest.mark.parametrize(
    ("zip_name", "member"),
    [
        ("N41W072.hgt.zip", "N41W072.hgt"),
        ("N41W072.SRTMGL1.hgt.zip", "N41W072.hgt"),
        ("NASADEM_HGT_n41w072.zip", "n41w072.hgt"),
        ("tiles of (the) club.zip", "deep/N41W072.hgt"),
    ],
)
def test_zipped_srtm_tiles(tmp_path: Path, hgt: Hgt, zip_name: str, member: str) -> None:
    with zipfile.ZipFile(tmp_path / zip_name, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(member, hgt(south=41, west=-72))
        archive.writestr("readme.txt", "tiles")
    with Terrain.open([tmp_path]) as terrain:
        agree(terrain, INSIDE, within_m=0.51)


def test_srtm_void_is_a_gap_never_zero(tmp_path: Path, hgt: Hgt) -> None:
    voids = tuple((row, column) for row in range(598, 603) for column in range(598, 603))
    (tmp_path / "N41W072.hgt").write_bytes(hgt(south=41, west=-72, voids=voids))
    with Terrain.open([tmp_path]) as terrain:
        assert np.isnan(terrain.sample(41.5, -71.5))
        agree(terrain, [(41.5 + 3.0 / 1200.0, -71.5)], within_m=0.51)  # the next row has ground again
        with pytest.raises(MissingTerrain, match=r"QK1ABC: no elevation at 41\.50000, -71\.50000; .*N41W072"):
            terrain.elevation_at(Position(41.5, -71.5), "QK1ABC")


def test_undeclared_void_mark_is_a_gap(geotiff: GeoTiff) -> None:
    holes = np.zeros((60, 60), dtype=bool)
    holes[30, 30] = True
    path = geotiff("a.tif", dtype="int16", surface=lambda lat, lon: np.where(holes, -9999, slope(lat, lon)))
    with Terrain.open([path]) as terrain:
        assert np.isnan(terrain.sample(42.0 - 30.5 / 120.0, -72.0 + 30.5 / 120.0))


def test_vrt_over_tiles(geotiff: GeoTiff, tmp_path: Path) -> None:
    geotiff("west.tif")
    (tmp_path / "view").mkdir()
    (tmp_path / "view" / "all.vrt").write_text(
        """<VRTDataset rasterXSize="60" rasterYSize="60"><SRS>EPSG:4326</SRS>
        <GeoTransform>-72.0, 0.008333333333333333, 0, 42.0, 0, -0.008333333333333333</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1"><UnitType>m</UnitType><SimpleSource>
        <SourceFilename relativeToVRT="1">../tiles/west.tif</SourceFilename><SourceBand>1</SourceBand>
        </SimpleSource></VRTRasterBand></VRTDataset>""",
        encoding="utf-8",
    )
    with Terrain.open([tmp_path / "view"]) as terrain:
        agree(terrain, INSIDE, within_m=1e-3)


def view_of(*names: str, extra: str = "") -> str:
    """A VRT as gdalbuildvrt writes it: no word on the unit."""
    sources = "".join(
        f"""<ComplexSource><SourceFilename relativeToVRT="1">../tiles/{name}</SourceFilename>
        <SourceBand>1</SourceBand>{extra}<SrcRect xOff="0" yOff="0" xSize="60" ySize="60"/>
        <DstRect xOff="{60 * i}" yOff="0" xSize="60" ySize="60"/></ComplexSource>"""
        for i, name in enumerate(names)
    )
    return f"""<VRTDataset rasterXSize="{60 * len(names)}" rasterYSize="60"><SRS>EPSG:4326</SRS>
        <GeoTransform>-72.0, 0.008333333333333333, 0, 42.0, 0, -0.008333333333333333</GeoTransform>
        <VRTRasterBand dataType="Float32" band="1">{sources}</VRTRasterBand></VRTDataset>"""


@pytest.mark.parametrize(("unit", "factor"), [("m", 1.0), ("ft", 0.3048)])
def test_vrt_is_in_the_unit_of_what_it_is_made_of(
    geotiff: GeoTiff, tmp_path: Path, unit: str, factor: float
) -> None:
    for name, west in (("west.tif", -72.0), ("east.tif", -71.5)):
        geotiff(name, west=west, unit=unit, surface=lambda lat, lon: slope(lat, lon) / factor)
    (tmp_path / "view").mkdir()
    (tmp_path / "view" / "all.vrt").write_text(view_of("west.tif", "east.tif"), encoding="utf-8")
    with Terrain.open([tmp_path / "view"]) as terrain:
        agree(terrain, [*INSIDE, (41.75, -71.2)], within_m=1e-3)
        assert "made of" in terrain.tiles[0].unit_from


@pytest.mark.parametrize(
    ("units", "extra"),
    [
        (("m", "ft"), ""),
        (("m", None), ""),
        (("m", "m"), "<ScaleOffset>0</ScaleOffset><ScaleRatio>2</ScaleRatio>"),
    ],
)
def test_vrt_of_doubtful_unit_is_asked_about(
    geotiff: GeoTiff, tmp_path: Path, units: tuple[str | None, str | None], extra: str
) -> None:
    for name, west, unit in zip(("west.tif", "east.tif"), (-72.0, -71.5), units, strict=True):
        geotiff(name, west=west, unit=unit)
    (tmp_path / "view").mkdir()
    (tmp_path / "view" / "all.vrt").write_text(view_of("west.tif", "east.tif", extra=extra), encoding="utf-8")
    with pytest.raises(InputProblem, match=r"metres or feet: all\.vrt"):
        Terrain.open([tmp_path / "view"])
    with Terrain.open([tmp_path / "view"], elevation_unit="m") as terrain:
        assert terrain.tiles[0].unit == "m"


def test_scaled_values(geotiff: GeoTiff) -> None:
    path = geotiff("a.tif", surface=lambda lat, lon: slope(lat, lon) * 10.0 - 1000.0, dtype="int16")
    with rasterio.open(path, "r+") as data:
        data.scales, data.offsets = (0.1,), (100.0,)
    with Terrain.open([path]) as terrain:
        agree(terrain, INSIDE, within_m=0.1)


@pytest.mark.parametrize("crs", ["EPSG:32619", "EPSG:3035"])
def test_projected_raster(tmp_path: Path, hgt: Hgt, crs: str) -> None:
    at = (41.75, -71.75) if crs == "EPSG:32619" else (50.5, 6.9)
    forward = Transformer.from_crs("EPSG:4326", crs, always_xy=True)
    x0, y0 = forward.transform(at[1], at[0])
    west, north, side = x0 - 10_000.0, y0 + 10_000.0, 100.0
    columns = np.arange(200)
    x, y = west + (columns + 0.5) * side, north - (columns + 0.5) * side
    height = 500.0 + (x[None, :] - x0) * 0.01 + (y[:, None] - y0) * 0.02
    with rasterio.open(
        tmp_path / "utm.tif", "w", driver="GTiff", width=200, height=200, count=1,
        dtype="float32", crs=crs,
        transform=from_origin(west, north, side, side),
    ) as data:  # fmt: skip
        data.write(height.astype("float32"), 1)
        data.set_band_unit(1, "metre")
    with Terrain.open([tmp_path]) as terrain:
        lat, lon = (
            np.array([at[0], at[0] + 0.03, at[0] - 0.05]),
            np.array([at[1], at[1] - 0.04, at[1] + 0.06]),
        )
        px, py = forward.transform(lon, lat)
        np.testing.assert_allclose(
            terrain.sample(lat, lon), 500.0 + (px - x0) * 0.01 + (py - y0) * 0.02, atol=2e-3
        )
        assert np.isnan(terrain.sample(at[0] + 0.2, at[1]))
        assert terrain.tiles[0].resolution_m == pytest.approx(100.0)


def test_real_land_from_a_packaged_sample(tmp_path: Path) -> None:
    """Hills, 344 x 403 at 3 arc seconds, shipped with matplotlib; ymin and ymax swapped there."""
    sample = (
        Path(pytest.importorskip("matplotlib").get_data_path()) / "sample_data" / "jacksboro_fault_dem.npz"
    )
    with np.load(sample) as data:
        heights = data["elevation"]
        south, north = sorted((float(data["ymin"]), float(data["ymax"])))
        west, dx, dy = float(data["xmin"]), float(data["dx"]), abs(float(data["dy"]))
    assert heights.shape == (344, 403) and (heights.min(), heights.max()) == (236, 1076)
    with rasterio.open(
        tmp_path / "hills.tif", "w", driver="GTiff", width=403, height=344, count=1,
        dtype="int16", crs="EPSG:4326",
        transform=from_origin(west, north, dx, dy),
    ) as raster:  # fmt: skip
        raster.write(heights.astype("int16"), 1)
    with Terrain.open([tmp_path], elevation_unit="m") as terrain:
        rows, columns = np.mgrid[0:344:7, 0:403:7]
        lat, lon = north - (rows + 0.5) * dy, west + (columns + 0.5) * dx
        np.testing.assert_allclose(terrain.sample(lat, lon), heights[::7, ::7], atol=1e-3)
        assert terrain.tiles[0].bounds[1] == pytest.approx(south, abs=dy)
        # between pixel centres: scipy's linear interpolation on the same grid
        interpolate = pytest.importorskip("scipy.interpolate")
        down, across = north - (np.arange(344) + 0.5) * dy, west + (np.arange(403) + 0.5) * dx
        reference = interpolate.RegularGridInterpolator((down[::-1], across), heights[::-1].astype(float))
        points = np.random.default_rng(6).uniform((down[-1], across[0]), (down[0], across[-1]), (5000, 2))
        np.testing.assert_allclose(terrain.sample(*points.T), reference(points), atol=1e-3)


# seams and priority --------------------------------------------------------------------------------------


def test_no_crack_between_adjoining_tiles(geotiff: GeoTiff) -> None:
    for column in range(2):
        for row in range(2):
            geotiff(f"t{column}{row}.tif", west=-72.0 + 0.5 * column, north=42.0 - 0.5 * row)
    rng = np.random.default_rng(1)
    near = rng.uniform(-0.6, 0.6, (2, 500)) / 120.0  # within 0.6 pixels of the seams
    along = rng.uniform(-0.4, 0.4, 500)
    crossing = np.c_[41.5 + near[0], -71.5 + along]
    beside = np.c_[41.5 + along, -71.5 + near[0]]
    corner = np.c_[41.5 + near[0], -71.5 + near[1]]
    points = np.concatenate([crossing, beside, corner])
    with Terrain.open([geotiff("t00.tif").parent]) as terrain:
        agree(terrain, points, within_m=2e-3)


def test_shared_edge_tiles_meet(tmp_path: Path, hgt: Hgt) -> None:
    for west in (-72, -71):
        (tmp_path / f"N41W{-west:03d}.hgt").write_bytes(hgt(south=41, west=west))
    lon = -71.0 + np.linspace(-1.0, 1.0, 81) / 1200.0
    with Terrain.open([tmp_path]) as terrain:
        agree(terrain, np.c_[np.full(81, 41.3333), lon], within_m=0.51)


def test_a_crack_up_to_half_a_pixel_wide_is_bridged(geotiff: GeoTiff) -> None:
    geotiff("west.tif")
    geotiff("east.tif", west=-71.5 + 0.4 / 120.0)
    lon = -71.5 + np.linspace(-1.0, 1.4, 49) / 120.0
    with Terrain.open([geotiff("west.tif").parent]) as terrain:
        agree(terrain, np.c_[np.full(49, 41.77), lon], within_m=2.0)  # a pixel's step on this slope is 3.3 m


def test_outer_edge_ends_after_the_pixel(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        assert not np.isnan(terrain.sample(41.75, -72.0 + 1e-6))
        assert np.isnan(terrain.sample(41.75, -72.0 - 1.0 / 120.0))


def test_finer_tile_wins_and_coarser_fills_its_holes(geotiff: GeoTiff, tmp_path: Path) -> None:
    geotiff("coarse.tif", surface=lambda lat, lon: 100.0 + 0.0 * lat)
    holes = np.zeros((100, 100), dtype=bool)
    holes[40:60, 40:60] = True
    geotiff(
        "fine.tif",
        west=-71.9,
        north=41.9,
        columns=100,
        rows=100,
        pixel_deg=1 / 1000,
        nodata=-32768,
        holes=holes,
        surface=lambda lat, lon: 200.0 + 0.0 * lat,
    )
    with Terrain.open([tmp_path / "tiles"]) as terrain:
        assert [tile.name for tile in terrain.tiles] == ["fine.tif", "coarse.tif"]
        assert terrain.sample(41.87, -71.87) == pytest.approx(200.0)
        assert terrain.sample(41.85, -71.85) == pytest.approx(100.0)  # in the hole
        assert terrain.sample(41.6, -71.6) == pytest.approx(100.0)
        assert terrain.step_m_at(41.87, -71.87) == pytest.approx(111.2, abs=0.2)
        assert np.isnan(terrain.step_m_at(10.0, 10.0))


def test_longitudes_beyond_180_are_the_same_place(geotiff: GeoTiff) -> None:
    path = geotiff("a.tif", west=288.0, surface=lambda lat, lon: slope(lat, lon - 360.0))
    with Terrain.open([path]) as terrain:
        agree(terrain, INSIDE, within_m=1e-3)


def test_not_a_number_gives_not_a_number(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        got = terrain.sample([np.nan, 41.75, np.inf], [-71.75, np.nan, -71.75])
    assert np.isnan(got).all()


# invariants ----------------------------------------------------------------------------------------------

_shared = settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


@_shared
@given(
    a=st.floats(-400, 400), b=st.floats(-400, 400), lat=st.floats(41.51, 41.99), lon=st.floats(-71.99, -71.51)
)
def test_any_plane_is_reproduced(geotiff: GeoTiff, a: float, b: float, lat: float, lon: float) -> None:
    def surface(y: Any, x: Any) -> Any:
        return 1000.0 + a * (y - 41.75) + b * (x + 71.75)

    with Terrain.open([geotiff("a.tif", surface=surface)]) as terrain:
        agree(terrain, [(lat, lon)], within_m=1e-3, surface=surface)


@_shared
@given(rise=st.floats(-100, 3000), seed=st.integers(0, 99))
def test_raising_the_land_raises_every_sample(geotiff: GeoTiff, rise: float, seed: int) -> None:
    rough = np.random.default_rng(seed).random((60, 60)) * 300.0
    lat, lon = np.random.default_rng(seed + 1).uniform((41.5, -72.0), (42.0, -71.5), (50, 2)).T
    with Terrain.open([geotiff("a.tif", surface=lambda y, x: rough)]) as low:
        before = low.sample(lat, lon)
    with Terrain.open([geotiff("a.tif", surface=lambda y, x: rough + rise)]) as high:
        np.testing.assert_allclose(high.sample(lat, lon), before + rise, atol=2e-3)
    assert before.min() >= rough.min() and before.max() <= rough.max()


# windows -------------------------------------------------------------------------------------------------


def test_window_in_its_own_coordinates(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        grid = terrain.window((-71.9, 41.6, -71.6, 41.8), "EPSG:4326", 0.01)
    assert grid.elevation_m.dtype == np.float32 and grid.elevation_m.shape == (20, 30)
    rows, columns = np.mgrid[0:20, 0:30]
    expected = slope(41.8 - (rows + 0.5) * 0.01, -71.9 + (columns + 0.5) * 0.01)
    np.testing.assert_allclose(grid.elevation_m, expected, atol=2e-3)
    assert grid.bounds == pytest.approx((-71.9, 41.6, -71.6, 41.8))


@pytest.mark.parametrize(
    "crs", ["EPSG:3857", "EPSG:32619", "+proj=aeqd +lat_0=41.75 +lon_0=-71.75 +datum=WGS84"]
)
def test_window_in_other_coordinates_agrees_with_points(geotiff: GeoTiff, crs: str) -> None:
    rough = np.random.default_rng(4).random((60, 60)) * 500.0
    with Terrain.open([geotiff("a.tif", surface=lambda y, x: rough).parent]) as terrain:
        x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(-71.75, 41.75)
        grid = terrain.window((x - 9000.0, y - 8000.0, x + 9000.0, y + 8000.0), crs, 250.0)
        rows, columns = np.mgrid[0 : grid.elevation_m.shape[0], 0 : grid.elevation_m.shape[1]]
        gx = grid.transform.c + (columns + 0.5) * grid.transform.a
        gy = grid.transform.f + (rows + 0.5) * grid.transform.e
        lon, lat = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(gx, gy)
        # interpolated coordinates: at most about a metre off here, on slopes up to 500 m in a 700 m pixel
        np.testing.assert_allclose(grid.elevation_m, terrain.sample(lat, lon), atol=0.7)


def test_window_keeps_gaps(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        grid = terrain.window((-72.2, 41.8, -71.8, 42.2), "EPSG:4326", 1 / 120)
    assert np.isnan(grid.elevation_m[:20]).all() and np.isnan(grid.elevation_m[:, :20]).all()
    assert not np.isnan(grid.elevation_m[25:, 25:]).any()


def test_coarse_window_averages(geotiff: GeoTiff) -> None:
    checks = np.indices((60, 60)).sum(axis=0) % 2 * 100.0
    with Terrain.open([geotiff("a.tif", surface=lambda y, x: checks).parent]) as terrain:
        grid = terrain.window((-71.95, 41.55, -71.55, 41.95), "EPSG:4326", 4 / 120)
    assert grid.elevation_m == pytest.approx(50.0, abs=0.1)


def rough_ground(rows: int, columns: int) -> Any:
    return np.random.default_rng(11).random((rows, columns)) * 500.0


def same_as_points(terrain: Terrain, crs: str, side_m: float, pixel_m: float) -> Any:
    """A window about the middle of a projection, asserted to hold what its points one by one do."""
    grid = terrain.window((-side_m, -side_m, side_m, side_m), crs, pixel_m, samples_per_side=1)
    rows, columns = grid.elevation_m.shape
    lat, lon = lattice_of(CRS(crs), grid.transform, rows=rows, columns=columns).places()
    np.testing.assert_allclose(grid.elevation_m, terrain.sample(lat, lon), atol=1e-4)
    return grid.elevation_m


@pytest.mark.parametrize("blocks", [4, 1000])
def test_a_window_holds_what_its_points_do_whatever_fits_into_memory(
    geotiff: GeoTiff, tmp_path: Path, blocks: int
) -> None:
    ground, pixel = rough_ground(600, 600), 1 / 3600
    finer = {"pixel_deg": pixel / 3, "columns": 500, "rows": 500, "west": -71.96, "north": 41.97}
    holes = np.zeros((600, 600), dtype=bool)
    holes[290:310, 100:200] = True
    geotiff("a.tif", surface=lambda y, x: ground, columns=600, rows=600, pixel_deg=pixel, holes=holes)
    geotiff(
        "b.tif",
        surface=lambda y, x: ground[:, :500],
        columns=500,
        rows=600,
        pixel_deg=pixel,
        west=-72.0 + 600 * pixel,
    )
    geotiff("fine.tif", surface=lambda y, x: rough_ground(500, 500), **finer)
    block_mb = (BLOCK_PX + 1) ** 2 * 4 / 1e6
    crs = "+proj=aeqd +lat_0=41.93 +lon_0=-71.84 +datum=WGS84"
    with Terrain.open([tmp_path / "tiles"], memory_mb=blocks * block_mb) as terrain:
        assert len(terrain.tiles) == 3
        elevation_m = same_as_points(terrain, crs, 9000.0, 30.0)
    assert 0.02 < np.isnan(elevation_m).mean() < 0.6  # beyond the tiles


def test_a_window_where_a_tile_has_a_projection_of_its_own(geotiff: GeoTiff, tmp_path: Path) -> None:
    geotiff("a.tif", surface=lambda y, x: rough_ground(60, 60))
    x, y = Transformer.from_crs("EPSG:4326", "EPSG:32619", always_xy=True).transform(-71.9, 41.9)
    with rasterio.open(
        tmp_path / "tiles" / "utm.tif", "w", driver="GTiff", width=200, height=200, count=1,
        dtype="float32", crs="EPSG:32619", transform=from_origin(x, y, 50.0, 50.0),
    ) as data:  # fmt: skip
        data.write(rough_ground(200, 200).astype("float32"), 1)
        data.set_band_unit(1, "m")
    with Terrain.open([tmp_path / "tiles"]) as terrain:
        crs = "+proj=aeqd +lat_0=41.85 +lon_0=-71.85 +datum=WGS84"
        assert not np.isnan(same_as_points(terrain, crs, 5000.0, 100.0)).any()


def test_a_window_across_180_degrees(geotiff: GeoTiff, tmp_path: Path) -> None:
    geotiff("east.tif", surface=lambda y, x: rough_ground(60, 60), west=179.5)
    geotiff("west.tif", surface=lambda y, x: rough_ground(60, 60), west=-180.0)
    with Terrain.open([tmp_path / "tiles"]) as terrain:
        crs = "+proj=aeqd +lat_0=41.75 +lon_0=180 +datum=WGS84"
        assert not np.isnan(same_as_points(terrain, crs, 9000.0, 200.0)).any()


def test_a_window_all_off_the_tiles_is_a_gap(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain:
        crs = "+proj=aeqd +lat_0=10 +lon_0=10 +datum=WGS84"
        assert np.isnan(same_as_points(terrain, crs, 9000.0, 200.0)).all()


@pytest.mark.parametrize("dtype", ["int16", "uint16", "int32", "float32", "float64"])
def test_a_void_mark_is_a_gap_in_every_kind_of_number(geotiff: GeoTiff, dtype: str) -> None:
    holes = np.zeros((60, 60), dtype=bool)
    holes[10:20, 10:20] = True
    nodata = 65535 if dtype == "uint16" else -32768
    path = geotiff("a.tif", surface=lambda y, x: slope(y, x).round(), dtype=dtype, nodata=nodata, holes=holes)
    lat, lon = 42.0 - (np.arange(60) + 0.5) / 120.0, -72.0 + (np.arange(60) + 0.5) / 120.0
    with Terrain.open([path]) as terrain:
        got = terrain.sample(lat[:, None], lon[None, :])
    np.testing.assert_array_equal(np.isnan(got), holes)
    np.testing.assert_allclose(got[~holes], slope(lat[:, None], lon[None, :]).round()[~holes], atol=0.02)


def test_empty_window_is_refused(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif").parent]) as terrain, pytest.raises(OutOfRange, match="empty"):
        terrain.window((-71.0, 41.0, -72.0, 42.0), "EPSG:4326", 0.01)


# memory --------------------------------------------------------------------------------------------------


def test_few_slots_give_the_same_answer(geotiff: GeoTiff) -> None:
    side = 5 * BLOCK_PX
    path = geotiff("big.tif", columns=side, rows=side, pixel_deg=1 / 2400, dtype="float32")
    rng = np.random.default_rng(3)
    lat, lon = rng.uniform((42.0 - side / 2400, -72.0), (42.0, -72.0 + side / 2400), (20_000, 2)).T
    with Terrain.open([path]) as ample, Terrain.open([path], memory_mb=0.001) as tight:
        assert tight._pool.pool.shape[0] == 4 < ample._pool.pool.shape[0]
        np.testing.assert_array_equal(tight.sample(lat, lon), ample.sample(lat, lon))


def test_memory_does_not_grow_with_the_folder(geotiff: GeoTiff) -> None:
    for i in range(40):
        geotiff(f"t{i:02d}.tif", west=-72.0 + 0.5 * (i % 8), north=42.0 - 0.5 * (i // 8))
    folder = geotiff("t00.tif").parent
    with Terrain.open([folder], memory_mb=2.0) as terrain:
        lat, lon = np.random.default_rng(2).uniform((39.6, -71.9), (41.9, -68.1), (5000, 2)).T
        agree(terrain, np.c_[lat, lon], within_m=2e-3)
        assert terrain._pool.pool.nbytes <= 2e6
        assert len(terrain._reader._open) <= 24


def test_no_raster_at_all(tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("the tiles are on the other disk", encoding="utf-8")
    with pytest.raises(InputProblem, match="no elevation raster was found"):
        Terrain.open([tmp_path])


# the compiled loops against a plain one ------------------------------------------------------------------


def plain_bilinear(heights: Any, west: float, north: float, pixel: float, lat: float, lon: float) -> float:
    """One point the slow way, from the definition: the four pixel centres around it."""
    rows, columns = heights.shape
    row = min(max((north - lat) / pixel - 0.5, 0.0), rows - 1.0)
    col = min(max((lon - west) / pixel - 0.5, 0.0), columns - 1.0)
    total = 0.0
    for r in {int(np.floor(row)), int(np.ceil(row))}:
        for c in {int(np.floor(col)), int(np.ceil(col))}:
            total += (1.0 - abs(row - r)) * (1.0 - abs(col - c)) * heights[r, c]
    return total


@pytest.mark.parametrize("size", [60, BLOCK_PX - 1, BLOCK_PX, BLOCK_PX + 1, 2 * BLOCK_PX + 3])
def test_blocks_agree_with_a_plain_loop(geotiff: GeoTiff, size: int) -> None:
    rng = np.random.default_rng(size)
    heights = (rng.random((size, size)) * 1000.0).astype("float32")
    heights[rng.random((size, size)) < 0.02] = np.nan
    path = geotiff("a.tif", columns=size, rows=size, pixel_deg=1 / 1200, surface=lambda y, x: heights)
    side = size / 1200
    lat, lon = rng.uniform((42.0 - side, -72.0), (42.0, -72.0 + side), (3000, 2)).T
    with Terrain.open([path]) as terrain:
        got = terrain.sample(lat, lon)
    plain = [plain_bilinear(heights, -72.0, 42.0, 1 / 1200, y, x) for y, x in zip(lat, lon, strict=True)]
    np.testing.assert_allclose(got, plain, atol=1e-3)  # NaN where and only where the plain loop has it
    assert 0.03 < np.isnan(got).mean() < 0.2


def test_points_in_a_row_find_the_finest_tile_as_each_alone_does(geotiff: GeoTiff) -> None:
    """Points along a line look first in the tile of the point before; finer tiles lie over coarse ones, in
    them, across their edges and at their corners."""
    rng = np.random.default_rng(5)
    for number, (west, north, columns, pixel_deg) in enumerate(
        [
            (-72.0, 42.0, 400, 1 / 400), (-71.0, 42.0, 400, 1 / 400), (-72.0, 41.0, 400, 1 / 400),
            (-71.6, 41.7, 200, 1 / 1200), (-71.1, 41.6, 240, 1 / 1200), (-71.09, 41.05, 200, 1 / 2400),
            (-71.55, 41.65, 60, 1 / 3600),
        ]
    ):  # fmt: skip
        level = 100.0 * number
        path = geotiff(
            f"t{number}.tif", west=west, north=north, columns=columns, rows=columns, pixel_deg=pixel_deg,
            surface=lambda y, x, level=level: level + 0.0 * y,
        )  # fmt: skip
    with Terrain.open([path.parent]) as terrain:
        assert np.isfinite(terrain._rim_px).any() and np.isinf(terrain._rim_px).any()
        for _ in range(30):
            (south, west), (north, east) = rng.uniform((39.9, -72.1), (42.1, -69.9), (2, 2))
            lat, lon = np.linspace(south, north, 4000), np.linspace(west, east, 4000)
            in_a_row = terrain.sample(lat, lon)
            mixed = rng.permutation(4000)
            rims, terrain._rim_px = terrain._rim_px, np.full_like(terrain._rim_px, np.inf)
            alone = np.empty(4000)
            alone[mixed] = terrain.sample(lat[mixed], lon[mixed])
            terrain._rim_px = rims
            np.testing.assert_array_equal(in_a_row, alone)


def test_threads_that_ask_at_once_get_what_one_gets(
    geotiff: GeoTiff, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With so little memory that each takes the other's blocks out; the desk's two pages ask like this."""
    bring = BlockPool.bring

    def slowly(pool: BlockPool, blocks: np.ndarray) -> None:
        bring(pool, blocks)
        time.sleep(0.002)  # the others come between the blocks and their use

    monkeypatch.setattr(BlockPool, "bring", slowly)
    for number in range(8):  # more than the four blocks it keeps at least
        folder = geotiff(f"t{number}.tif", west=-72.0 + 0.5 * number).parent
    rng = np.random.default_rng(1)
    lat = rng.uniform(41.6, 41.9, (40, 500))
    lon = -71.9 + 0.5 * (np.arange(40) % 8)[:, np.newaxis] + rng.uniform(0.0, 0.3, (40, 500))
    with Terrain.open([folder], memory_mb=0.3) as terrain:
        alone = [terrain.sample(one, other) for one, other in zip(lat, lon)]
        with ThreadPoolExecutor(4) as threads:
            together = list(threads.map(terrain.sample, lat, lon))
    np.testing.assert_array_equal(together, alone)

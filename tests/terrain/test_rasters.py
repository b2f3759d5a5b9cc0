"""What is taken for an elevation raster, in which unit, and what is said of the rest."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio

from reach.errors import InputProblem
from reach.terrain.rasters import find_tiles
from reach.terrain.tiles import Terrain
from reach.terrain.vertical_units import unit_named

GeoTiff = Callable[..., Path]


def flat(lat: Any, lon: Any) -> Any:
    return 1000.0 + 0.0 * lat * lon


@pytest.fixture
def geotiff(geotiff_of: GeoTiff) -> GeoTiff:
    return partial(geotiff_of, surface=flat)


def height_of(path: Path, **settings: str) -> float:
    with Terrain.open([path], **settings) as terrain:  # type: ignore[arg-type]
        return float(terrain.sample(41.75, -71.75))


# units ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("written", "unit"),
    [
        ("m", "m"), ("Metre", "m"), (" meters ", "m"), ("[m]", "m"), ("ft", "ft"), ("FEET", "ft"),
        ("US survey foot", "us-ft"), ("ftUS", "us-ft"), ("", None), (None, None),
        ("cm", None), ("degC", None),
    ],
)  # fmt: skip
def test_unit_names(written: str | None, unit: str | None) -> None:
    assert unit_named(written) == unit


@pytest.mark.parametrize(
    ("unit", "metres"), [("m", 1000.0), ("feet", 304.8), ("US survey foot", 1000.0 * 1200.0 / 3937.0)]
)
def test_band_unit_is_converted(geotiff: GeoTiff, unit: str, metres: float) -> None:
    assert height_of(geotiff("a.tif", unit=unit)) == pytest.approx(metres, abs=1e-4)


def test_feet_are_reported(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("a.tif", unit="ft")]) as terrain:
        assert terrain.warnings == ("a.tif: in feet (the raster's band); converted to metres.",)
    with Terrain.open([geotiff("a.tif", unit="m")]) as terrain:
        assert terrain.warnings == ()


@pytest.mark.parametrize(
    ("crs", "metres"),
    [
        ("EPSG:4326+5773", 1000.0),  # EGM96 height, metres
        ("EPSG:4269+8228", 304.8),  # NAVD88 height, feet
        ("EPSG:4269+6360", 1000.0 * 1200.0 / 3937.0),  # NAVD88 height, US survey feet
    ],
)
def test_unit_of_the_vertical_coordinate_system(geotiff: GeoTiff, crs: str, metres: float) -> None:
    assert height_of(geotiff("a.tif", unit=None, crs=crs)) == pytest.approx(metres, abs=1e-4)


def test_unit_in_a_tag(geotiff: GeoTiff) -> None:
    path = geotiff("a.tif", unit=None)
    with rasterio.open(path, "r+") as data:
        data.update_tags(UNITS="feet")
    assert height_of(path) == pytest.approx(304.8, abs=1e-4)


def test_silent_rasters_are_asked_about_all_in_one_line(geotiff: GeoTiff) -> None:
    for i in range(7):
        path = geotiff(f"quiet{i}.tif", unit=None)
    with pytest.raises(InputProblem) as caught:
        find_tiles([path.parent])
    text = str(caught.value)
    assert len(caught.value.faults) == 1 and "\n" not in text
    assert "quiet0.tif" in text and "and 2 more" in text
    assert 'write elevation_unit = "m" (or "ft") under [terrain] in net.toml' in text


def test_declared_unit_answers_for_silent_rasters_only(geotiff: GeoTiff) -> None:
    assert height_of(geotiff("a.tif", unit=None), elevation_unit="ft") == pytest.approx(304.8, abs=1e-4)
    path = geotiff("a.tif", unit="m")
    assert height_of(path, elevation_unit="ft") == pytest.approx(1000.0)
    with Terrain.open([path], elevation_unit="ft") as terrain:
        assert "in metres by the raster's band, which was believed over" in terrain.warnings[0]


def test_unknown_declared_unit(geotiff: GeoTiff) -> None:
    with pytest.raises(InputProblem, match='"yards" is not a unit of elevation; write "m" or "ft"'):
        find_tiles([geotiff("a.tif")], elevation_unit="yards")


@pytest.mark.parametrize("resolution", ["10", "30"])
def test_copernicus_name_means_metres_and_a_surface(geotiff: GeoTiff, resolution: str) -> None:
    path = geotiff(f"Copernicus_DSM_COG_{resolution}_N41_00_W072_00_DEM.tif", unit=None)
    with Terrain.open([path]) as terrain:
        assert terrain.is_surface_model
        assert terrain.tiles[0].unit == "m"
        assert "trees and roofs" in terrain.warnings[0]


def test_bare_earth_is_no_surface_model(geotiff: GeoTiff) -> None:
    with Terrain.open([geotiff("USGS_13_n42w072.tif")]) as terrain:
        assert not terrain.is_surface_model and terrain.warnings == ()


def test_heights_above_every_mountain_are_refused(geotiff: GeoTiff) -> None:
    path = geotiff("a.tif", surface=lambda lat, lon: 14_000.0 + 0.0 * lat * lon)
    with (
        Terrain.open([path]) as terrain,
        pytest.raises(InputProblem, match=r"a\.tif: 14000 m .*elevation_unit"),
    ):
        terrain.sample(41.75, -71.75)


# faults --------------------------------------------------------------------------------------------------


def test_every_fault_at_once(geotiff: GeoTiff, tmp_path: Path) -> None:
    folder = geotiff("good.tif").parent
    (folder / "N41W072.hgt").write_bytes(b"\0" * 5000)  # cut short
    (folder / "hills.hgt").write_bytes(bytes(1201 * 1201 * 2))  # renamed
    (folder / "broken.tif").write_bytes(b"II*\0 and nothing more")
    (folder / "page.tif").write_text("<html>404 not found</html>", encoding="utf-8")
    (folder / "half.zip").write_bytes(b"PK\3\4 half")
    with pytest.raises(InputProblem) as caught:
        find_tiles([folder, tmp_path / "nowhere"])
    lines = str(caught.value).splitlines()
    assert len(lines) == len(caught.value.faults) == 6
    for name in ("N41W072.hgt", "hills.hgt", "broken.tif", "page.tif", "half.zip", "nowhere"):
        assert sum(name in line.split(":")[0] or name in line for line in lines) >= 1, name
    assert sum("cut short or renamed" in line for line in lines) == 2


def test_other_files_are_passed_over(geotiff: GeoTiff) -> None:
    folder = geotiff("good.tif").parent
    (folder / "readme.md").write_text("# tiles", encoding="utf-8")
    (folder / "list.csv").write_text("a,b\n1,2\n", encoding="utf-8")
    (folder / "noext").write_text("anything", encoding="utf-8")
    (folder / ".hidden.tif").write_text("x", encoding="utf-8")
    with zipfile.ZipFile(folder / "papers.zip", "w") as archive:
        archive.writestr("letter.txt", "hello")
    assert [tile.name for tile in find_tiles([folder])] == ["good.tif"]


def test_folders_below_are_searched_and_single_files_taken(geotiff: GeoTiff, tmp_path: Path) -> None:
    deep = geotiff("a.tif").parent / "x" / "y"
    deep.mkdir(parents=True)
    (deep / "b.tif").write_bytes(geotiff("a.tif").read_bytes())
    assert [tile.name for tile in find_tiles([tmp_path])] == ["a.tif", "b.tif"]
    assert [tile.name for tile in find_tiles([deep / "b.tif"])] == ["b.tif"]


def test_a_picture_is_not_elevation(geotiff: GeoTiff) -> None:
    path = geotiff("hillshade.tif", dtype="uint8", surface=lambda lat, lon: 100.0 + 0.0 * lat * lon)
    with pytest.raises(InputProblem, match=r"hillshade\.tif: .*no elevation; move it out"):
        find_tiles([path])


def test_a_raster_without_coordinates(geotiff: GeoTiff) -> None:
    path = geotiff("a.tif", crs=None)
    with pytest.raises(InputProblem, match=r"a\.tif: this raster does not say its coordinate system"):
        find_tiles([path])


def test_damage_found_while_reading(geotiff: GeoTiff) -> None:
    noise = np.random.default_rng(1).random((400, 400))
    path = geotiff("a.tif", columns=400, rows=400, unit=None, surface=lambda lat, lon: noise)
    content = path.read_bytes()
    half = len(content) // 2
    path.write_bytes(content[:half])  # the directory comes first, so GDAL opens it
    with pytest.raises(InputProblem, match=r"a\.tif: this raster is cut short: at least \d+,\d+ bytes"):
        Terrain.open([path], elevation_unit="m")
    path.write_bytes(content)
    with rasterio.open(path) as data:
        values, profile = data.read(1), data.profile
    with rasterio.open(path, "w", **(profile | {"compress": "deflate"})) as data:
        data.write(values, 1)
    squeezed = bytearray(path.read_bytes())
    squeezed[len(squeezed) // 2 : len(squeezed) // 2 + 4000] = bytes(4000)
    path.write_bytes(squeezed)
    with (
        Terrain.open([path], elevation_unit="m") as terrain,
        pytest.raises(InputProblem, match=r"a\.tif: .*damaged or cut short"),
    ):
        terrain.sample(42.0 - np.arange(400) / 120, -71.0)

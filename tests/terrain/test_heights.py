"""Surface models told from bare ground: by the file's name, by its tags, by its folders, by its format."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import rasterio

from reach.terrain.heights import Heights, heights_of
from reach.terrain.tiles import Terrain

# names of published products (from memory): what their own documents call them
NAMES = [
    ("Copernicus_DSM_COG_10_N41_00_W072_00_DEM.tif", Heights.SURFACE),
    ("ALPSMLC30_N042W072_DSM.tif", Heights.SURFACE),
    ("ASTGTMV003_N42W072_dem.tif", Heights.SURFACE),
    ("NASADEM_HGT_n42w072.tif", Heights.SURFACE),
    ("SRTMGL1_N42W072.tif", Heights.SURFACE),
    ("N42W072.hgt", Heights.SURFACE),
    ("N42W072_dtm.hgt", Heights.GROUND),
    ("USGS_13_n42w072.tif", Heights.UNSAID),
    ("dtm_5m_sheet_12.tif", Heights.GROUND),
    ("dgm1_32_390_5820.tif", Heights.UNSAID),
    ("dsmith_farm.tif", Heights.UNSAID),
    ("valley.tif", Heights.UNSAID),
]


@pytest.mark.parametrize(("name", "kind"), NAMES)
def test_by_name(name: str, kind: Heights) -> None:
    driver = "SRTMHGT" if name.endswith(".hgt") else "GTiff"
    assert heights_of(name=name, tags=(), folders=(), driver=driver) is kind


@pytest.mark.parametrize(
    ("tags", "kind"),
    [
        ({"TIFFTAG_IMAGEDESCRIPTION": "Digital Surface Model, first return"}, Heights.SURFACE),
        ({"product": "bare-earth DEM"}, Heights.GROUND),
        ({"TIFFTAG_IMAGEDESCRIPTION": "digital terrain model made from a DSM"}, Heights.GROUND),
        ({"SOFTWARE": "x"}, Heights.UNSAID),
    ],
)
def test_by_tags(tags: dict[str, str], kind: Heights, geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 0.0 * lat * lon)
    with rasterio.open(path, "r+") as data:
        data.update_tags(**tags)
    with Terrain.open([path]) as terrain:
        assert terrain.tiles[0].heights is kind


@pytest.mark.parametrize(("folder", "kind"), [("dtm", Heights.GROUND), ("surface", Heights.SURFACE)])
def test_by_folder(folder: str, kind: Heights, geotiff_of: Callable[..., Path]) -> None:
    path = geotiff_of("a.tif", surface=lambda lat, lon: 0.0 * lat * lon, folder=folder)
    with Terrain.open([path.parent]) as terrain:
        assert terrain.tiles[0].heights is kind


def test_radar_tiles_are_a_surface_until_a_word_says_otherwise(
    tmp_path: Path, hgt_of: Callable[..., bytes]
) -> None:
    content = hgt_of(south=41, west=-72, surface=lambda lat, lon: 100.0 + 0.0 * lat * lon)
    for folder, is_surface in (("terrain", True), ("bare", False)):
        (tmp_path / folder).mkdir()
        (tmp_path / folder / "N41W072.hgt").write_bytes(content)
        with Terrain.open([tmp_path / folder]) as terrain:
            assert terrain.is_surface_model is is_surface
            assert ('put "dtm" into the file' in " ".join(terrain.warnings)) is is_surface

"""Fetching a part of a raster from a server on this machine: as it should be, and with every fault."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import rasterio

from reach.files import Existing
from reach.machinery.progress import untold
from reach.terrain.fetching.fetch import covers, fetch_part, write_sea
from reach.terrain.fetching.remote_file import (
    CHUNK,
    FetchProblem,
    NotThere,
    RemoteFile,
    Tally,
    check_address,
)
from reach.terrain.fetching.sources import COVER_10M, GROUND_10M, SOURCES, SURFACE_30M
from reach.terrain.rasters import find_tiles
from reach.terrain.tiles import Terrain
from tests.terrain.fetching.conftest import Serve, heights

BOX = (-37.9, 41.3, -37.8, 41.4)


def fetch(server: str, file: Path, box: tuple[float, float, float, float] = BOX) -> Tally:
    (part,) = SURFACE_30M.parts(box, server=server)
    tally = Tally()
    fetch_part(
        SURFACE_30M, part, box, file, existing=Existing.KEEP, tally=tally, progress=untold, pause_s=0.01
    )
    return tally


def test_names_and_addresses() -> None:
    """Names as in the data sets' documentation (from memory); the ground data names the north-west corner."""
    (surface,) = SURFACE_30M.parts((-71.5, 42.2, -71.2, 42.8))
    assert surface.address.endswith(
        "/Copernicus_DSM_COG_10_N42_00_W072_00_DEM/Copernicus_DSM_COG_10_N42_00_W072_00_DEM.tif"
    )
    (ground,) = GROUND_10M.parts((-71.5, 42.2, -71.2, 42.8))
    assert ground.name == "USGS_13_n43w072.tif"
    assert ground.bounds == surface.bounds == (-72, 42, -71, 43)
    (cover,) = COVER_10M.parts((-71.5, 42.2, -71.2, 42.8))
    assert cover.name == "ESA_WorldCover_10m_2021_v200_N42W072_Map.tif"
    south = SURFACE_30M.parts((-0.5, -0.5, 0.5, 0.5))
    assert [part.name[22:37] for part in south] == [
        "N00_00_E000_00_", "N00_00_W001_00_", "S01_00_E000_00_", "S01_00_W001_00_",
    ]  # fmt: skip
    over_the_date_line = SURFACE_30M.parts((179.5, 10.2, 180.5, 10.4))
    assert [part.bounds[0] for part in over_the_date_line] == [179, -180]
    assert all(source.credit and source.licence for source in SOURCES)


def test_a_source_says_how_its_terms_are_known() -> None:
    assert all("from memory" in source.known for source in SOURCES if not source.read_on)
    assert "on 2026-11-24" in replace(SURFACE_30M, read_on="2026-11-24").known


def test_only_the_window_is_fetched_and_kept(serve: Serve, data_set: Path, tmp_path: Path) -> None:
    server = serve()
    file = tmp_path / "Copernicus_DSM_COG_10_N41_00_W038_00_DEM.tif"
    tally = fetch(server.way("plain"), file)
    whole = next(data_set.rglob("Copernicus*.tif")).stat().st_size
    assert tally.bytes < whole
    with rasterio.open(file) as kept:
        assert kept.height == pytest.approx(361, abs=1) and kept.width == pytest.approx(361, abs=1)
        west, south, east, north = kept.bounds
        assert west <= BOX[0] and south <= BOX[1] and east >= BOX[2] and north >= BOX[3]
        column = round((west + 38.0) * 3600.0 + 0.5)
        row = round((42.0 - north) * 3600.0 + 0.5)
        expected = heights(3600, 3600)[row : row + kept.height, column : column + kept.width]
        assert np.array_equal(kept.read(1), expected)
    assert covers(file, BOX)
    assert not covers(file, (-37.9, 41.3, -37.7, 41.4))
    (tile,) = find_tiles([file])
    assert tile.is_surface_model and tile.unit == "m"


@pytest.mark.parametrize("way", ["busy", "cut-once"])
def test_what_breaks_once_is_asked_for_again(serve: Serve, tmp_path: Path, way: str) -> None:
    file = tmp_path / "tile.tif"
    fetch(serve().way(way), file)
    assert covers(file, BOX)


@pytest.mark.parametrize(
    ("way", "said"),
    [
        ("cut", "connection broke"),
        ("elsewhere", "sends on to tiles.example.org"),
        ("whole", "does not give parts"),
        ("wrong-part", "other parts than were asked for"),
        ("grows", "size changed"),
        ("sealed", "answers 403"),
    ],
)
def test_faults_are_told_and_leave_nothing(serve: Serve, tmp_path: Path, way: str, said: str) -> None:
    server = serve()
    with pytest.raises(FetchProblem, match=said):
        fetch(server.way(way), tmp_path / "tile.tif")
    assert not list(tmp_path.glob("*.tif")) and not list(tmp_path.glob(".*"))
    assert not any("example.org" in line for line in server.asked)


def test_a_part_the_data_set_lacks(serve: Serve, tmp_path: Path) -> None:
    with pytest.raises(NotThere):
        fetch(serve().way("plain"), tmp_path / "tile.tif", (-36.9, 41.3, -36.8, 41.4))
    assert not list(tmp_path.glob("*.tif"))


def test_nobody_listening(tmp_path: Path) -> None:
    with pytest.raises(FetchProblem, match="connection broke"):
        fetch("http://127.0.0.1:9", tmp_path / "tile.tif")


def test_a_file_that_is_not_what_its_name_says(serve: Serve, data_set: Path, tmp_path: Path) -> None:
    """A tile of another place under this one's name, a picture, and plain rubbish."""
    name = "Copernicus_DSM_COG_10_N44_00_W038_00_DEM"
    (data_set / name).mkdir(exist_ok=True)
    file = data_set / name / f"{name}.tif"
    box = (-37.9, 44.3, -37.8, 44.4)
    server = serve()
    file.write_bytes(next(data_set.rglob("*_N41_*.tif")).read_bytes())
    with pytest.raises(FetchProblem, match="does not cover what its name says"):
        fetch(server.way("plain"), tmp_path / "tile.tif", box)
    file.write_bytes(next(data_set.rglob("ESA*.tif")).read_bytes())
    with pytest.raises(FetchProblem, match="uint8"):
        fetch(server.way("plain"), tmp_path / "tile.tif", box)
    file.write_bytes(b"<html>please log in</html>" * 100)
    with pytest.raises(FetchProblem, match="no raster that can be read"):
        fetch(server.way("plain"), tmp_path / "tile.tif", box)
    assert not list(tmp_path.glob("*.tif"))


def test_a_remote_file_reads_as_a_file(serve: Serve, data_set: Path) -> None:
    local = next(data_set.rglob("Copernicus*_N41_*.tif"))
    data = local.read_bytes()
    (part,) = SURFACE_30M.parts(BOX, server=serve().way("plain"))
    with RemoteFile(part.address) as remote:
        assert remote.size == len(data)
        for at, length in ((0, 16), (CHUNK - 5, 10), (len(data) - 7, 100), (3 * CHUNK, 2 * CHUNK + 1)):
            remote.seek(at)
            assert remote.read(length) == data[at : at + length]
        remote.seek(-4, 2)
        assert remote.read() == data[-4:]


@pytest.mark.parametrize(
    "address", ["ftp://127.0.0.1/x", "http://example.org/x", "file:///etc/passwd", "https://", "tiles"]
)
def test_addresses_that_are_never_asked(address: str) -> None:
    with pytest.raises(FetchProblem, match="not an address"):
        check_address(address)


def test_sea_on_the_users_word(tmp_path: Path) -> None:
    write_sea("S01W002", tmp_path / "sea.tif", existing=Existing.KEEP)
    with Terrain.open([tmp_path]) as terrain:
        assert terrain.sample([-0.5, -0.999], [-1.5, -1.001]).tolist() == [0.0, 0.0]
        assert np.isnan(terrain.sample(0.5, -1.5))

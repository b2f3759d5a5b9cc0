"""The invented land: the same every time, and shaped like land."""

from __future__ import annotations

import heapq
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray

from reach.demo.relief import make_relief, relief_strips
from reach.errors import OutputProblem
from reach.files import Existing
from reach.stations import Position
from reach.terrain.sampling import sample_profile
from reach.terrain.tiles import Terrain

KEPT = Path(__file__).resolve().parents[2] / "dem_samples"


@pytest.fixture(scope="module")
def land() -> NDArray[np.int16]:
    return np.vstack(relief_strips())


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("relief")
    seen: list[tuple[int, int]] = []
    (made / "relief_N4150_W03850.tif").write_text("an older tile", encoding="utf-8")
    paths = make_relief(
        made, existing=Existing.REPLACE, progress=lambda done, total: seen.append((done, total))
    )
    assert sorted(made.iterdir()) == sorted(paths)
    assert seen == [(i, 12) for i in range(1, 13)]
    return made


def test_kept_tiles_are_what_the_script_makes(folder: Path) -> None:
    names = sorted(path.name for path in KEPT.glob("*.tif"))
    assert names == sorted(path.name for path in folder.glob("*.tif"))
    for name in names:
        with rasterio.open(KEPT / name) as kept, rasterio.open(folder / name) as made:
            np.testing.assert_array_equal(kept.read(1), made.read(1), err_msg=name)
            assert kept.transform == made.transform and kept.units == made.units == ("m",)
            assert kept.tags()["AREA_OR_POINT"] == "Area"


def test_kept_tiles_stay_small() -> None:
    sizes = [path.stat().st_size for path in KEPT.glob("*.tif")]
    assert sum(sizes) < 8e6 and max(sizes) < 1.5e6


def test_tiles_are_read_as_one_land_without_gaps(folder: Path, land: NDArray[np.int16]) -> None:
    with Terrain.open([folder]) as terrain:
        assert len(terrain.tiles) == 12 and terrain.warnings == ()
        rows, columns = np.mgrid[0:2700:97, 0:3600:101]
        lat, lon = 41.75 - (rows + 0.5) / 3600, -38.5 + (columns + 0.5) / 3600
        np.testing.assert_allclose(terrain.sample(lat, lon), land[rows, columns], atol=1e-3)
        across = sample_profile(terrain, Position(41.01, -38.49), Position(41.74, -37.51))
        assert across.gaps_m == 0.0


def test_existing_tiles_are_kept_unless_asked(folder: Path) -> None:
    before = {path.name: path.stat().st_mtime_ns for path in folder.iterdir()}
    with pytest.raises(OutputProblem, match="already exists"):
        make_relief(folder)
    assert {path.name: path.stat().st_mtime_ns for path in folder.iterdir()} == before


def test_sea_coast_plain_and_mountains(land: NDArray[np.int16]) -> None:
    assert land.min() == 0 and 900 <= land.max() <= 1100
    sea = land == 0
    assert 0.2 < sea.mean() < 0.4
    assert sea[:, 0].mean() > 0.9 and sea[-1].mean() > 0.9  # open sea west and south
    plain = land[1000:1700, 1050:1500]
    assert not (plain == 0).all() and np.percentile(plain, 95) < 100


def test_a_ridge_shuts_the_valley_off_from_the_plain(land: NDArray[np.int16]) -> None:
    """From 41.20 to 41.56 N valley and plain meet nowhere below 300 m; the crest reaches 580 m."""
    ndimage = pytest.importorskip("scipy.ndimage")
    north, south = round((41.75 - 41.56) * 3600), round((41.75 - 41.20) * 3600)
    band = land[north:south, 1300:2700]
    low_ground, _ = ndimage.label(band < 300, structure=np.ones((3, 3)))
    plain, valley = low_ground[500, 20], low_ground[720, round((38.5 - 37.85) * 3600) - 1300]
    assert plain > 0 and valley > 0 and plain != valley
    crest = band[:, :1100].max(axis=1)
    assert 350 < np.median(crest) < 500 and 550 < crest.max() < 650


def test_slopes_are_those_of_land(land: NDArray[np.int16]) -> None:
    down, across = np.gradient(land[::3, ::3].astype(float), 92.7, 69.6)
    steepness = np.degrees(np.arctan(np.hypot(down, across)))[land[::3, ::3] > 0]
    assert 30.0 < steepness.max() < 60.0
    assert 3.0 < steepness.mean() < 15.0
    assert np.percentile(steepness, 99) < 40.0


def flooded(height: NDArray[np.float64]) -> NDArray[np.float64]:
    """Every hollow raised until it spills to the sea: a plain priority flood, written anew here."""
    level = np.full(height.shape, np.inf)
    queue: list[tuple[float, int, int]] = []
    rows, columns = height.shape
    for r in range(rows):
        for c in range(columns):
            if height[r, c] <= 0.0:
                level[r, c] = 0.0
                heapq.heappush(queue, (0.0, r, c))
    while queue:
        here, r, c = heapq.heappop(queue)
        for rr in range(max(r - 1, 0), min(r + 2, rows)):
            for cc in range(max(c - 1, 0), min(c + 2, columns)):
                if level[rr, cc] == np.inf:
                    level[rr, cc] = max(here, height[rr, cc])
                    heapq.heappush(queue, (level[rr, cc], rr, cc))
    return level


def test_valleys_drain_to_the_sea(land: NDArray[np.int16]) -> None:
    """Filled to the brim, hollows hold little: the land is rivers, not lakes (lowest of each 280 m cell)."""
    lowest = land.reshape(300, 9, 400, 9).min(axis=(1, 3)).astype(float)
    depth = flooded(lowest) - lowest
    on_land = lowest > 0
    assert np.isfinite(depth).all()
    assert depth[on_land].mean() < 0.01 * lowest[on_land].mean()
    assert (depth[on_land] > 10.0).mean() < 0.01
    # noise of the same heights, shuffled, would be all hollows
    shuffled = lowest.copy()
    shuffled[on_land] = np.random.default_rng(1).permutation(lowest[on_land])
    assert (flooded(shuffled) - shuffled)[on_land].mean() > 20 * depth[on_land].mean()

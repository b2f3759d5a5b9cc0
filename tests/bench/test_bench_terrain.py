"""Sampling elevation: time against scipy's interpolator on the same points, memory against the folder's size.

Run with `pytest tests/bench/test_bench_terrain.py --benchmark-enable`; figures are in extra_info.
"""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from rasterio.transform import from_origin

from reach.stations import Position
from reach.terrain.sampling import profile_chunks
from reach.terrain.tiles import Terrain

SOUTH, WEST, PIXEL = 41.0, -38.0, 1 / 3600
SIDE = 900  # pixels to a tile


def write_tiles(folder: Path, across: int, down: int) -> None:
    rng = np.random.default_rng(1)
    for i in range(across):
        for j in range(down):
            heights = np.cumsum(rng.normal(0.0, 1.0, (SIDE, SIDE)), axis=1) + 500.0
            with rasterio.open(
                folder / f"t{i}_{j}.tif", "w", driver="GTiff", width=SIDE, height=SIDE, count=1,
                dtype="float32",
                crs="EPSG:4326", transform=from_origin(WEST + 0.25 * i, SOUTH + 0.25 * (j + 1), PIXEL, PIXEL),
            ) as data:  # fmt: skip
                data.write(heights.astype("float32"), 1)
                data.set_band_unit(1, "m")


def best_s(call: Callable[[], object], rounds: int = 3) -> float:
    times = []
    for _ in range(rounds):
        begin = time.perf_counter()
        call()
        times.append(time.perf_counter() - begin)
    return min(times)


def test_sampling_against_scipy(benchmark: Any, tmp_path: Path) -> None:
    if benchmark.disabled:
        pytest.skip("measures time; run with --benchmark-enable")
    interpolate = pytest.importorskip("scipy.interpolate")
    write_tiles(tmp_path, 1, 1)
    lat, lon = (
        np.random.default_rng(2)
        .uniform((SOUTH + 0.001, WEST + 0.001), (SOUTH + 0.249, WEST + 0.249), (10**6, 2))
        .T
    )
    with rasterio.open(tmp_path / "t0_0.tif") as data:
        heights = data.read(1).astype(float)
    down = SOUTH + 0.25 - (np.arange(SIDE) + 0.5) * PIXEL
    across = WEST + (np.arange(SIDE) + 0.5) * PIXEL
    reference = interpolate.RegularGridInterpolator((down[::-1], across), heights[::-1])
    with Terrain.open([tmp_path]) as terrain:
        np.testing.assert_allclose(terrain.sample(lat, lon), reference((lat, lon)), atol=1e-3)
        own_s = best_s(lambda: terrain.sample(lat, lon))
        benchmark.extra_info["points a second"] = round(lat.size / own_s)
        benchmark.extra_info["times faster than scipy"] = round(
            best_s(lambda: reference((lat, lon))) / own_s, 1
        )
        benchmark.pedantic(terrain.sample, args=(lat, lon), rounds=1)


def test_profiles_of_a_large_club(benchmark: Any) -> None:
    """200 stations, 19,900 paths over the invented land: points a second and how much of it is sampling."""
    if benchmark.disabled:
        pytest.skip("measures time; run with --benchmark-enable")
    tiles = Path(__file__).resolve().parents[2] / "dem_samples"
    rng = np.random.default_rng(3)
    places = [Position(*xy) for xy in rng.uniform((41.02, -38.45), (41.73, -37.55), (200, 2))]
    pairs = [(a, b) for i, a in enumerate(places) for b in places[:i]]
    with Terrain.open([tiles]) as terrain:
        next(iter(profile_chunks(terrain, pairs[:2])))  # compiled before the clock starts

        def points() -> int:
            return sum(batch.ground_m.size for _, batch in profile_chunks(terrain, pairs))

        begin = time.perf_counter()
        total = benchmark.pedantic(points, rounds=1)
        took_s = time.perf_counter() - begin
    benchmark.extra_info["paths"] = len(pairs)
    benchmark.extra_info["points"] = int(total)
    benchmark.extra_info["microseconds a path"] = round(1e6 * took_s / len(pairs), 1)


PEAK = """
import resource, sys
import numpy as np
from reach.terrain.tiles import Terrain
with Terrain.open([sys.argv[1]], memory_mb=40) as terrain:
    bounds = np.array([tile.bounds for tile in terrain.tiles])
    west, south, east, north = *bounds.min(axis=0)[:2], *bounds.max(axis=0)[2:]
    rng = np.random.default_rng(1)
    for _ in range(4):
        lat, lon = rng.uniform((south, west), (north, east), (200_000, 2)).T
        assert np.isfinite(terrain.sample(lat, lon)).all()
print(resource.getrusage(resource.RUSAGE_SELF).ru_maxrss)
"""


def test_memory_against_area(benchmark: Any, tmp_path: Path) -> None:
    """Peak memory of sampling all over 6 and all over 30 tiles, each in a process of its own."""
    if benchmark.disabled:
        pytest.skip("takes a while; run with --benchmark-enable")
    peaks_mb = []
    for across, down in ((3, 2), (6, 5)):
        folder = tmp_path / f"{across}x{down}"
        folder.mkdir()
        write_tiles(folder, across, down)
        done = subprocess.run(
            [sys.executable, "-c", PEAK, str(folder)], check=True, capture_output=True, text=True
        )
        peaks_mb.append(int(done.stdout) / 1024.0)
    benchmark.extra_info["peak MB, 6 tiles"], benchmark.extra_info["peak MB, 30 tiles"] = (
        round(p) for p in peaks_mb
    )
    benchmark.pedantic(lambda: None, rounds=1)
    assert peaks_mb[1] < 1.15 * peaks_mb[0]

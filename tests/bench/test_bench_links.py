"""Time and memory of surveying whole nets on 1 arc-second terrain, each in a process of its own.

Run with `pytest tests/bench/test_bench_links.py --benchmark-enable`; figures are in extra_info. The marks
are ratios within one run: cost a path must not grow with the number of stations, nor memory with their paths.
"""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pytest

SOUTH, WEST = 41.0, -38.5
SIDE_DEG = 0.25
ROWS, COLUMNS = 3, 4  # tiles; with 1 arc-second pixels 83 km by 84 km


def write_tiles(folder: Path) -> None:
    """Rolling invented terrain, continuous over the tiles."""
    import rasterio
    from rasterio.transform import from_origin

    pixels = 900
    for row in range(ROWS):
        for column in range(COLUMNS):
            north, west = SOUTH + (row + 1) * SIDE_DEG, WEST + column * SIDE_DEG
            lat = (north - (np.arange(pixels) + 0.5) * SIDE_DEG / pixels)[:, np.newaxis]
            lon = west + (np.arange(pixels) + 0.5) * SIDE_DEG / pixels
            ground = (
                250.0
                + 120.0 * np.sin(40.0 * lat + 3.0 * np.sin(25.0 * lon))
                + 80.0 * np.cos(55.0 * lon + 2.0 * lat)
                + 15.0 * np.sin(400.0 * lon) * np.sin(370.0 * lat)
            )
            with rasterio.open(
                folder / f"tile_{row}_{column}.tif",
                "w",
                driver="GTiff",
                width=pixels,
                height=pixels,
                count=1,
                dtype="float32",
                crs="EPSG:4326",
                transform=from_origin(west, north, SIDE_DEG / pixels, SIDE_DEG / pixels),
                tiled=True,
                compress="deflate",
            ) as tile:
                tile.write(ground.astype(np.float32), 1)
                tile.units = ("m",)


def survey(folder: Path, stations: int, repeaters: int) -> dict[str, float]:
    """All pairs of so many stations, and each repeater: seconds after start-up and peak memory.

    `first_s` holds what is compiled or loaded on first use; `again_s` is the same work in the warm process.
    """
    import resource
    import time

    from reach.links.repeater_survey import survey_repeater
    from reach.links.survey import survey_simplex
    from reach.stations import Antenna, Category, Channel, Net, Position, Repeater, Station
    from reach.terrain.tiles import Terrain

    inset = 0.02
    low = (SOUTH + inset, WEST + inset)
    high = (SOUTH + ROWS * SIDE_DEG - inset, WEST + COLUMNS * SIDE_DEG - inset)
    places = np.random.default_rng(11).uniform(low, high, (stations + repeaters, 2))
    antenna = Antenna(height_m=10.0, gain_dbi=5.0)
    net = Net(
        name="Bench net",
        channels=(Channel("simplex", 146.55),),
        stations=tuple(
            Station(f"QB{k:03d}", "", Position(*map(float, place)), Category.BASE, antenna, 47.0)
            for k, place in enumerate(places[:stations])
        ),
        repeaters=tuple(
            Repeater(
                call_sign=f"QB{k}R",
                name="",
                position=Position(*map(float, place)),
                output_mhz=output_mhz,
                input_mhz=output_mhz - shift_mhz,
                antenna=antenna,
                transmit_power_dbm=47.0,
            )
            for k, (place, (output_mhz, shift_mhz)) in enumerate(
                zip(places[stations:], [(146.94, 0.6), (446.5, 5.0)])
            )
        ),
    )

    def work() -> tuple[float, float]:
        start = time.perf_counter()
        with Terrain.open([folder], elevation_unit="m") as terrain:
            found = survey_simplex(net, terrain, net.channels[0])
            for repeater in net.repeaters:
                survey_repeater(net, terrain, repeater)
        elapsed_s = time.perf_counter() - start
        assert np.isfinite(found.margin_db[~np.eye(stations, dtype=bool)]).all()
        return elapsed_s, float(found.distance_m.sum() / stations / (stations - 1) / 1000.0)

    (first_s, mean_km), (again_s, _) = work(), work()
    return {
        "paths": stations * (stations - 1) / 2 + repeaters * stations,
        "mean_path_km": mean_km,
        "first_s": first_s,
        "again_s": again_s,
        "peak_mb": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0,
    }


def in_own_process(folder: Path, stations: int, repeaters: int) -> dict[str, float]:
    done = subprocess.run(
        [sys.executable, __file__, str(folder), str(stations), str(repeaters)],
        capture_output=True,
        text=True,
        check=True,
    )
    found: dict[str, float] = json.loads(done.stdout.splitlines()[-1])
    return found


@pytest.fixture(scope="module")
def tiles(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("tiles")
    write_tiles(folder)
    return folder


def test_cost_a_path_and_memory_stay_level_from_24_to_200_stations(benchmark: Any, tiles: Path) -> None:
    if benchmark.disabled:
        pytest.skip("a measurement: run with --benchmark-enable")
    small = in_own_process(tiles, 24, 2)
    large = benchmark.pedantic(in_own_process, args=(tiles, 200, 0), rounds=1)
    cost = (large["again_s"] / large["paths"]) / (small["again_s"] / small["paths"])
    memory = large["peak_mb"] / small["peak_mb"]
    benchmark.extra_info.update(
        {"24_stations_2_repeaters": small, "200_stations": large, "cost_a_path": cost, "memory": memory}
    )
    assert cost < 2.0
    assert memory < 2.0  # 61 times the paths


if __name__ == "__main__":
    print(json.dumps(survey(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))))

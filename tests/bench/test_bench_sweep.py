"""The area sweep, default model first: against gdal_viewshed and pycraf, its growth with the radius, memory.

Run with `pytest tests/bench/test_bench_sweep.py --benchmark-enable -s`; ratios are in extra_info. Each
figure is the shortest of several rounds, taken by turns with what it is compared with, for the machine's
other work only adds. Processor seconds are given beside the clock's: on a busy machine the clock says little.
Bounds stand somewhat above what was measured, so that a real step back crosses them.
"""

from __future__ import annotations

import math
import os
import resource
import shutil
import subprocess
import sys
import time
import warnings
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import rasterio
from affine import Affine
from numpy.typing import NDArray
from rasterio.transform import from_origin

from reach.coverage.area.memory import BYTES_A_CELL
from reach.coverage.area.raster import Layer, write_plain
from reach.coverage.sweep.grid import SiteGrid, grid_from_raster, site_crs
from reach.coverage.sweep.loss import area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath
from reach.files import Existing
from reach.propagation.typical_land.model import Cover
from reach.stations import Position

CELL_M = 30.0
HANDHELD = AreaPath(146.0, 30.0, 1.5, model=AreaModel.TYPICAL_LAND)
DIFFRACTION = replace(HANDHELD, model=AreaModel.DELTA_BULLINGTON)
MOST_TO_GDAL = 7.0  # of processor time, one core
RADII_M = (25_000.0, 50_000.0, 100_000.0)


def relief(side: int, kind: str = "rough") -> NDArray[np.float32]:
    """Ground, m: rough self-similar relief; a gentle plain, nothing fine on it; rough with sea below 0."""
    rng = np.random.default_rng(1)
    wave = np.fft.rfftfreq(side)[None, :] ** 2 + np.fft.fftfreq(side)[:, None] ** 2
    if kind == "smooth":
        spectrum = (wave + (CELL_M / 20_000.0) ** 2) ** -2.2
    else:
        wave[0, 0] = 1.0
        spectrum = wave**-1.1
    ground = np.fft.irfft2(np.fft.rfft2(rng.standard_normal((side, side))) * spectrum, s=(side, side))
    ground = (ground - ground.mean()) / ground.std()
    if kind == "smooth":
        return (ground * 15.0 + 100.0).astype(np.float32)
    if kind == "coastal":
        return np.maximum(ground * 150.0, 0.0).astype(np.float32)
    return (ground * 150.0 + 300.0).astype(np.float32)


def grid_over(kind: str, radius_m: float) -> SiteGrid:
    side = 2 * math.ceil(radius_m / CELL_M) + 1
    middle = Position(45.0, -38.0)
    edge = side / 2.0 * CELL_M
    transform = Affine(CELL_M, 0.0, -edge, 0.0, -CELL_M, edge)
    return SiteGrid(middle, relief(side, kind), CELL_M, site_crs(middle), transform)


def least_ns(grid: SiteGrid, path: AreaPath, rounds: int) -> float:
    """Processor time of one core a cell of the circle, ns, least of some rounds."""
    cells = np.count_nonzero(grid.inside())
    return min(timed(lambda: area_loss(grid, path, threads=1))[1] for _ in range(rounds)) / cells * 1e9


def raster_of(radius_m: float, folder: Path) -> tuple[Path, float, float]:
    """A raster that just holds the circle, and its middle."""
    side = 2 * math.ceil(radius_m / CELL_M) + 1
    path = folder / f"ground-{radius_m:.0f}.tif"
    with rasterio.open(
        path, "w", driver="GTiff", width=side, height=side, count=1, dtype="float32", crs="EPSG:32623",
        transform=from_origin(300_000.0, 4_700_000.0, CELL_M, CELL_M),
    ) as sink:  # fmt: skip
        sink.write(relief(side), 1)
    return path, 300_000.0 + side / 2 * CELL_M, 4_700_000.0 - side / 2 * CELL_M


def whole_job(source: tuple[Path, float, float], target: Path, radius_m: float, threads: int | None) -> None:
    """From opening the raster to closing the written GeoTIFF."""
    grid = grid_from_raster(source[0], easting_m=source[1], northing_m=source[2], radius_m=radius_m)
    found = area_loss(grid, HANDHELD, threads=threads)
    write_plain(
        target,
        [Layer("path_loss", "dB", found.loss_db)],
        crs=grid.crs,
        transform=grid.transform,
        tags={"MODEL": "typical land"},
        existing=Existing.REPLACE,
    )


def viewshed(source: tuple[Path, float, float], target: Path, radius_m: float) -> None:
    target.unlink(missing_ok=True)
    tool = shutil.which("gdal_viewshed")
    assert tool is not None
    subprocess.run(
        [tool, "-q", "-md", f"{radius_m}", "-ox", f"{source[1]}", "-oy", f"{source[2]}",
         "-oz", "30", "-tz", "1.5", "-cc", "0.75", str(source[0]), str(target)],
        check=True, timeout=300,
    )  # fmt: skip


def timed(call: Callable[[], object]) -> tuple[float, float]:
    """(clock, processor) seconds, child processes included."""

    def processor() -> float:
        return sum(resource.getrusage(who).ru_utime + resource.getrusage(who).ru_stime
                   for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))  # fmt: skip

    clock, cpu = time.perf_counter(), processor()
    call()
    return time.perf_counter() - clock, processor() - cpu


def best(calls: dict[str, Callable[[], object]], rounds: int) -> dict[str, tuple[float, float]]:
    """Shortest clock and processor time of each call, the calls taken by turns; the first turn does not
    count."""
    for call in calls.values():
        call()
    times: dict[str, list[tuple[float, float]]] = {name: [] for name in calls}
    for _ in range(rounds):
        for name, call in calls.items():
            times[name].append(timed(call))
    return {name: tuple(min(values) for values in zip(*both)) for name, both in times.items()}  # type: ignore[misc]


@pytest.fixture
def report(benchmark: Any) -> dict[str, Any]:
    """Where ratios go; skips when benchmarks are off, for these take tens of seconds."""
    if benchmark.disabled:
        pytest.skip("benchmarks are off")
    return dict[str, Any]()


def finish(benchmark: Any, figures: dict[str, Any]) -> None:
    benchmark.extra_info.update(figures)
    benchmark.pedantic(lambda: None, rounds=1)
    print("\n" + "\n".join(f"{name}: {value}" for name, value in figures.items()))


def test_fifty_kilometres_against_gdal_viewshed(
    benchmark: Any, report: dict[str, Any], tmp_path: Path
) -> None:
    if shutil.which("gdal_viewshed") is None:
        pytest.skip("gdal_viewshed is not installed (Debian: gdal-bin)")
    radius_m = 50_000.0
    source = raster_of(radius_m, tmp_path)
    grid = grid_from_raster(source[0], easting_m=source[1], northing_m=source[2], radius_m=radius_m)
    times = best(
        {
            "gdal": lambda: viewshed(source, tmp_path / "seen.tif", radius_m),
            "ours": lambda: whole_job(source, tmp_path / "loss.tif", radius_m, None),
            "ours_one_core": lambda: whole_job(source, tmp_path / "loss.tif", radius_m, 1),
            "sweep": lambda: area_loss(grid, HANDHELD),
            "sweep_one_core": lambda: area_loss(grid, HANDHELD, threads=1),
        },
        rounds=8,
    )
    report["cells in the circle, million"] = round(math.pi * (radius_m / CELL_M) ** 2 / 1e6, 2)
    for name, (clock, cpu) in times.items():
        report[f"{name}: clock s, processor s"] = (round(clock, 3), round(cpu, 3))
    report["ratio of the clock to gdal, every core"] = round(times["ours"][0] / times["gdal"][0], 2)
    report["ratio of the clock to gdal, one core"] = round(times["ours_one_core"][0] / times["gdal"][0], 2)
    report["ratio of processor time to gdal, one core"] = round(
        times["ours_one_core"][1] / times["gdal"][1], 2
    )
    report["clock of the sweep alone, one core to every core"] = round(
        times["sweep_one_core"][0] / times["sweep"][0], 2
    )
    finish(benchmark, report)
    assert times["ours_one_core"][1] <= MOST_TO_GDAL * times["gdal"][1]


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
def test_a_cell_costs_the_same_by_every_model_and_at_every_radius(
    benchmark: Any, report: dict[str, Any], kind: str
) -> None:
    """The default model, P.1812 and diffraction alone; land cover from a raster; 25, 50 and 100 km."""
    area_loss(grid_over(kind, 2_000.0), HANDHELD, threads=1)
    models = {
        "typical land": HANDHELD,
        "P.1812": replace(HANDHELD, model=AreaModel.P1812),
        "delta-Bullington": DIFFRACTION,
    }
    ns: dict[str, dict[float, float]] = {name: {} for name in models}
    for radius_m in RADII_M:
        grid = grid_over(kind, radius_m)
        for name, path in models.items():
            ns[name][radius_m] = least_ns(grid, path, 4 if radius_m < 40_000.0 else 2)
        if radius_m == RADII_M[0]:
            woods = (relief(grid.elevation_m.shape[0]) > 350.0) * np.float32(15.0)
            covered = replace(grid, cover_m=woods.astype(np.float32))
            given = least_ns(covered, replace(HANDHELD, cover=Cover.GIVEN), 4)
    for name, by_radius in ns.items():
        report[f"{kind}, {name}: ns a cell at 25, 50, 100 km"] = [round(v, 1) for v in by_radius.values()]
    by_model = {name: max(ns[name][r] / ns["delta-Bullington"][r] for r in RADII_M) for name in models}
    growth = {name: by_radius[RADII_M[-1]] / by_radius[RADII_M[0]] for name, by_radius in ns.items()}
    report[f"{kind}: to delta-Bullington, worst radius"] = {k: round(v, 3) for k, v in by_model.items()}
    report[f"{kind}: 100 km to 25 km"] = {k: round(v, 3) for k, v in growth.items()}
    report[f"{kind}: land-cover raster to typical land, 25 km"] = round(
        given / ns["typical land"][RADII_M[0]], 3
    )
    finish(benchmark, report)
    assert by_model["P.1812"] <= 1.3
    assert by_model["typical land"] <= 1.3
    assert growth["P.1812"] <= 1.15
    assert growth["typical land"] <= 1.15
    assert given / ns["typical land"][RADII_M[0]] <= 1.6


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
def test_a_member_among_trees_costs_what_others_do(benchmark: Any, report: dict[str, Any], kind: str) -> None:
    """More in the site's half than beyond it, against the same everywhere; at 25 and 50 km."""
    trees = replace(HANDHELD, site_land_m=15.0)
    area_loss(grid_over(kind, 2_000.0), trees, threads=1)
    ratios = {}
    for radius_m in RADII_M[:2]:
        grid = grid_over(kind, radius_m)
        calls: dict[str, Callable[[], object]] = {
            "even": lambda grid=grid: area_loss(grid, HANDHELD, threads=1),  # type: ignore[misc]
            "trees": lambda grid=grid: area_loss(grid, trees, threads=1),  # type: ignore[misc]
        }
        per_cell = 1e9 / np.count_nonzero(grid.inside())
        even, higher = (processor_s * per_cell for _, processor_s in best(calls, rounds=6).values())
        report[f"{kind}, {radius_m / 1000:g} km: ns a cell, even and with trees"] = (
            round(even),
            round(higher),
        )
        ratios[radius_m] = higher / even
    report[f"{kind}: with trees to even"] = [round(float(value), 2) for value in ratios.values()]
    finish(benchmark, report)
    assert max(ratios.values()) <= 1.4


def test_a_cell_against_pycraf_on_a_radial(benchmark: Any, report: dict[str, Any], tmp_path: Path) -> None:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        pathprof = pytest.importorskip("pycraf.pathprof", reason="pycraf is not installed")
        from astropy import units as u
    source = raster_of(50_000.0, tmp_path)
    grid = grid_from_raster(source[0], easting_m=source[1], northing_m=source[2], radius_m=50_000.0)
    area_loss(grid, HANDHELD, threads=1)
    _, cpu = min(timed(lambda: area_loss(grid, HANDHELD, threads=1)) for _ in range(3))
    ours_s = cpu / np.count_nonzero(grid.inside())
    heights = grid.elevation_m[grid.radius_cells, grid.radius_cells :].astype(np.float64)
    distances = np.arange(heights.size) * CELL_M / 1000.0
    options = {"delta_N": 45.0 * u.Unit("1/km"), "N0": 325.0 * u.dimensionless_unscaled}

    def one_point(last: int) -> None:
        described = pathprof.PathProp(
            0.146 * u.GHz, 290.0 * u.K, 1013.0 * u.hPa,
            -38.0 * u.deg, 41.0 * u.deg, -38.0 * u.deg, 41.3 * u.deg,
            30.0 * u.m, 1.5 * u.m, 30.0 * u.m, 50.0 * u.percent,
            hprof_dists=distances[: last + 1] * u.km, hprof_heights=heights[: last + 1] * u.m,
            hprof_bearing=0.0 * u.deg, hprof_backbearing=180.0 * u.deg, **options,
        )  # fmt: skip
        pathprof.loss_complete(described)

    points = np.linspace(40, heights.size - 1, 40).astype(int)
    one_point(int(points[0]))
    _, theirs = min(timed(lambda: [one_point(int(k)) for k in points]) for _ in range(3))
    report["ours, processor us a cell"] = round(ours_s * 1e6, 4)
    report["pycraf P.452, processor us a point (mean over the radial)"] = round(theirs / points.size * 1e6, 1)
    report["pycraf to ours"] = round(theirs / points.size / ours_s)
    finish(benchmark, report)
    assert theirs / points.size / ours_s >= 5000.0


MEMORY_SCRIPT = """
import sys
from pathlib import Path
from reach.coverage.sweep.grid import SiteGrid, grid_from_raster, site_crs
from reach.coverage.sweep.loss import area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath

def status(name):
    lines = Path("/proc/self/status").read_text().splitlines()
    return int(next(line for line in lines if line.startswith(name)).split()[1])

path, easting, northing, radius = sys.argv[1], *map(float, sys.argv[2:5])
small = grid_from_raster(Path(path), easting_m=easting, northing_m=northing, radius_m=1000.0)
area_loss(small, AreaPath(146.0, 30.0, 1.5))
Path("/proc/self/clear_refs").write_text("5")  # the peak begins anew
before = status("VmRSS")
grid = grid_from_raster(Path(path), easting_m=easting, northing_m=northing, radius_m=radius)
found = area_loss(grid, AreaPath(146.0, 30.0, 1.5))
print((status("VmHWM") - before) * 1024 / grid.elevation_m.size)
"""


@pytest.mark.skipif(sys.platform != "linux", reason="/proc is read")
def test_memory_is_the_window_and_the_output(benchmark: Any, report: dict[str, Any], tmp_path: Path) -> None:
    source = raster_of(50_000.0, tmp_path)
    arguments = [sys.executable, "-c", MEMORY_SCRIPT, *map(str, (*source, 50_000.0))]
    # GDAL keeps a share of the raster it reads in its own cache: hold that small so that ours shows
    env = {**os.environ, "GDAL_CACHEMAX": "8"}
    done = subprocess.run(arguments, capture_output=True, text=True, check=True, timeout=300, env=env)
    peak = float(done.stdout)
    report["sweep: peak bytes a cell (elevation 4 + loss 4)"] = round(peak, 2)
    report["sweep: peak over window and output"] = round(peak / 8.0, 3)
    report["whole command: bytes a cell announced"] = BYTES_A_CELL
    finish(benchmark, report)
    assert peak <= 8.0 * 1.25

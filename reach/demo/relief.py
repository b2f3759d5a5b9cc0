"""Invented land: ridges, valleys that drain to a coast, a plain, and one long valley shut off by a ridge.

A river landscape in balance: where the ground is lifted evenly and rivers cut in step, the slope of every
stream falls with the area it drains (S = k U A^-0.45, the stream-power law, common in geomorphology;
exponent from memory). Starting from noise, water is routed downhill, the drained area counted, heights
rebuilt upstream from the sea by that law, and the whole repeated until the valleys have found each other.
Lift U draws the map: next to none in the plain, much along the ranges. Nothing here is, or is near, a real
place.

The numbers are the same on every machine: random bits only through `Generator.random`, no matrix product, and
every power rounded before use.
"""

from __future__ import annotations

import heapq
from functools import partial
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.transform import from_origin

from reach.files import Existing, check_writable, whole_file
from reach.machinery.parallel import each
from reach.machinery.progress import Progress

FloatArray = NDArray[np.floating[Any]]

SEED = 20
WEST_DEG, NORTH_DEG = -38.5, 41.75
TILE_DEG, TILE_PX = 0.25, 900
COLUMNS, ROWS = 3600, 2700  # whole land, 1 arc second
COARSE_PX = 9  # fine pixels to a side of a cell of the river grid
CELL_X_M, CELL_Y_M = 208.0, 277.8  # of the river grid, near 41.4 N
HIGHEST_M = 1040.0
STREAM_EXPONENT = 0.45
STEEPEST = 0.55  # hillside slope that the river law may not pass
SEA_FLOOR_M = -12.0  # only to place the shore between pixels; cut to 0 at the end
VOID = -32768


def _cubic(positions: FloatArray, size: int) -> tuple[NDArray[np.int64], FloatArray]:
    """Indices and weights (4, ...) of the uniform cubic B-spline at positions of a row of `size` values."""
    base = np.floor(positions)
    t = positions - base
    s = 1.0 - t
    weights = np.stack(
        [s * s * s, 3.0 * t * t * t - 6.0 * t * t + 4.0, 3.0 * s * s * s - 6.0 * s * s + 4.0, t * t * t]
    )
    first = base.astype(np.int64)
    indices = np.stack([np.clip(first + k, 0, size - 1) for k in (-1, 0, 1, 2)])
    return indices, weights / 6.0


def _spread(values: FloatArray, at_row: FloatArray, at_col: FloatArray) -> FloatArray:
    """Smooth surface near a grid of values, read at fractional rows and columns of it."""
    i, wi = _cubic(at_row, values.shape[0])
    j, wj = _cubic(at_col, values.shape[1])
    down = sum(wi[k][:, None] * values[i[k]] for k in range(4))
    assert isinstance(down, np.ndarray)
    out = sum(wj[k][None, :] * down[:, j[k]] for k in range(4))
    assert isinstance(out, np.ndarray)
    return out


def _noise(seed: int, y_km: FloatArray, x_km: FloatArray, wavelength_km: float) -> FloatArray:
    """Smooth noise, mean 0, about -1..1, on the grid of the given axes."""
    side = int(90.0 / wavelength_km) + 6
    lattice = np.random.default_rng((SEED, seed)).random((side, side)) * 2.0 - 1.0
    return 1.5 * _spread(lattice, y_km / wavelength_km + 2.0, x_km / wavelength_km + 2.0)


def _octaves(seed: int, y_km: FloatArray, x_km: FloatArray, wavelength_km: float, count: int) -> FloatArray:
    total: FloatArray = np.zeros((y_km.size, x_km.size))
    for k in range(count):
        total = total + _noise(seed + k, y_km, x_km, wavelength_km / 2.0**k) / 2.0**k
    return total


def _step(low: float, high: float, values: FloatArray) -> FloatArray:
    t = np.clip((values - low) / (high - low), 0.0, 1.0)
    eased: FloatArray = t * t * (3.0 - 2.0 * t)
    return eased


def _near_line(x: FloatArray, y: FloatArray, points: list[tuple[float, float]]) -> FloatArray:
    """Distance, km, to a line of straight pieces."""
    nearest = np.full(x.shape, np.inf)
    for (x1, y1), (x2, y2) in pairwise(points):
        length2 = (x2 - x1) ** 2 + (y2 - y1) ** 2
        share = np.clip(((x - x1) * (x2 - x1) + (y - y1) * (y2 - y1)) / length2, 0.0, 1.0)
        nearest = np.minimum(
            nearest, np.sqrt((x - x1 - share * (x2 - x1)) ** 2 + (y - y1 - share * (y2 - y1)) ** 2)
        )
    return nearest


def _plan(y_km: FloatArray, x_km: FloatArray) -> tuple[FloatArray, FloatArray]:
    """The design of the land: (distance inland in km, negative at sea; lift, unitless)."""
    shape = (y_km.size, x_km.size)
    x = np.broadcast_to(x_km[None, :], shape) + 4.5 * _octaves(100, y_km, x_km, 17.0, 4)
    y = np.broadcast_to(y_km[:, None], shape) + 4.5 * _octaves(110, y_km, x_km, 17.0, 4)
    west = x - 12.0 - 6.0 * _step(0.0, 30.0, y) + 7.0 * _step(58.0, 78.0, y)
    south = y - 7.0 - 9.0 * _step(45.0, 62.0, x) + 3.0 * _step(70.0, 83.0, x)
    inland = np.minimum(west, south) + 2.6 * _octaves(130, y_km, x_km, 8.0, 5)
    ridge = _near_line(x, y, [(46.0, 12.0), (43.0, 32.0), (46.0, 50.0), (52.0, 66.0), (60.0, 80.0)])
    trough = _near_line(x, y, [(57.0, 10.0), (54.0, 28.0), (56.0, 44.0), (63.0, 60.0)])
    headland = _near_line(x, y, [(12.0, 64.0), (22.0, 76.0)])
    hills = _near_line(x, y, [(24.0, 24.0), (31.0, 31.0)])
    lift = 0.03 + 0.07 * _step(18.0, 42.0, x)
    lift = lift + 0.85 * _step(58.0, 78.0, x + 0.2 * y) * _step(0.0, 7.0, inland)
    lift = np.maximum(lift, 1.15 * _step(8.5, 0.0, ridge))
    lift = np.maximum(lift, 0.62 * _step(9.0, 0.0, headland))
    lift = np.maximum(lift, 0.42 * _step(5.5, 0.0, hills))
    lift = np.maximum(lift, 0.42 * _step(56.0, 84.0, y) * _step(20.0, 44.0, x))
    lift = lift * (1.0 - 0.9 * _step(5.0, 1.5, trough))
    rough = 1.0 + 0.55 * _octaves(120, y_km, x_km, 10.0, 3)
    return inland, np.clip(lift * np.maximum(rough, 0.4), 0.04, 1.5)


_NEIGHBOURS = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)]


def _drained(height: FloatArray, sea: NDArray[np.bool_]) -> FloatArray:
    """Heights with every hollow raised until it spills seaward (priority flood with a slight fall)."""
    rows, columns = height.shape
    width = columns + 2
    closed = np.ones((rows + 2, width), dtype=bool)
    closed[1:-1, 1:-1] = sea
    padded = np.zeros((rows + 2, width))
    padded[1:-1, 1:-1] = np.where(sea, 0.0, height)
    level, shut = padded.ravel().tolist(), closed.ravel().tolist()
    offsets = [dr * width + dc for dr, dc in _NEIGHBOURS]
    shore = np.zeros_like(closed)
    for dr, dc in _NEIGHBOURS:
        shore[1:-1, 1:-1] |= sea & ~np.roll(closed, (-dr, -dc), axis=(0, 1))[1:-1, 1:-1]
    queue = [(0.0, int(i)) for i in np.flatnonzero(shore)]
    heapq.heapify(queue)
    while queue:
        here, i = heapq.heappop(queue)
        for offset in offsets:
            j = i + offset
            if not shut[j]:
                shut[j] = True
                level[j] = max(level[j], here + 1e-3)
                heapq.heappush(queue, (level[j], j))
    return np.array(level).reshape(padded.shape)[1:-1, 1:-1]


def _cut(
    height: FloatArray,
    sea: NDArray[np.bool_],
    lift: FloatArray,
    *,
    cell_x_m: float,
    cell_y_m: float,
    wander: FloatArray,
) -> FloatArray:
    """One round: route water down the heights, count drained areas, rebuild heights from the sea upstream.

    wander : (8, rows, columns) in -0.5..0.5; how much each cell favours each of its eight neighbours.
    """
    rows, columns = height.shape
    padded = np.pad(height, 1, constant_values=np.inf)
    best = np.full(height.shape, -np.inf)
    receiver = np.arange(height.size).reshape(height.shape)
    run = np.ones(height.shape)
    numbers = np.pad(receiver, 1)
    for k, (dr, dc) in enumerate(_NEIGHBOURS):
        length = float(np.sqrt((dr * cell_y_m) ** 2 + (dc * cell_x_m) ** 2))
        there = padded[1 + dr : rows + 1 + dr, 1 + dc : columns + 1 + dc]
        fall = (height - there) / length * (1.0 + 0.8 * wander[k])
        better = (fall > best) & (there < height)
        best = np.where(better, fall, best)
        run = np.where(better, length, run)
        receiver = np.where(better, numbers[1 + dr : rows + 1 + dr, 1 + dc : columns + 1 + dc], receiver)
    order = np.argsort(height, axis=None, kind="stable")
    down = receiver.ravel().tolist()
    area = [cell_x_m * cell_y_m] * height.size
    at_sea = sea.ravel().tolist()
    upstream_last = order.tolist()
    for i in reversed(upstream_last):
        j = down[i]
        if j != i and not at_sea[i]:
            area[j] += area[i]
    drained = np.array(area)
    slope = np.minimum(np.round(30.0 * lift.ravel() * drained**-STREAM_EXPONENT, 9), STEEPEST)
    rise = (slope * run.ravel()).tolist()
    built = [0.0] * height.size
    for i in upstream_last:
        if not at_sea[i]:
            built[i] = built[down[i]] + rise[i]
    return np.array(built).reshape(height.shape)


def _axes(step_px: int) -> tuple[FloatArray, FloatArray]:
    """(y_km from the south, northmost first; x_km from the west) of cells of step_px fine pixels."""
    y = (ROWS - (np.arange(ROWS // step_px) + 0.5) * step_px) * (CELL_Y_M / COARSE_PX / 1000.0)
    x = ((np.arange(COLUMNS // step_px) + 0.5) * step_px) * (CELL_X_M / COARSE_PX / 1000.0)
    return y, x


def _river_land() -> tuple[FloatArray, FloatArray]:
    """The land at half a cell: (height in m, negative at sea; slope up to 0.4), each (600, 800)."""
    height: FloatArray = np.zeros((0, 0))
    for step_px, rounds in ((4 * COARSE_PX, 12), (2 * COARSE_PX, 10), (COARSE_PX, 7)):
        y, x = _axes(step_px)
        inland, lift = _plan(y, x)
        sea = inland <= 0.0
        cell_x, cell_y = CELL_X_M * step_px / COARSE_PX, CELL_Y_M * step_px / COARSE_PX
        if height.size == 0:
            height = 2.0 * np.maximum(0.0, inland) + 80.0 * np.random.default_rng((SEED, 7)).random(
                inland.shape
            )
        else:
            rows, columns = height.shape
            height = _spread(
                height, (np.arange(2 * rows) + 0.5) / 2.0 - 0.5, (np.arange(2 * columns) + 0.5) / 2.0 - 0.5
            )
        height = height * (1.0 + 0.2 * _noise(300 + step_px, y, x, 1.2)) + 0.3
        height = _drained(np.where(sea, 0.0, height), sea)
        wander = np.random.default_rng((SEED, step_px)).random((8, *height.shape)) - 0.5
        for _ in range(rounds):
            height = _cut(height, sea, lift, cell_x_m=cell_x, cell_y_m=cell_y, wander=wander)
    inland, _ = _plan(y, x)
    height = np.where(
        inland <= 0.0, np.maximum(SEA_FLOOR_M, 30.0 * inland), height * (HIGHEST_M / height.max()) + 1.5
    )
    height = _bent(height)
    slope_y, slope_x = np.gradient(height, CELL_Y_M / 2.0, CELL_X_M / 2.0)
    return height, np.minimum(np.sqrt(slope_y**2 + slope_x**2), 0.4)


def _bent(height: FloatArray) -> FloatArray:
    """Twice as fine and gently bent, which hides the eight directions that water took on the grid."""
    rows, columns = height.shape
    y, x = _axes(COARSE_PX)
    at_row, at_col = (np.arange(2 * rows) + 0.5) / 2.0 - 0.5, (np.arange(2 * columns) + 0.5) / 2.0 - 0.5
    bends = [1.5 * _noise(seed, y, x, 2.8) + 0.6 * _noise(seed + 1, y, x, 1.3) for seed in (500, 510)]
    row = at_row[:, None] + _spread(bends[0], at_row, at_col)
    col = at_col[None, :] + _spread(bends[1], at_row, at_col)
    i, wi = _cubic(row, rows)
    j, wj = _cubic(col, columns)
    out = np.zeros(row.shape)
    for k in range(4):
        for m in range(4):
            out += wi[k] * wj[m] * height[i[k], j[m]]
    return out


def relief_strips() -> list[NDArray[np.int16]]:
    """The whole land as strips of 900 rows from north to south, each (900, 3600) metres above the sea."""
    height, rough = _river_land()
    return each(partial(_strip, height, rough), range(0, ROWS, TILE_PX))


def _strip(height: FloatArray, rough: FloatArray, first: int) -> NDArray[np.int16]:
    """Rows first to first + 899 of the land: the river land bent smooth, with finer hills on its slopes."""
    x_px, y_px = np.arange(COLUMNS), np.arange(first, first + TILE_PX)
    at_row, at_col = 2.0 * (y_px + 0.5) / COARSE_PX - 0.5, 2.0 * (x_px + 0.5) / COARSE_PX - 0.5
    y_km = (ROWS - y_px - 0.5) * (CELL_Y_M / COARSE_PX / 1000.0)
    x_km = (x_px + 0.5) * (CELL_X_M / COARSE_PX / 1000.0)
    ground = _spread(height, at_row, at_col)
    detail = np.abs(_noise(400, y_km, x_km, 0.9)) * -1.0 + 0.4
    detail += 0.55 * _noise(401, y_km, x_km, 0.4)
    detail += 0.3 * _noise(402, y_km, x_km, 0.18)
    ground += 85.0 * _spread(rough, at_row, at_col) * detail
    return np.round(np.maximum(ground, 0.0)).astype(np.int16)


def tile_name(*, south_deg: float, west_deg: float) -> str:
    """File name of a tile: its south-west corner in hundredths of a degree, relief_N4150_W03850.tif."""
    return f"relief_N{round(south_deg * 100):04d}_W{round(-west_deg * 100):05d}.tif"


def make_relief(
    folder: Path, *, progress: Progress | None = None, existing: Existing = Existing.KEEP
) -> list[Path]:
    """Write the land as quarter-degree GeoTIFF tiles of 1 arc second, int16 metres, and return their paths.

    folder : must exist. existing : what to do with tiles already there.
    progress : called with (tiles written, tiles in all).
    Raises : OutputProblem when a tile exists (with KEEP) or cannot be written.
    """
    names = {
        (r, c): folder / tile_name(south_deg=NORTH_DEG - (r + 1) * TILE_DEG, west_deg=WEST_DEG + c * TILE_DEG)
        for r in range(ROWS // TILE_PX)
        for c in range(COLUMNS // TILE_PX)
    }
    for path in names.values():
        check_writable(path, existing)
    strips = relief_strips()

    def write(tile: tuple[int, int]) -> Path:
        r, c = tile
        _write_tile(names[tile], existing, strips[r][:, c * TILE_PX : (c + 1) * TILE_PX], row=r, column=c)
        return names[tile]

    return each(write, list(names), progress)


def _write_tile(path: Path, existing: Existing, heights: NDArray[np.int16], *, row: int, column: int) -> None:
    with (
        whole_file(path, existing) as temporary,
        rasterio.open(
            temporary,
            "w",
            driver="GTiff",
            width=TILE_PX,
            height=TILE_PX,
            count=1,
            dtype="int16",
            crs="EPSG:4326",
            transform=from_origin(
                WEST_DEG + column * TILE_DEG,
                NORTH_DEG - row * TILE_DEG,
                TILE_DEG / TILE_PX,
                TILE_DEG / TILE_PX,
            ),
            nodata=VOID,
            compress="deflate",
            predictor=2,
            zlevel=7,
        ) as data,
    ):
        data.write(heights, 1)
        data.set_band_unit(1, "m")
        data.update_tags(AREA_OR_POINT="Area")

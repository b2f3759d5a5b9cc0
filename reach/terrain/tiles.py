"""Elevation anywhere the user's tiles reach: at points, at a place, over a window."""

from __future__ import annotations

import math
import threading
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import ArrayLike, NDArray
from pyproj import CRS

from reach.errors import Fault, InputProblem, MissingTerrain, OutOfRange
from reach.geodesy import METRES_PER_DEGREE
from reach.lists import named
from reach.machinery.parallel import over_points, over_tasks
from reach.stations import Position
from reach.terrain._sampling_kernel import (
    Blocks,
    PlainTiles,
    lattice_values,
    locate_plain,
    values_and_blocks,
)
from reach.terrain.blocks import BlockPool, TileReader
from reach.terrain.cells import cell_name
from reach.terrain.credits import credits_in
from reach.terrain.lattice import Lattice, lattice_of
from reach.terrain.overlaps import disagreements
from reach.terrain.rasters import TileInfo, find_tiles
from reach.terrain.vertical_units import UNIT_WORDS

FloatArray = NDArray[np.float64]

DEFAULT_MEMORY_MB = 160.0
RIM_PX = 8  # adjoining tiles may overlap by so much and each be asked alone within
SAME_PX = 1e-6  # how far beyond a tile's outer edge a point is still on it, for rounding
SEAM_PX = 0.5  # pixels beyond a tile's outer edge still answered, so that adjoining tiles leave no crack
NOWHERE = np.iinfo(np.int64).max
SAMPLES_AT_ONCE = 1_000_000  # of a window: few enough for their blocks to be in memory together
MOST_SAMPLES_PER_SIDE = 4


@dataclass(frozen=True)
class ElevationGrid:
    """Elevation on a regular grid.

    elevation_m : (rows, columns) float32 at pixel centres, NaN gaps; row 0 is the top.
    transform : from (column, row) corners to the grid's coordinates; crs : its coordinate system, as text.
    resolution_m : side of a pixel in the units of crs (metres on the ground times the projection's scale).
    """

    elevation_m: NDArray[np.float32]
    transform: Affine
    crs: str
    resolution_m: float

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """(left, bottom, right, top) in the grid's coordinates."""
        rows, columns = self.elevation_m.shape
        left, top = float(self.transform.c), float(self.transform.f)
        return left, top + rows * float(self.transform.e), left + columns * float(self.transform.a), top


class Terrain:
    """The ground under a net: any number of elevation rasters seen as one. Close it, or use it in `with`.

    tiles : what was found, finest first. credits : whose data they are.
    warnings : plain sentences on converted units and surface models.
    Elevation is read in blocks on demand; memory stays within the figure given to `open`, however many tiles.
    Threads may ask at the same time and are answered one after the other: neither the files nor the blocks
    can be shared while they are read.
    """

    def __init__(self, tiles: Sequence[TileInfo], *, memory_mb: float = DEFAULT_MEMORY_MB) -> None:
        self.tiles = tuple(tiles)
        self.warnings: tuple[str, ...] = _warnings(self.tiles)
        self.credits: tuple[str, ...] = ()
        self._alone = threading.RLock()
        self._reader = TileReader(self.tiles)
        self._pool = BlockPool(self._reader, memory_mb)
        plain = [i for i, tile in enumerate(self.tiles) if tile.is_plain]
        self._plain = np.array(plain, dtype=np.int64)
        grids = [
            (t.transform.c, t.transform.f, t.transform.a, t.transform.e) for t in self.tiles if t.is_plain
        ]
        self._grids = np.array(grids, dtype=np.float64).reshape(-1, 4).T.copy()
        self._rim_px = np.array([self._undisputed_from_px(i) for i in plain], dtype=np.float64)

    def _undisputed_from_px(self, index: int) -> float:
        """How far inside its edge a plain tile is asked alone: no tile before it comes there. Infinite where
        one does."""
        tile = self.tiles[index]
        west, south, east, north = tile.bounds
        across, down = RIM_PX * abs(tile.transform.a), RIM_PX * abs(tile.transform.e)
        core = (west + across, south + down, east - across, north - down)
        if core[0] >= core[2] or core[1] >= core[3]:
            return math.inf
        finer = any(tile.touches(*core, margin_px=2.0) for tile in self.tiles[:index])
        return math.inf if finer else float(RIM_PX)

    @classmethod
    def open(
        cls, folders: Sequence[str | Path], *, elevation_unit: str = "", memory_mb: float = DEFAULT_MEMORY_MB
    ) -> Terrain:
        """Find every elevation raster below the folders (single files do too).

        elevation_unit : 'm' or 'ft' for rasters that do not say; '' asks for it when one does not.
        Raises : InputProblem naming missing folders, unreadable rasters and rasters of unknown unit, all at
            once; also when there is no raster at all.
        """
        tiles = find_tiles(folders, elevation_unit=elevation_unit)
        if not tiles:
            named = ", ".join(str(folder) for folder in folders) or "(no folder given)"
            raise InputProblem(
                Fault(
                    f"no elevation raster was found in {named}",
                    "put GeoTIFF or .hgt tiles there, fetch them with `reach tiles`, or correct folders under"
                    " [terrain] in net.toml",
                )
            )
        terrain = cls(tiles, memory_mb=memory_mb)
        terrain.warnings += disagreements(terrain._reader)
        terrain.credits = credits_in(folders)
        against = [tile for tile in tiles if elevation_unit and tile.unit != elevation_unit]
        if against:
            terrain.warnings += (
                f"{_some_names(against)}: in {UNIT_WORDS[against[0].unit]} by {against[0].unit_from}, "
                f'which was believed over elevation_unit = "{elevation_unit}" in net.toml.',
            )
        return terrain

    def __enter__(self) -> Terrain:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the files."""
        self._reader.close()

    @property
    def is_surface_model(self) -> bool:
        """True when a tile's heights include trees and roofs, so that clutter would count twice."""
        return any(tile.is_surface_model for tile in self.tiles)

    def is_surface_at(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.bool_]:
        """Whether the finest tile at each point holds heights of trees and roofs; broadcast shape."""
        lat, lon = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        surface = np.array([tile.is_surface_model for tile in self.tiles] + [False])  # the last: outside
        if not surface.any():
            return np.zeros(lat.shape, dtype=np.bool_)
        with self._alone:
            tile, _, _ = self._locate(_flat(lat), _flat(lon))
        return surface[tile].reshape(lat.shape)

    def sample(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
        """Elevation at points, bilinear between pixel centres, from the finest tile there.

        Both : degrees WGS 84, shapes that broadcast.
        Returns : metres, float64, NaN in gaps and outside every tile.
        """
        lat, lon = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        with self._alone:
            return self._sampled(_flat(lat), _flat(lon)).reshape(lat.shape)

    def _sampled(self, lat: FloatArray, lon: FloatArray) -> FloatArray:
        """The same of points in a row: what is in memory at once, then the other blocks as many as fit."""
        tile, col, row = self._locate(lat, lon)
        out = np.full(lat.size, np.nan)
        self._in_rounds(partial(over_points, values_and_blocks, lat.size, tile, col, row), out)
        return out

    def _in_rounds(
        self, values_of: Callable[[Blocks, FloatArray, NDArray[np.bool_]], None], out: Any
    ) -> None:
        """values_of(blocks, out, used) with the blocks in memory, then with the others as many as fit."""
        pool = self._pool
        used = np.zeros(pool.slot_of_block.size, dtype=np.bool_)
        values_of(pool.blocks, out, used)
        lacking = np.flatnonzero(used & (pool.slot_of_block < 0))
        pool.touch(np.flatnonzero(used))
        slots = pool.pool.shape[0]
        for first in range(0, lacking.size, slots):
            pool.bring(lacking[first : first + slots])
            values_of(pool.blocks, out, used)

    def step_m_at(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
        """Pixel size of the finest tile at each point, m; NaN outside every tile."""
        lat, lon = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        with self._alone:
            tile, _, _ = self._locate(_flat(lat), _flat(lon))
        sizes = np.array([t.resolution_m for t in self.tiles] + [np.nan])
        return sizes[tile].reshape(lat.shape)

    def elevation_at(self, position: Position, who: str) -> float:
        """Ground at a place, m.

        who : what stands there, for the message. Raises : MissingTerrain when no tile knows.
        """
        value = float(self.sample(position.latitude_deg, position.longitude_deg))
        if math.isnan(value):
            raise MissingTerrain(
                f"{who}: no elevation at {position.latitude_deg:.5f}, {position.longitude_deg:.5f}; "
                f"add a tile that covers {cell_name(position.latitude_deg, position.longitude_deg)}, "
                "or correct the position."
            )
        return value

    def window(
        self,
        bounds: tuple[float, float, float, float],
        crs: Any,
        resolution_m: float,
        *,
        samples_per_side: int = MOST_SAMPLES_PER_SIDE,
    ) -> ElevationGrid:
        """Elevation over a box of any coordinate system: bilinear, finest tiles, gaps NaN, nothing filled.

        bounds : (left, bottom, right, top) in crs; the grid starts at left and top and covers the box.
        resolution_m : pixel side in the units of crs. Where pixels are much larger than the tiles' own, each
            is the mean of up to samples_per_side squared. Coordinates are projected every 16 pixels and
            interpolated between (a few centimetres off on a 30 m grid).
        Raises : OutOfRange when the box is empty or the resolution is not above zero.
        """
        left, bottom, right, top = bounds
        if not (right > left and top > bottom and resolution_m > 0.0):
            raise OutOfRange(f"the window {bounds} at {resolution_m} m is empty")
        grid_crs = CRS.from_user_input(crs)
        rows, columns = _shape_of(bounds, resolution_m)
        transform = Affine(resolution_m, 0.0, left, 0.0, -resolution_m, top)
        finer = min(samples_per_side, self._samples_per_side(grid_crs, bounds, resolution_m))
        lattice = lattice_of(grid_crs, transform, rows=rows, columns=columns, finer=finer)
        out = np.empty((rows, columns), dtype=np.float32)
        rows_at_once = max(1, SAMPLES_AT_ONCE // (columns * finer * finer))
        for first in range(0, rows, rows_at_once):
            last = min(rows, first + rows_at_once)
            part = lattice.rows(first * finer, last * finer)
            if finer == 1:
                self._fill(out[first:last], part)
                continue
            samples = np.empty((part.at_row.size, part.at_column.size), dtype=np.float32)
            self._fill(samples, part)
            out[first:last] = samples.reshape(last - first, finer, columns, finer).mean(axis=(1, 3))
        return ElevationGrid(out, transform, grid_crs.to_string(), float(resolution_m))

    def surface_window(
        self, bounds: tuple[float, float, float, float], crs: Any, resolution_m: float
    ) -> NDArray[np.bool_]:
        """Which pixels of the grid that `window` gives have their middle on heights of trees and roofs."""
        rows, columns = _shape_of(bounds, resolution_m)
        transform = Affine(resolution_m, 0.0, bounds[0], 0.0, -resolution_m, bounds[3])
        lattice = lattice_of(CRS.from_user_input(crs), transform, rows=rows, columns=columns)
        out = np.empty((rows, columns), dtype=np.bool_)
        rows_at_once = max(1, SAMPLES_AT_ONCE // columns)
        for first in range(0, rows, rows_at_once):
            last = min(rows, first + rows_at_once)
            out[first:last] = self.is_surface_at(*lattice.rows(first, last).places())
        return out

    def _samples_per_side(self, crs: CRS, bounds: tuple[float, float, float, float], pixel: float) -> int:
        middle = Affine(pixel, 0.0, (bounds[0] + bounds[2]) / 2.0, 0.0, -pixel, (bounds[1] + bounds[3]) / 2.0)
        lat, lon = lattice_of(crs, middle, rows=2, columns=2).places()
        across = abs(lon[0, 1] - lon[0, 0]) * METRES_PER_DEGREE * math.cos(math.radians(lat[0, 0]))
        side_m = max(across, abs(lat[1, 0] - lat[0, 0]) * METRES_PER_DEGREE)
        finest = min((tile.resolution_m for tile in self.tiles), default=side_m)
        return min(MOST_SAMPLES_PER_SIDE, max(1, round(float(side_m) / finest)))

    def _fill(self, out: NDArray[np.float32], lattice: Lattice) -> None:
        """The elevation of a lattice's samples into out (rows, columns), metres, NaN gaps.

        Where every tile about lies in degrees one compiled loop does the whole of each sample.
        """
        with self._alone:
            lat, lon = lattice.node_latitude_deg.ravel(), lattice.node_longitude_deg.ravel()
            near = self._near(lat, lon)
            if near.sum() > near[self._plain].sum():  # a tile in a projection of its own
                lat, lon = lattice.places()
                out[:] = self._sampled(lat.ravel(), lon.ravel()).reshape(lat.shape)
                return
            self._sampled(lat, lon)  # brings all but a few of the blocks at once
            out.fill(np.nan)
            tiles = self._plain_tiles(near)
            sizes = np.abs((tiles.dx_deg, tiles.dy_deg)).T
            boxes = np.array([self.tiles[i].bounds for i in tiles.order]).reshape(-1, 4)
            cells = lattice.cells_near(boxes, 2.0 * sizes)
            nodes = (lattice.node_latitude_deg, lattice.node_longitude_deg)
            at = (*map(np.ascontiguousarray, nodes), cells, lattice.at_row, lattice.at_column)
            over = partial(over_tasks, lattice_values, lattice.at_row.size, *at, tiles, SAME_PX, SEAM_PX)
            self._in_rounds(over, out)

    def _locate(self, lat: FloatArray, lon: FloatArray) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
        """Tile (-1 nowhere), column and row of each point: the finest holding it, else one within a seam."""
        tile, col, row = self._finest_within(lat, lon, SAME_PX)
        left = np.flatnonzero(tile == NOWHERE)
        if left.size:
            tile[left], col[left], row[left] = self._finest_within(lat[left], lon[left], SEAM_PX)
        tile[tile == NOWHERE] = -1
        return tile, col, row

    def _finest_within(
        self, lat: FloatArray, lon: FloatArray, reach_px: float
    ) -> tuple[NDArray[np.int64], FloatArray, FloatArray]:
        """Column and row in the finest tile (NOWHERE when none) whose area, widened, holds each point."""
        best = np.full(lat.size, NOWHERE, dtype=np.int64)
        col, row = np.zeros(lat.size), np.zeros(lat.size)
        if not lat.size:
            return best, col, row
        near = self._near(lat, lon)
        if near.any():
            over_points(locate_plain, lat.size, lat, lon, self._plain_tiles(near), reach_px, best, col, row)
        edge = 0.5 + reach_px
        for i in np.flatnonzero(near):
            tile = self.tiles[i]
            if tile.is_plain:
                continue
            where = np.flatnonzero((best > i) & tile.holds(lat, lon, margin_deg=0.01))
            if where.size:
                c, r = self._reader.to_pixels(int(i), lat[where], lon[where])
                inside = (
                    (c >= -edge) & (c <= tile.width - 1 + edge) & (r >= -edge) & (r <= tile.height - 1 + edge)
                )
                hit = where[inside]
                best[hit], col[hit], row[hit] = i, c[inside], r[inside]
        return best, col, row

    def _near(self, lat: FloatArray, lon: FloatArray) -> NDArray[np.bool_]:
        """Which tiles come near to the box about some places."""
        box = (lon.min(), lat.min(), lon.max(), lat.max())
        if not np.isfinite(box).all():
            finite = np.isfinite(lat) & np.isfinite(lon)
            if not finite.any():
                return np.zeros(len(self.tiles), dtype=np.bool_)
            lat, lon = lat[finite], lon[finite]
            box = (lon.min(), lat.min(), lon.max(), lat.max())
        return np.array([t.touches(*box, margin_px=2.0) for t in self.tiles], dtype=np.bool_)

    def _plain_tiles(self, near: NDArray[np.bool_]) -> PlainTiles:
        chosen = near[self._plain]
        index = self._plain[chosen]
        sizes = (self._pool.columns[index], self._pool.rows[index])
        left, top, across, down = np.ascontiguousarray(
            self._grids[:, chosen]
        )  # one kind of array to compile for
        return PlainTiles(index, left, top, across, down, *sizes, self._rim_px[chosen])


def _shape_of(bounds: tuple[float, float, float, float], resolution_m: float) -> tuple[int, int]:
    """(rows, columns) of the grid that covers a box."""
    left, bottom, right, top = bounds
    return (
        max(1, math.ceil((top - bottom) / resolution_m - 1e-9)),
        max(1, math.ceil((right - left) / resolution_m - 1e-9)),
    )


def _flat(values: FloatArray) -> FloatArray:
    """In one row for compiled loops; copied, as what numpy broadcasts must not be written to."""
    return np.array(values, order="C").ravel()


def _warnings(tiles: Sequence[TileInfo]) -> tuple[str, ...]:
    found: list[str] = []
    for unit in ("ft", "us-ft"):
        some = [tile for tile in tiles if tile.unit == unit]
        if some:
            found.append(
                f"{_some_names(some)}: in {UNIT_WORDS[unit]} ({some[0].unit_from}); converted to metres."
            )
    surface = [tile for tile in tiles if tile.is_surface_model]
    if surface:
        found.append(
            f"{_some_names(surface)}: {surface[0].heights.value}; what stands there counts once, "
            'so land cover adds nothing on top. If they are of bare ground, put "dtm" into the file\'s name.'
        )
    return tuple(found)


def _some_names(tiles: Sequence[TileInfo]) -> str:
    return named([tile.name for tile in tiles], most=3)

"""Elevation in square blocks of nodes, read from tiles on demand into a pool of fixed size.

A block holds the pixel centres (nodes) of `BLOCK_PX` cells each way plus one more node, so that every
bilinear cell lies whole in one block. Cells reach one node beyond a tile's outer pixels; those nodes, and
voids, are taken from the other tiles where they have ground: no seams between adjoining tiles, and coarse
ground shows through holes in fine ground. An outer node no other tile knows repeats the tile's edge pixel.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Sequence
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from pyproj import Transformer
from rasterio.enums import MaskFlags
from rasterio.errors import RasterioError
from rasterio.windows import Window

from reach.errors import Fault, InputProblem
from reach.terrain._sampling_kernel import BLOCK_PX, Blocks
from reach.terrain.local_files import GDAL_OPTIONS
from reach.terrain.opening import void_unwritten
from reach.terrain.rasters import TileInfo, from_wgs84
from reach.units import figure

FloatArray = NDArray[np.float64]

OPEN_FILES = 24
MARKED_EXACTLY = ("uint8", "int16", "uint16", "int32")  # whole numbers that a mark is compared with as it is
LOWEST_M, HIGHEST_M = -500.0, 9000.0  # ground on Earth, the Dead Sea shore to above Everest


class TileReader:
    """Reads windows of tiles in metres, voids NaN; keeps a few files open."""

    def __init__(self, tiles: Sequence[TileInfo]) -> None:
        self.tiles = tuple(tiles)
        self._open: OrderedDict[int, Any] = OrderedDict()
        self._transformers: dict[str, Transformer] = {}

    def close(self) -> None:
        """Close every file."""
        while self._open:
            self._open.popitem()[1].close()

    def transformer(self, crs: str) -> Transformer:
        """Cached transformer from longitude and latitude to a tile's coordinates."""
        if crs not in self._transformers:
            self._transformers[crs] = from_wgs84(crs)
        return self._transformers[crs]

    def to_pixels(
        self, index: int, latitude: FloatArray, longitude: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """(column, row) of points in a tile, pixel centres at whole numbers; inf where a place has none."""
        tile = self.tiles[index]
        if tile.is_plain:
            middle = tile.transform.c + 0.5 * tile.width * tile.transform.a
            x = middle + np.mod(longitude - middle + 180.0, 360.0) - 180.0
            y = latitude
        else:
            x, y = self.transformer(tile.crs).transform(longitude, latitude)
        inverse = ~tile.transform
        return (
            inverse.a * x + inverse.b * y + inverse.c - 0.5,
            inverse.d * x + inverse.e * y + inverse.f - 0.5,
        )

    def to_lonlat(self, index: int, column: FloatArray, row: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(latitude, longitude) of pixel positions in a tile."""
        tile = self.tiles[index]
        t = tile.transform
        x = t.a * (column + 0.5) + t.b * (row + 0.5) + t.c
        y = t.d * (column + 0.5) + t.e * (row + 0.5) + t.f
        if not tile.is_plain:
            x, y = self.transformer(tile.crs).transform(x, y, direction="INVERSE")
        return np.asarray(y), np.asarray(x)

    def read(self, index: int, column: int, row: int, columns: int, rows: int) -> NDArray[np.float32]:
        """A window wholly inside a tile, metres, float32, voids NaN; within an Env of GDAL_OPTIONS.

        Raises : InputProblem when the file cannot be read there or holds values no ground has.
        """
        tile = self.tiles[index]
        try:
            window = Window(column, row, columns, rows)
            values = _pixels(self._dataset(index), window)
            if tile.has_holes:
                void_unwritten(values, self._dataset(index), window)
        except RasterioError as error:
            raise InputProblem(
                Fault(
                    "this raster cannot be read to its end; it is damaged or cut short",
                    "fetch it again or remove it",
                    file=tile.name,
                )
            ) from error
        if tile.scale != 1.0 or tile.offset != 0.0:
            values = values * np.float32(tile.scale) + np.float32(tile.offset)
        if tile.unit != "m":
            values *= np.float32(tile.metres_per_unit)
        with np.errstate(invalid="ignore"):
            values[~(values >= LOWEST_M)] = np.nan  # void marks that the file does not declare
            too_high = values > HIGHEST_M
        if too_high.any():
            highest = float(values[too_high].max()) / tile.metres_per_unit
            raise InputProblem(
                Fault(
                    f"{figure(highest)} {tile.unit} (unit from {tile.unit_from}) is higher than any ground",
                    'if the file is in feet, declare that in it or write elevation_unit = "ft" '
                    "under [terrain] in net.toml; "
                    "if the value marks voids, declare it as nodata (gdal_edit -a_nodata)",
                    file=tile.name,
                )
            )
        return values

    def raw(self, index: int, column: FloatArray, row: FloatArray, *, edge_px: float) -> FloatArray:
        """Bilinear values from one tile alone, to edge_px outside its outer pixel centres; NaN elsewhere."""
        tile = self.tiles[index]
        out = np.full(column.shape, np.nan)
        inside = (column >= -edge_px) & (column <= tile.width - 1 + edge_px)
        inside &= (row >= -edge_px) & (row <= tile.height - 1 + edge_px)
        where = np.flatnonzero(inside)
        if not where.size:
            return out
        c = np.clip(column[where], 0.0, tile.width - 1.0)
        r = np.clip(row[where], 0.0, tile.height - 1.0)
        c = np.where(np.abs(c - np.round(c)) < 1e-4, np.round(c), c)
        r = np.where(np.abs(r - np.round(r)) < 1e-4, np.round(r), r)
        piece = (r // 1024).astype(np.int64) * (tile.width // 1024 + 1) + (c // 1024).astype(np.int64)
        for number in np.unique(piece):
            part = np.flatnonzero(piece == number)
            pc, pr = c[part], r[part]
            c0, r0 = int(pc.min()), int(pr.min())
            values = self.read(
                index, c0, r0, int(np.ceil(pc.max())) - c0 + 1, int(np.ceil(pr.max())) - r0 + 1
            ).astype(np.float64)
            ci, ri = np.floor(pc).astype(np.int64) - c0, np.floor(pr).astype(np.int64) - r0
            fc, fr = pc - c0 - ci, pr - r0 - ri
            cj, rj = np.minimum(ci + 1, values.shape[1] - 1), np.minimum(ri + 1, values.shape[0] - 1)
            total = np.zeros(part.size)
            for weight, rr, cc in (
                ((1 - fr) * (1 - fc), ri, ci),
                ((1 - fr) * fc, ri, cj),
                (fr * (1 - fc), rj, ci),
                (fr * fc, rj, cj),
            ):
                total += np.where(weight > 0.0, weight * values[rr, cc], 0.0)
            out[where[part]] = total
        return out

    def _dataset(self, index: int) -> Any:
        if index in self._open:
            self._open.move_to_end(index)
            return self._open[index]
        if len(self._open) >= OPEN_FILES:
            self._open.popitem(last=False)[1].close()
        tile = self.tiles[index]
        self._open[index] = rasterio.open(tile.opened_as or tile.path, driver=tile.driver)
        return self._open[index]


def _pixels(data: Any, window: Window) -> NDArray[np.float32]:
    """A window of an open raster's band, float32, NaN where its mask says void.

    A mask that is only a mark among whole numbers, or none, is told without a second reading.
    """
    marks = data.mask_flag_enums[0]
    if marks == [MaskFlags.all_valid]:
        values: NDArray[np.float32] = data.read(1, window=window).astype(np.float32)
    elif marks == [MaskFlags.nodata] and data.dtypes[0] in MARKED_EXACTLY:
        whole = data.read(1, window=window)
        values = whole.astype(np.float32)
        values[whole == data.nodata] = np.nan
    else:
        values = data.read(1, window=window, masked=True).astype(np.float32).filled(np.nan)
    return values


class BlockPool:
    """The blocks in memory: a fixed number of slots, the one unused longest given up first.

    pool : (slots, BLOCK_PX + 1, BLOCK_PX + 1) float32, metres, NaN gaps.
    slot_of_block : (blocks,) int32, -1 when not in memory.
    """

    def __init__(self, reader: TileReader, memory_mb: float) -> None:
        self.reader = reader
        tiles = reader.tiles
        self.columns = np.array([t.width for t in tiles], dtype=np.int64)
        self.rows = np.array([t.height for t in tiles], dtype=np.int64)
        self.blocks_across = (self.columns + BLOCK_PX) // BLOCK_PX
        blocks_down = (self.rows + BLOCK_PX) // BLOCK_PX
        self.first_block = np.zeros(len(tiles) + 1, dtype=np.int64)
        np.cumsum(self.blocks_across * blocks_down, out=self.first_block[1:])
        blocks = int(self.first_block[-1])
        side = BLOCK_PX + 1
        slots = max(4, int(memory_mb * 1e6 / (side * side * 4)))
        self.pool = np.empty((min(slots, max(blocks, 1)), side, side), dtype=np.float32)
        self.slot_of_block = np.full(max(blocks, 1), -1, dtype=np.int32)
        self._used: OrderedDict[int, int] = OrderedDict()  # block -> slot, longest unused first
        self.blocks = Blocks(
            self.columns, self.rows, self.first_block, self.blocks_across, self.slot_of_block, self.pool
        )

    def touch(self, blocks: NDArray[np.intp]) -> None:
        """Those of these blocks that are in memory were used: others are given up before them."""
        for block in blocks.tolist():
            if block in self._used:
                self._used.move_to_end(block)

    def bring(self, blocks: NDArray[np.intp]) -> None:
        """Have these blocks, none of them in memory and no more than there are slots, in memory."""
        with rasterio.Env(**GDAL_OPTIONS):
            for block in blocks.tolist():
                if len(self._used) < self.pool.shape[0]:
                    slot = len(self._used)
                else:
                    old, slot = self._used.popitem(last=False)
                    self.slot_of_block[old] = -1
                self._load(block, slot)
                self._used[block] = slot
                self.slot_of_block[block] = slot

    def _load(self, block: int, slot: int) -> None:
        index = int(np.searchsorted(self.first_block, block, side="right")) - 1
        tile = self.reader.tiles[index]
        down, across = divmod(block - int(self.first_block[index]), int(self.blocks_across[index]))
        c0, r0 = across * BLOCK_PX - 1, down * BLOCK_PX - 1  # first node
        nodes = self.pool[slot]
        nodes.fill(np.nan)
        ca, cb = max(c0, 0), min(c0 + BLOCK_PX + 1, tile.width)
        ra, rb = max(r0, 0), min(r0 + BLOCK_PX + 1, tile.height)
        nodes[ra - r0 : rb - r0, ca - c0 : cb - c0] = self.reader.read(index, ca, ra, cb - ca, rb - ra)
        self._from_other_tiles(index, c0, r0, nodes)
        # outer nodes nobody else knows: the tile's own edge pixel
        for across_rows, outer, edge in (
            (False, -1, 0),
            (False, tile.width, tile.width - 1),
            (True, -1, 0),
            (True, tile.height, tile.height - 1),
        ):
            first = r0 if across_rows else c0
            if first <= outer <= first + BLOCK_PX and first <= edge <= first + BLOCK_PX:
                view = nodes if across_rows else nodes.T
                line, inner = view[outer - first], view[edge - first]
                np.copyto(line, inner, where=np.isnan(line))

    def _from_other_tiles(self, index: int, c0: int, r0: int, nodes: NDArray[np.float32]) -> None:
        tile = self.reader.tiles[index]
        missing = np.isnan(nodes)
        missing[:, tile.width + 1 - c0 :] = False
        missing[tile.height + 1 - r0 :, :] = False
        if not missing.any():
            return
        row, col = np.nonzero(missing)
        lat, lon = self.reader.to_lonlat(index, col.astype(np.float64) + c0, row.astype(np.float64) + r0)
        left = np.isfinite(lat) & np.isfinite(lon)
        west, east, south, north = (
            (lon[left].min(), lon[left].max(), lat[left].min(), lat[left].max())
            if left.any()
            else (0, 0, 0, 0)
        )
        # first the tiles whose pixels hold the node, then those that end within half a pixel of it
        turns = [(edge_px, other) for edge_px in (0.5 + 1e-4, 1.0) for other in range(len(self.reader.tiles))]
        for edge_px, other in turns:
            info = self.reader.tiles[other]
            if not left.any():
                break
            if other == index or not info.touches(west, south, east, north, margin_px=2.0):
                continue
            where = np.flatnonzero(left)
            pc, pr = self.reader.to_pixels(other, lat[where], lon[where])
            values = self.reader.raw(other, pc, pr, edge_px=edge_px)
            found = np.isfinite(values)
            nodes[row[where[found]], col[where[found]]] = values[found]
            left[where[found]] = False

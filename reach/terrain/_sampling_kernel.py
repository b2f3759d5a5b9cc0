# mypy: allow-untyped-defs, allow-untyped-calls
"""Compiled loops over sample points: which tile, which block, the bilinear value; arrays in and out."""

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from reach.machinery.compiled import fresh

_BLOCK_BITS = 8
BLOCK_PX = 1 << _BLOCK_BITS  # side of a block of elevation kept in memory
_JUST_BESIDE = 1e-7  # a share of a cell that is rounding next to a node


class PlainTiles(NamedTuple):
    """Tiles in degrees, (t,) each. order : priority of each, ascending, which is its number among all tiles.

    x0_deg, y0_deg : left and top edge. dx_deg, dy_deg : pixel sizes (dy negative when north is up).
    rim_px : how far inside its edge no tile before it comes near, so that a point which lies where the point
        before did needs no look at the others; infinite for none.
    """

    order: NDArray[np.int64]
    x0_deg: NDArray[np.float64]
    y0_deg: NDArray[np.float64]
    dx_deg: NDArray[np.float64]
    dy_deg: NDArray[np.float64]
    columns: NDArray[np.int64]
    rows: NDArray[np.int64]
    rim_px: NDArray[np.float64]


class Blocks(NamedTuple):
    """What is in memory of all tiles' blocks.

    columns, rows, first_block, blocks_across : (tiles,). slot_of_block : (blocks,), -1 where not in memory.
    pool : (slots, BLOCK_PX + 1, BLOCK_PX + 1) metres, NaN gaps.
    """

    columns: NDArray[np.int64]
    rows: NDArray[np.int64]
    first_block: NDArray[np.int64]
    blocks_across: NDArray[np.int64]
    slot_of_block: NDArray[np.int32]
    pool: NDArray[np.float32]


class Tile(NamedTuple):
    """One of those: plain numbers, as arrays handed from loop to loop are counted by every thread."""

    order: int
    x0_deg: float
    y0_deg: float
    dx_deg: float
    dy_deg: float
    columns: int
    rows: int
    rim_px: float


@fresh
@njit(nogil=True)
def locate_plain(first, last, lat, lon, tiles, reach_px, best, best_col, best_row):
    """Give points first..last - 1 the first plain tile (lowest order) whose pixels, widened by reach_px, hold
    them.

    lat, lon : (n,), longitudes within -360..360. best (n,) is lowered in place; best_col and best_row (pixel
        centres at whole numbers) go with it.
    """
    tile = _nowhere()
    for i in range(first, last):
        col, row = _pixel(lat[i], lon[i], tile)
        if not _within(col, row, tile, -tile.rim_px):
            tile = _first_tile(lat[i], lon[i], tiles, reach_px)
            col, row = _pixel(lat[i], lon[i], tile)
        if 0 <= tile.order < best[i]:
            best[i] = tile.order
            best_col[i] = col
            best_row[i] = row


@njit
def _first_tile(lat, lon, tiles, reach_px):
    """The first tile, widened by reach_px, that holds a place; that of `_nowhere` where none does."""
    for t in range(tiles.order.size):
        tile = Tile(
            tiles.order[t],
            tiles.x0_deg[t],
            tiles.y0_deg[t],
            tiles.dx_deg[t],
            tiles.dy_deg[t],
            tiles.columns[t],
            tiles.rows[t],
            tiles.rim_px[t],
        )
        col, row = _pixel(lat, lon, tile)
        if _within(col, row, tile, 0.5 + reach_px):
            return tile
    return _nowhere()


@njit
def _nowhere():
    """A tile that no place lies in."""
    return Tile(-1, 0.0, 0.0, 1.0, 1.0, 0, 0, np.inf)


@njit
def _pixel(lat, lon, tile):
    """Column and row of a place in a tile, the way round the globe that is nearer to its middle."""
    offset = lon - tile.x0_deg
    middle = 0.5 * tile.columns * tile.dx_deg
    if offset - middle > 180.0:
        offset -= 360.0
    elif offset - middle < -180.0:
        offset += 360.0
    return offset / tile.dx_deg - 0.5, (lat - tile.y0_deg) / tile.dy_deg - 0.5


@njit
def _within(col, row, tile, edge):
    """Whether a pixel lies in a tile widened by `edge` beyond the middles of its outer pixels."""
    across, down = tile.columns - 1.0, tile.rows - 1.0
    return col >= -edge and col <= across + edge and row >= -edge and row <= down + edge


@fresh
@njit(nogil=True)
def values_and_blocks(first, last, tile, col, row, blocks, out, used):
    """Bilinear values of points first..last - 1 whose block is in memory; others keep what `out` holds.

    used (blocks,) is set True for every block that a point lies in, in memory or not; a point outside every
    tile (-1) has none.
    """
    slot_of_block, pool = blocks.slot_of_block, blocks.pool
    for i in range(first, last):
        t = tile[i]
        if t >= 0:
            c, r = _cell(col[i], row[i], blocks.columns[t], blocks.rows[t])
            block = _block(c, r, blocks.first_block[t], blocks.blocks_across[t])
            if not used[block]:  # threads that only read it do not take it from one another
                used[block] = True
            if slot_of_block[block] >= 0:
                out[i] = _bilinear(pool, slot_of_block[block], c, r, col[i], row[i])


@fresh
@njit(nogil=True)
def lattice_values(
    first, last, node_lat, node_lon, near, at_row, at_column, tiles, same_px, seam_px, blocks, out, used
):
    """The same for the samples of rows first..last - 1 of a lattice, straight between its nodes.

    Each takes the first tile that holds it within same_px, else one within seam_px. Nodes as of `Lattice`;
    near : which cells between them may hold a sample of a tile; out : (rows, columns).
    """
    slot_of_block, pool = blocks.slot_of_block, blocks.pool
    down, across = node_lat.shape[0] - 2, node_lat.shape[1] - 2
    tile = _nowhere()
    first_block = blocks_across = 0
    for r in range(first, last):
        i = min(int(at_row[r]), down)
        fi = at_row[r] - i
        for k in range(at_column.size):
            j = min(int(at_column[k]), across)
            if not near[i, j]:
                continue
            fj = at_column[k] - j
            lat = _between(node_lat, i, j, fi, fj)
            lon = _between(node_lon, i, j, fi, fj)
            col, row = _pixel(lat, lon, tile)
            if not _within(col, row, tile, -tile.rim_px):
                tile = _first_tile(lat, lon, tiles, same_px)
                if tile.order < 0:
                    tile = _first_tile(lat, lon, tiles, seam_px)
                if tile.order < 0:
                    continue
                col, row = _pixel(lat, lon, tile)
                first_block = blocks.first_block[tile.order]
                blocks_across = blocks.blocks_across[tile.order]
            c, q = _cell(col, row, tile.columns, tile.rows)
            block = _block(c, q, first_block, blocks_across)
            if not used[block]:
                used[block] = True
            if slot_of_block[block] >= 0:
                out[r, k] = _bilinear(pool, slot_of_block[block], c, q, col, row)


@njit
def _between(nodes, i, j, fi, fj):
    """A value between four nodes of a lattice."""
    above = nodes[i, j] * (1.0 - fj) + nodes[i, j + 1] * fj
    below = nodes[i + 1, j] * (1.0 - fj) + nodes[i + 1, j + 1] * fj
    return above * (1.0 - fi) + below * fi


@njit
def _cell(col, row, columns, rows):
    """First column and row of the four nodes round a point. Cells start at -1, and so do blocks."""
    return min(max(int(np.floor(col)), -1), columns - 1), min(max(int(np.floor(row)), -1), rows - 1)


@njit
def _block(c, r, first_block, blocks_across):
    """Number of the block a cell lies in."""
    return first_block + ((r + 1) >> _BLOCK_BITS) * blocks_across + ((c + 1) >> _BLOCK_BITS)


@njit
def _bilinear(pool, slot, c, r, col, row):
    """Value in a cell of a block: pool (slots, BLOCK_PX + 1, BLOCK_PX + 1). A void node counts only where its
    weight is above zero."""
    fc = col - c
    fr = row - r
    kc = (c + 1) & (BLOCK_PX - 1)
    kr = (r + 1) & (BLOCK_PX - 1)
    if min(fc, fr) > _JUST_BESIDE and max(fc, fr) < 1.0 - _JUST_BESIDE:
        return (
            (1.0 - fr) * (1.0 - fc) * pool[slot, kr, kc]
            + (1.0 - fr) * fc * pool[slot, kr, kc + 1]
            + fr * (1.0 - fc) * pool[slot, kr + 1, kc]
            + fr * fc * pool[slot, kr + 1, kc + 1]
        )
    fc = _share(fc)
    fr = _share(fr)
    value = 0.0
    w = (1.0 - fr) * (1.0 - fc)
    if w > 0.0:
        value += w * pool[slot, kr, kc]
    w = (1.0 - fr) * fc
    if w > 0.0:
        value += w * pool[slot, kr, kc + 1]
    w = fr * (1.0 - fc)
    if w > 0.0:
        value += w * pool[slot, kr + 1, kc]
    w = fr * fc
    if w > 0.0:
        value += w * pool[slot, kr + 1, kc + 1]
    return value


@njit
def _share(way):
    """How far along a cell a point lies, 0 to 1; rounding next to a node does not ask the node beyond."""
    way = min(max(way, 0.0), 1.0)
    if way <= _JUST_BESIDE:
        return 0.0
    return 1.0 if way >= 1.0 - _JUST_BESIDE else way


@fresh
@njit(nogil=True)
def path_points(
    first, last, start, length_m, node_start, node_count, node_lat, node_lon, distance_m, lat, lon
):
    """Evenly spaced points of paths first..last - 1, read off their evenly spaced geodesic nodes by straight
    interpolation.

    start : (paths + 1,); node_start, node_count : (paths,) its first node and how many it has; outputs
    (start[-1],).
    """
    for p in range(first, last):
        intervals = start[p + 1] - start[p] - 1
        nodes = node_count[p] - 1
        for k in range(intervals + 1):
            share = k / intervals
            at = share * nodes
            n = min(int(at), nodes - 1)
            f = at - n
            a = node_start[p] + n
            i = start[p] + k
            distance_m[i] = share * length_m[p]
            lat[i] = node_lat[a] + f * (node_lat[a + 1] - node_lat[a])
            step = _round_the_globe(node_lon[a + 1] - node_lon[a])
            lon[i] = _round_the_globe(node_lon[a] + f * step)


@njit
def _round_the_globe(degrees):
    """A longitude, or a step along, within -540 to 540 degrees as one from -180 up to 180."""
    if degrees >= 180.0:
        return degrees - 360.0
    return degrees + 360.0 if degrees < -180.0 else degrees


@fresh
@njit(nogil=True)
def fill_short_gaps(start, distance_m, ground_m, longest_gap_m, filled_m, first_missing):
    """Fill voids linearly in place where the known points on both sides are at most longest_gap_m apart.

    filled_m : (paths,) out, total length filled.
    first_missing : (paths,) out, element of the first void left, or -1.
    """
    for p in range(filled_m.size):
        filled_m[p] = 0.0
        first_missing[p] = -1
        i = start[p]
        end = start[p + 1]
        while i < end:
            if not np.isnan(ground_m[i]):
                i += 1
                continue
            j = i
            while j < end and np.isnan(ground_m[j]):
                j += 1
            if i == start[p] or j == end or distance_m[j] - distance_m[i - 1] > longest_gap_m:
                first_missing[p] = i
                break
            a = i - 1
            width = distance_m[j] - distance_m[a]
            for k in range(i, j):
                ground_m[k] = (
                    ground_m[a] + (ground_m[j] - ground_m[a]) * (distance_m[k] - distance_m[a]) / width
                )
            filled_m[p] += width
            i = j

# mypy: allow-untyped-defs, allow-untyped-calls
"""Compiled loops over sample points: which tile, which block, the bilinear value; arrays in and out."""

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh

BLOCK_PX = 256  # side of a block of elevation kept in memory


@fresh
@njit(nogil=True)
def locate_plain(
    first, last, lat, lon, x0, y0, dx, dy, columns, rows, rim_px, reach_px, order, best, best_col, best_row
):
    """Give points first..last - 1 the first plain tile (lowest order) whose pixels, widened by reach_px, hold
    them.

    lat, lon : (n,), longitudes within -360..360. tile arrays (t,): left and top edge, pixel sizes (dy
        negative when north is up), counts; rim_px: how far inside its edge no tile before it comes near, so
        that a point which lies where the point before did needs no look at the others; infinite for none.
    order : (t,) priority of each, ascending. best (n,) is lowered in place; best_col and best_row (pixel
        centres at whole numbers) go with it.
    """
    edge = 0.5 + reach_px
    before = -1
    for i in range(first, last):
        if before >= 0 and order[before] < best[i]:
            t = before
            col, row = _pixel(lat[i], lon[i], x0[t], y0[t], dx[t], dy[t], columns[t])
            if _within(col, row, columns[t], rows[t], -rim_px[t]):
                best[i] = order[t]
                best_col[i] = col
                best_row[i] = row
                continue
        for t in range(order.size):
            if order[t] >= best[i]:
                break
            col, row = _pixel(lat[i], lon[i], x0[t], y0[t], dx[t], dy[t], columns[t])
            if _within(col, row, columns[t], rows[t], edge):
                best[i] = order[t]
                best_col[i] = col
                best_row[i] = row
                before = t
                break


@njit
def _pixel(lat, lon, x0, y0, dx, dy, columns):
    """Column and row of a place in a tile, the way round the globe that is nearer to its middle."""
    offset = lon - x0
    middle = 0.5 * columns * dx
    if offset - middle > 180.0:
        offset -= 360.0
    elif offset - middle < -180.0:
        offset += 360.0
    return offset / dx - 0.5, (lat - y0) / dy - 0.5


@njit
def _within(col, row, columns, rows, edge):
    """Whether a pixel lies in a tile widened by `edge` beyond the middles of its outer pixels."""
    return col >= -edge and col <= columns - 1.0 + edge and row >= -edge and row <= rows - 1.0 + edge


@fresh
@njit(nogil=True)
def values_and_blocks(
    first,
    last,
    tile,
    col,
    row,
    columns,
    rows,
    first_block,
    blocks_across,
    slot_of_block,
    pool,
    out,
    used,
):
    """Bilinear values of points first..last - 1 whose block is in memory; others keep what `out` holds.

    used (blocks,) is set True for every block that a point lies in, in memory or not; a point outside every
    tile (-1) has none.
    """
    for i in range(first, last):
        t = tile[i]
        if t < 0:
            continue
        c, r = _cell(col[i], row[i], columns[t], rows[t])
        block = _block(c, r, first_block[t], blocks_across[t])
        if not used[block]:  # threads that only read it do not take it from one another
            used[block] = True
        slot = slot_of_block[block]
        if slot >= 0:
            out[i] = _bilinear(pool, slot, c, r, col[i], row[i])


@njit
def _cell(col, row, columns, rows):
    """First column and row of the four nodes round a point. Cells start at -1, and so do blocks."""
    return min(max(int(np.floor(col)), -1), columns - 1), min(max(int(np.floor(row)), -1), rows - 1)


@njit
def _block(c, r, first_block, blocks_across):
    """Number of the block a cell lies in."""
    return first_block + ((r + 1) // BLOCK_PX) * blocks_across + (c + 1) // BLOCK_PX


@njit
def _bilinear(pool, slot, c, r, col, row):
    """Value in a cell of a block: pool (slots, BLOCK_PX + 1, BLOCK_PX + 1). A void node counts only where its
    weight is above zero."""
    fc = _share(col - c)
    fr = _share(row - r)
    kc = (c + 1) % BLOCK_PX
    kr = (r + 1) % BLOCK_PX
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
    if way < 1e-7:
        return 0.0
    return 1.0 if way > 1.0 - 1e-7 else way


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

"""What stands right before receivers, compiled: over a land-cover raster, on each receiver's own line.

A wood's edge a few columns before a receiver makes many decibels, and lies up to half a cell elsewhere for
the radial than for the cell. So the last columns are looked at one by one on the straight line to the cell,
and the hull of what stands on the ground, with its records, ends where they begin.
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._tuples_kernel import Before, apart
from reach.terrain.clutter import TERMINAL_CLEARING_M

BEFORE_M, MOST_BEFORE = 90.0, 8  # how far before a receiver its own line is looked along, m and columns

_F0 = np.float32(0.0)
_FAR = np.float32(np.inf)
_NEVER_M = np.float32(-1e9)  # nothing as low hides anything


@njit(error_model="numpy")
def before_receivers(column_m, site, step_x, step_y):
    """How much before its receivers a radial over a land-cover raster looks at on the line to each cell."""
    clearing = math.ceil(TERMINAL_CLEARING_M / column_m)
    columns = max(min(math.ceil(BEFORE_M / column_m), MOST_BEFORE), clearing + 1)
    return Before(columns, clearing, site, step_x, step_y, 1.0 / step_y)


@apart
def look_before(count, tx_m, before, cell_cover, scratch):
    """What stands before each owned cell, on the columns of the straight line to its centre: `Standing`.

    Not part of the walk: receiver beside receiver it is plain vector arithmetic, in 32 bits for the lanes.
    """
    column, cell, inverse, bent = (
        scratch.owned.column,
        scratch.owned.cell,
        scratch.inverse,
        scratch.bent.height,
    )
    standing = scratch.standing
    most, ahead, across = standing.most, standing.ahead, standing.across
    step_x, step_y = np.int32(before.step_x), np.int32(before.step_y)
    for i in range(count):
        aside = (cell[i] - before.site - np.int64(column[i]) * before.step_x) * before.rows_a_step
        across[i] = np.float32(aside) * inverse[np.uint32(column[i])]
        most[i] = _F0
        ahead[i] = -_FAR
    for back in range(1, before.columns + 1):
        tops = standing.top[back]
        clearing = np.int32(before.clearing_columns if back >= before.clearing_columns else 2**30)
        for i in range(count):
            at = np.int32(column[i] - back)
            at = at if at > 0 else np.int32(0)
            aside = np.int32(across[i] * np.float32(at) + np.float32(0.5))
            place = np.int64(np.int32(at * step_x + aside * step_y)) + before.site
            stands = cell_cover[np.uint64(place)]
            stands = stands if at >= clearing and stands > _F0 else _F0
            top = bent[np.uint32(at)] + stands
            top = top if at > 0 else _NEVER_M
            slope = (top - tx_m) / np.float32(at)
            most[i] = stands if stands > most[i] else most[i]
            ahead[i] = slope if at > 0 and slope > ahead[i] else ahead[i]
            tops[i] = top


@apart
def join_before(looks, tx_m, before, scratch):
    """`Look.product` of what stands far from the receivers and of what stands right before each, together."""
    look, bent, inverse = scratch.look, scratch.bent.height, scratch.inverse
    standing = scratch.standing
    back, least, receiver, direct = standing.far_back, standing.least, standing.receiver, standing.direct
    for i in range(looks):
        k = np.uint32(look.column[i])
        least[i] = _FAR
        receiver[i] = bent[k] + look.rx_m[i]
        direct[i] = (receiver[i] - tx_m) * inverse[k]
    for m in range(1, before.columns + 1):
        tops = standing.top[m]
        inverse_m = inverse[m]
        for i in range(looks):
            j = np.int32(look.column[i]) - np.int32(m)
            j = j if j > 0 else np.int32(0)
            top = tops[np.uint32(look.of[i])]
            along = np.float32(j)
            off = direct[i] - (top - tx_m) / along
            square = off * off * along * inverse_m
            square = square if j > 0 else _FAR
            slope = (top - receiver[i]) * inverse_m
            least[i] = square if square < least[i] else least[i]
            back[i] = slope if slope > back[i] else back[i]
    for i in range(looks):
        ahead = standing.ahead[np.uint32(look.of[i])]
        far = standing.far_most[i]
        over = (ahead if ahead > far else far) - direct[i]
        in_sight = look.product[i]
        in_sight = in_sight if in_sight > -least[i] else -least[i]
        look.product[i] = over * (back[i] + direct[i]) if over >= _F0 else in_sight

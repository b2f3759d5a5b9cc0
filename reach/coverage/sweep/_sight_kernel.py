"""The points that count between the site and receivers of one radial, compiled: the worst in sight for many
receivers together, and both where what stands on the ground changes with the path."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._tuples_kernel import LANES, RECORD_BLOCK, RECORD_GROUP, apart
from reach.propagation.typical_land.rule import usual_cover_at_m


@apart
def _promising(first, last, far, until, direct, top, near, best, record_at, record_slope):
    """Whether one of the records first..last could win for one of the receivers, by a bound for all."""
    first_at = record_at[first]
    last_slope = record_slope[last]
    promising = np.int32(0)
    for i in range(LANES):
        u = direct[i] - min(last_slope, top[i])
        d = max(first_at, near[i])
        bound = u * u * d / (far[i] - d)
        wins = np.int32(1) if until[i] > d and bound < best[i] else np.int32(0)
        promising = np.int32(max(promising, wins))
    return promising > 0


@apart
def worst_in_sight(oldest, records, far, until, direct, top, near, best, record_at, record_slope):
    """Smallest (S - a)^2 d/(D - d) over the points the site sees, for LANES receivers of one radial together.

    oldest, records : the first record that counts for any of them, and how many there are for the last.
    far, direct, top : D, S and the largest a of each receiver; until : the first column whose points do not
    count for it, D or nearer; near : its tangent point; best : the best
    known to begin with, and the result.

    A point farther from the site than one with a larger slope a fills less of its zone, so only records
    count; seen from the receiver the same rule leaves no point nearer the site than the receiver's tangent
    point. Blocks of records are bounded by their largest slope with their smallest distance, and opened only
    where that could win for one of the receivers. Infinite distances and slopes stand after the last record.
    """
    for group in range((records - 1) // RECORD_GROUP, oldest // RECORD_GROUP - 1, -1):
        start = group * RECORD_GROUP
        behind = start + RECORD_GROUP
        if not _promising(start, behind - 1, far, until, direct, top, near, best, record_at, record_slope):
            continue
        newest = min(behind, records) - 1
        for block in range(newest // RECORD_BLOCK, max(start, oldest) // RECORD_BLOCK - 1, -1):
            begin = block * RECORD_BLOCK
            end = begin + RECORD_BLOCK
            if _promising(begin, end - 1, far, until, direct, top, near, best, record_at, record_slope):
                for r in range(begin, end):
                    d = record_at[np.uint64(r)]
                    a = record_slope[np.uint64(r)]
                    for i in range(LANES):
                        u = direct[i] - a
                        value = u * u * d / (far[i] - d)
                        best[i] = value if until[i] > d and value < best[i] else best[i]


@njit(error_model="numpy", fastmath={"nnan", "nsz"})
def mixed_product(k, tx_m, rx_m, column_m, link, bent, inverse, raised):
    """`Look.product` of column k where either half of its path carries the cover of the end it belongs to
    (as `usual_cover_m` of propagation/typical_land).

    raised : room for the heights on the way. Every point is looked at: the largest of slopes that are finite
    and the smallest of squares, which hang on no order.
    """
    near_m = np.float32(usual_cover_at_m(1e9, link.near_land_m))  # beyond an open end's open land
    far_m = np.float32(usual_cover_at_m(1e9, link.far_land_m))
    near_end = (k - 1) // 2  # last column of the site's half, and first of the other
    far_begin = k // 2 + 1
    for at in range(1, near_end + 1):
        raised[at] = bent[at] + near_m
    for at in range(far_begin, k):
        raised[at] = bent[at] + far_m
    open_columns = math.floor(link.open_m / column_m)
    if link.near_land_m == 0.0:
        for at in range(1, min(open_columns, near_end) + 1):
            raised[at] = bent[at]
    if link.far_land_m == 0.0:
        for at in range(max(k - open_columns, far_begin), k):
            raised[at] = bent[at]
    if k % 2 == 0:
        half_m = np.float64(k // 2) * column_m
        near_there_m = usual_cover_at_m(half_m, link.near_land_m)
        far_there_m = usual_cover_at_m(half_m, link.far_land_m)
        raised[k // 2] = bent[k // 2] + np.float32(max(near_there_m, far_there_m))
    receiver = bent[k] + rx_m
    direct = (receiver - tx_m) * inverse[k]
    ahead = raised[1] - tx_m
    back = np.float32(-1e9)
    for at in range(1, k):
        ahead = max(ahead, (raised[np.uint64(at)] - tx_m) * inverse[np.uint64(at)])
        back = max(back, (raised[np.uint64(at)] - receiver) * inverse[np.uint64(k - at)])
    if ahead >= direct:
        return (ahead - direct) * (back + direct)
    least = np.float32(1e30)
    for at in range(1, k):
        off = direct - (raised[np.uint64(at)] - tx_m) * inverse[np.uint64(at)]
        least = min(least, off * off * np.float32(at) * inverse[np.uint64(k - at)])
    return -least

"""Along one stretch of one radial, compiled: the ground under it, its hulls, and what every receiver sees.

Every intermediate point of a path is a column, so node k of a hull is column k, and a radial that splits
shares its nodes with both halves without copying. Putting a column on the hulls and looking back from it go
hand in hand: each search starts where the one for the receiver before it ended, so its cost does not grow
with the hull.

No fast-math liberties are taken: every operation rounds as IEEE 754 says, so the same sweep gives the same
bits however the compiler arranges it, and on whichever processor of a cluster.
"""

# mypy: disable-error-code="no-untyped-def, import-untyped"
from __future__ import annotations

import math

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

from reach.coverage.sweep._sight_kernel import mixed_product, worst_in_sight
from reach.coverage.sweep._tuples_kernel import (
    BARE_MOST,
    BARE_NEWEST,
    COVERED,
    EVEN,
    GROUND_MOST,
    HIGHER,
    LANES,
    MIXED,
    MOMENT,
    NEAR_MOST,
    NEAR_RECORDS,
    OPEN_COLUMNS,
    RECORD_GROUP,
    RECORDS,
    SKY_MOST,
    TOTAL,
    apart,
)
from reach.propagation.typical_land.rule import end_term_db

AHEAD_CELLS, AHEAD_ROWS = 24, 4  # how far beside a radial its raster is fetched before neighbours need it
HIGHEST_M = np.float32(1e5)  # no ground stands higher or lower: such a height is a void

_F0 = np.float32(0.0)
_FAR = np.float32(np.inf)
_VOID = np.float32(np.nan)


@intrinsic
def _fetch_ahead(typing_context, values, at):
    """Ask for values[at] to be brought nearer; at may lie outside, nothing is read."""

    def lower(context, builder, signature, arguments):
        data = context.make_array(signature.args[0])(context, builder, arguments[0]).data
        place = builder.bitcast(builder.gep(data, [arguments[1]]), ir.IntType(8).as_pointer())
        word = ir.IntType(32)
        kind = ir.FunctionType(ir.VoidType(), [place.type, word, word, word])
        prefetch = builder.module.declare_intrinsic("llvm.prefetch", [place.type], kind)
        builder.call(prefetch, [place, word(0), word(2), word(1)])
        return context.get_dummy_value()

    return types.void(values, types.int64), lower


@apart
def sample_stretch(elevation, site, step_x, step_y, slope, site_m, curvature_m, first, last, ground, bent):
    """Ground along a stretch, linear between the two cells of each column that the radial passes between.

    elevation : flat raster; site : flat index of the site's cell; step_x, step_y : flat steps of the
    octant's axes. ground[k], bent[k] : height above site_m, without and with the bent Earth (curvature_m
    k^2 below); NaN in voids, and where a height is none.
    Returns how many samples are NaN.
    """
    voids = np.int32(0)
    ahead = AHEAD_CELLS * step_y if step_y * step_y == 1 else AHEAD_ROWS * step_y
    for k in range(first, last + 1):
        x = np.float32(k)
        y = x * slope
        row = np.int64(y)
        part = y - np.float32(row)
        at = site + k * step_x + row * step_y
        near = elevation[np.uint64(at)]
        _fetch_ahead(elevation, at + ahead)
        height = near + part * (elevation[np.uint64(at + step_y)] - near) - site_m
        known = abs(height) < HIGHEST_M
        height = height if known else _VOID
        ground[k] = height
        bent[k] = height - curvature_m * x * x
        voids = np.int32(voids + (np.int32(0) if known else np.int32(1)))
    return voids


@apart
def cover_stretch(cover, site, step_x, step_y, slope, first, last, height):
    """Height of what the cells nearest to a stretch add to its ground."""
    for k in range(first, last + 1):
        row = np.int64(np.float32(k) * slope + np.float32(0.5))
        height[k] = max(cover[np.uint64(site + k * step_x + row * step_y)], _F0)


@apart
def owned_stretch(span, low, high, owns_low, limit, site, step_x, step_y, owned):
    """Name the columns of a stretch that own a cell. Returns how many they are.

    A column owns the one cell between the radial's two borders, if there is one. span : (first, last);
    low, high : slopes of the borders with the neighbouring radials; the borders of all radials tile the
    octant, so every cell has exactly one owner. owns_low : a cell on the low border is this radial's, else
    one on the high border is. limit : largest squared distance in cells.
    """
    count = 0
    for k in range(span[0], span[1] + 1):
        bottom = k * low
        top = k * high
        if owns_low:
            y = np.int64(math.ceil(bottom))
            mine = y < top
        else:
            y = np.int64(math.floor(top))
            mine = y > bottom
        mine = mine and k * k + y * y <= limit
        owned.column[count] = k
        owned.cell[count] = site + k * step_x + y * step_y
        owned.square[count] = np.float32(k * k + y * y)
        count += 1 if mine else 0
    return count


@apart
def only_wanted(count, wanted, owned):
    """Keep those of the owned columns whose cell is wanted, in order. Returns how many they are."""
    kept = 0
    for i in range(count):
        owned.column[kept] = owned.column[i]
        owned.cell[kept] = owned.cell[i]
        owned.square[kept] = owned.square[i]
        kept += 1 if wanted[np.uint64(owned.cell[i])] != 0 else 0
    return kept


@njit(error_model="numpy", inline="always")
def _put(height, edge, previous, following, k, j, inverse):
    """Put column k on a hull, trying nodes from j towards the site; its tangent node."""
    own = height[np.uint64(k)]
    while own - height[np.uint64(j)] >= edge[np.uint64(j)] * np.float32(k - j):
        j = np.int64(previous[np.uint64(j)])
    previous[np.uint64(k)] = j
    edge[np.uint64(k)] = (own - height[np.uint64(j)]) * inverse[np.uint64(k - j)]
    following[np.uint64(j)] = k
    return j


@njit(error_model="numpy", inline="always")
def _tangent(height, edge, previous, following, finger, newest, k, receiver):
    """Node that a receiver at column k, on or above the tangent to `newest`, sees highest; `newest` and
    all nodes towards the site are on the hull, `finger` among them: the search starts there.

    `following` may be left over from columns put on by another radial, or never set: it is followed only
    away from the site and up to `newest`, so that the walk ends whatever it holds.
    """
    x = finger
    if receiver - height[np.uint64(x)] >= edge[np.uint64(x)] * np.float32(k - x):
        x = np.int64(previous[np.uint64(x)])
        while receiver - height[np.uint64(x)] >= edge[np.uint64(x)] * np.float32(k - x):
            x = np.int64(previous[np.uint64(x)])
    else:
        while x < newest:
            y = np.int64(following[np.uint64(x)])
            if (
                y <= x
                or y > newest
                or receiver - height[np.uint64(y)] >= edge[np.uint64(y)] * np.float32(k - y)
            ):
                break
            x = y
    return x


@njit(error_model="numpy", inline="always")
def _under_level(edge, previous, following, finger, newest, level):
    """Node of the hull where its edges turn from steeper than `level` to less steep."""
    x = finger
    if edge[np.uint64(x)] < level:
        x = np.int64(previous[np.uint64(x)])
        while edge[np.uint64(x)] < level:
            x = np.int64(previous[np.uint64(x)])
    else:
        while x < newest:
            y = np.int64(following[np.uint64(x)])
            if y <= x or y > newest or edge[np.uint64(y)] < level:
                break
            x = y
    return x


@njit(error_model="numpy")
def _rebuild(previous, following, last):
    """`following` of the hull that ends at column `last`; another radial may have written over it."""
    x = last
    while x > 1:
        y = np.int64(previous[x])
        following[y] = x
        x = y


@apart
def first_column(tx_m, link, scratch, state):
    """Column 1, from which every hull begins."""
    bent, flat, top, records = scratch.bent, scratch.flat, scratch.top, scratch.records
    for hull in (bent, flat, top):
        hull.edge[1] = _FAR
        hull.previous[1] = 0
    crest = top.height[1] if link.look == COVERED else bent.height[1]
    sky = crest - (tx_m - lift_of(link))
    state[SKY_MOST] = sky
    state[GROUND_MOST] = flat.height[1] - tx_m
    state[TOTAL] = flat.height[1]
    state[MOMENT] = flat.height[1]
    state[RECORDS] = 1
    state[BARE_MOST] = bent.height[1] - tx_m
    state[BARE_NEWEST] = 1
    records.at[0] = 1
    records.slope[0] = sky
    records.count[1] = 0
    records.count[2] = 1
    if link.look == HIGHER:
        near = scratch.near_records
        top.height[1] = bent.height[1] + np.float32(link.near_land_m)
        state[NEAR_MOST] = top.height[1] - tx_m
        state[NEAR_RECORDS] = 1
        near.at[0] = 1
        near.slope[0] = top.height[1] - tx_m
        near.count[1] = 0
        near.count[2] = 1


@apart
def open_site(first, open_columns, tx_m, link, scratch, state):
    """Let the columns before `first` carry nothing on the first open_columns from an open site, else lift_m.

    A radial that splits lies a little longer or shorter on the ground than its parent, so its open land may
    end a column sooner or later. The columns they share are raised anew, with hull and records, where they
    or the state were left by a radial whose open land ends elsewhere.
    """
    known = open_columns == scratch.open_columns[0] and open_columns == np.int64(state[OPEN_COLUMNS])
    scratch.open_columns[0] = open_columns
    state[OPEN_COLUMNS] = open_columns
    if first == 1 or known:
        return
    inverse, cover, bent, records = scratch.inverse, scratch.cover, scratch.bent.height, scratch.records
    top, edge, previous, following = scratch.top
    for k in range(1, first):
        cover[k] = _F0 if k <= open_columns else link.lift_m
        top[k] = bent[k] + cover[k]
    most = top[1] - tx_m
    records.slope[0] = most
    number = 1
    for k in range(2, first):
        records.count[k] = number
        _put(top, edge, previous, following, k, k - 1, inverse)
        slope = (top[k] - tx_m) * inverse[k]
        if slope > most:
            most = slope
            records.at[number] = np.float32(k)
            records.slope[number] = slope
            number += 1
    records.count[first] = number
    state[SKY_MOST] = most
    state[RECORDS] = number


@njit(error_model="numpy", inline="always")
def lift_of(link):
    """How much lower both antennas look over bare ground than they stand."""
    return link.lift_m if link.look == EVEN or link.look == HIGHER else _F0


@apart
def push_look(first, last, count, column_m, turn, link, before, cell_cover, scratch, state):
    """Put the columns first..last on the hulls and look back from those that own a cell; how many looks.

    count : how many own a cell, `scratch.owned`; the results are `scratch.look`. first is at least 2, and so
    are the owned columns. cell_cover : the raster's cover, flat. state : what the columns before `first`
    leave behind, and then those up to `last`.

    Longer than the rest: one pass over a radial's columns, whose running values would otherwise travel
    through memory. Two pairs of ends look along it: (tx, rx) over bare ground for horizons and smooth
    surfaces; and for Bullington's edge the same over what stands on the ground, or, where that is equally
    high everywhere, both lowered by that height over bare ground, which is the same picture.

    Where the site's half carries more than the other (HIGHER), a point of that half with the less of the
    other lies below itself, so of both pictures, the less over the whole path and the more over the half,
    the one that hides more is the path's: the half has a hull and records of its own, which grow by a column
    every two columns.

    Over a land-cover raster the last `before.columns` before a receiver are looked at on its own line
    (`_before_kernel.py`); they come on the hull of what stands on the ground, and its records, only when they
    lie farther off.
    """
    inverse, cover, raised, highest = scratch.inverse, scratch.cover, scratch.raised, scratch.highest
    bent, bent_edge, bent_previous, bent_following = scratch.bent
    flat, flat_edge, flat_previous, flat_following = scratch.flat
    top, top_edge, top_previous, top_following = scratch.top
    record_at, record_slope, record_count = scratch.records
    near_at, near_slope, near_count = scratch.near_records
    before_most, far_back, far_most = (
        scratch.standing.most,
        scratch.standing.far_back,
        scratch.standing.far_most,
    )
    owned_column, owned_cell, owned_square = scratch.owned
    (
        look_of, look_column, look_square, look_rx_m, look_ends_db, look_ground, look_product, look_from_tx,
        look_from_rx, look_obstruction, look_sum_one, look_sum_two, look_tx_slope, look_rx_slope,
        look_tx_columns, look_rx_columns,
    ) = scratch.look  # fmt: skip
    (
        seek_of, seek_oldest, seek_far, seek_until, seek_direct, seek_top, seek_near, seek_best,
        seek_near_oldest, seek_near_until, seek_near_top, seek_near_near,
    ) = scratch.seek  # fmt: skip
    covered = link.look == COVERED
    mixed = link.look == MIXED
    higher = link.look == HIGHER
    near_more_m = np.float32(link.near_land_m)
    # round an open site: until its open land ends in its own half, the far half carries more than it
    split_columns = 2.0 * link.open_m / column_m if covered and cell_cover.size == 1 else 0.0
    lift_m = lift_of(link)
    apart_looks = covered or lift_m > _F0
    clear_factor = np.float32(2.0 / (link.wavelength_m * column_m))
    far_m = link.far_height_m
    own_land = link.far_land_m < 0.0
    watch = turn.within_near
    tx_m = turn.tx_m
    tx_sky = tx_m - lift_m
    sky_most = np.float32(state[SKY_MOST])
    ground_most = np.float32(state[GROUND_MOST])
    bare_most = np.float32(state[BARE_MOST])
    total = state[TOTAL]
    moment = state[MOMENT]
    number = np.int64(state[RECORDS])
    near_most = np.float32(state[NEAR_MOST])
    near_number = np.int64(state[NEAR_RECORDS])
    bare_newest = np.int64(state[BARE_NEWEST])
    newest = first - 1
    behind = before.columns
    _rebuild(bent_previous, bent_following, newest)
    _rebuild(flat_previous, flat_following, newest)
    if covered:
        _rebuild(top_previous, top_following, max(newest - behind, 1))
    half = max(newest // 2, 1)
    half_at = half
    if higher:
        _rebuild(top_previous, top_following, half)
    head = 0
    tail = 0
    if watch:
        for k in range(max(newest - turn.near_columns, 1), newest - behind + 1):
            while tail > head and cover[highest[tail - 1]] <= cover[k]:
                tail -= 1
            highest[tail] = k
            tail += 1
    said_m = -1.0
    said_db = 0.0
    sky_at = max(newest - behind, 1)
    bare_at = newest
    flat_at = newest
    high_at = newest
    looks = 0
    seeking = 0
    i = 0
    next_owned = np.int64(owned_column[0]) if count > 0 else last + 1
    for k in range(first, last + 1):
        inverse_k = inverse[k]
        bent_k = bent[k]
        ground_k = flat[k]
        j = _put(bent, bent_edge, bent_previous, bent_following, k, k - 1, inverse)
        g = _put(flat, flat_edge, flat_previous, flat_following, k, j, inverse)
        bare_at = min(bare_at, j)
        flat_at = min(flat_at, g)
        high_at = min(high_at, g)
        if not covered:
            sky_at = min(sky_at, j)
        farther = max(k - behind, 2)  # columns before it are on the hull and in the records
        record_count[farther] = number
        if higher and k // 2 > half:  # a column more of the site's half
            half += 1
            top[half] = bent[half] + near_more_m
            t = _put(top, top_edge, top_previous, top_following, half, half - 1, inverse)
            half_at = min(half_at, t)
            slope = (top[half] - tx_m) * inverse[half]
            if slope > near_most:
                near_most = slope
                near_at[near_number] = np.float32(half)
                near_slope[near_number] = slope
                near_number += 1
            near_count[half + 1] = near_number
        total += ground_k
        moment += np.float64(k) * ground_k
        if k == next_owned:
            land_m = abs(np.float64(cell_cover[owned_cell[i]])) if own_land else link.far_land_m
            near_m = land_m
            if behind > 0:
                near_m = max(near_m, np.float64(before_most[i]))
            if watch:  # and what stands farther off, up to near_columns from the receiver
                while head < tail and highest[head] < k - turn.near_columns:
                    head += 1
                if head < tail:
                    near_m = max(near_m, np.float64(cover[highest[head]]))
            begin = 0 if turn.as_said else 1
            end = 2 if watch and (not turn.as_said or (near_m > land_m and far_m < near_m)) else 1
            for again in range(begin, end):
                stands_m = land_m if again == 0 else near_m
                rx_m = np.float32(far_m)
                if link.worked:
                    rx_m = np.float32(max(far_m, stands_m))
                    if stands_m != said_m:
                        said_m = stands_m
                        said_db = end_term_db(far_m, stands_m, link.frequency_ghz)
                look_of[looks] = i
                look_column[looks] = np.float32(k)
                look_square[looks] = owned_square[i]
                look_rx_m[looks] = rx_m
                look_ends_db[looks] = np.float32(said_db + turn.tx_end_db)
                receiver = bent_k + rx_m
                direct = (receiver - tx_m) * inverse_k
                sky_direct = direct
                if covered:
                    sky_at = _tangent(
                        top, top_edge, top_previous, top_following, sky_at, farther - 1, k, receiver
                    )
                    sky_back = (top[sky_at] - receiver) * inverse[k - sky_at]
                    far_back[looks] = sky_back
                    far_most[looks] = sky_most
                elif not mixed:
                    if lift_m > _F0 and rx_m <= lift_m:
                        sky_at = j
                    else:
                        sky_at = _tangent(
                            bent, bent_edge, bent_previous, bent_following, sky_at, j, k, receiver - lift_m
                        )
                    sky_direct = (receiver - lift_m - tx_sky) * inverse_k
                    sky_back = (bent[sky_at] - (receiver - lift_m)) * inverse[k - sky_at]
                else:
                    sky_back = _F0
                if apart_looks or mixed:
                    bare_at = _tangent(
                        bent, bent_edge, bent_previous, bent_following, bare_at, j, k, receiver
                    )
                    back = (bent[bare_at] - receiver) * inverse[k - bare_at]
                else:
                    bare_at = sky_at
                    back = sky_back
                # smooth surfaces
                look_ground[looks] = ground_k
                look_sum_one[looks] = np.float32((2.0 * total - ground_k) * inverse_k)
                look_sum_two[looks] = np.float32(
                    (6.0 * moment - (3.0 * k + 1.0) * ground_k) * inverse_k * inverse_k
                )
                receiver_flat = ground_k + rx_m
                level = (receiver_flat - tx_m) * inverse_k
                above = _F0
                from_rx = _F0
                if ground_most > level:
                    flat_at = _tangent(
                        flat, flat_edge, flat_previous, flat_following, flat_at, g, k, receiver_flat
                    )
                    high_at = _under_level(
                        flat_edge, flat_previous, flat_following, min(high_at, flat_at), flat_at, level
                    )
                    from_rx = (flat[flat_at] - receiver_flat) * inverse[k - flat_at]
                    above = flat[high_at] - tx_m - level * np.float32(high_at)
                look_from_tx[looks] = ground_most
                look_from_rx[looks] = from_rx
                look_obstruction[looks] = above
                # horizons over bare ground
                beyond = bare_most >= direct
                look_tx_slope[looks] = bare_most if beyond else direct
                look_rx_slope[looks] = back if beyond else -direct
                look_tx_columns[looks] = np.float32(bare_newest) if beyond else np.float32(k)
                look_rx_columns[looks] = np.float32(k - bare_at) if beyond else _F0
                # Bullington's edge, or the worst point in sight
                most = sky_most
                if higher:
                    half_at = _tangent(top, top_edge, top_previous, top_following, half_at, half, k, receiver)
                    sky_back = max(sky_back, (top[half_at] - receiver) * inverse[k - half_at])
                    most = max(sky_most, near_most)
                margin = sky_direct - most
                if mixed or k < split_columns:
                    look_product[looks] = mixed_product(
                        k, tx_m, rx_m, np.float32(column_m), link, bent, inverse, raised
                    )
                elif margin > _F0:
                    best = margin * (-sky_direct - sky_back)
                    if clear_factor * np.float32(k) * best < link.clear_limit:
                        # the horizon points of both to begin with
                        crest = top[sky_at] if covered else bent[sky_at]
                        own = sky_direct - (crest - tx_sky) * inverse[sky_at]
                        worst_at = record_at[number - 1]
                        off = sky_direct - sky_most
                        best = min(
                            own * own * np.float32(sky_at) * inverse[k - sky_at],
                            off * off * worst_at * inverse[k - np.int64(worst_at)],
                        )
                        if higher:
                            own = direct - (top[half_at] - tx_m) * inverse[half_at]
                            best = min(best, own * own * np.float32(half_at) * inverse[k - half_at])
                            worst_at = near_at[near_number - 1]
                            off = direct - near_most
                            best = min(best, off * off * worst_at * inverse[k - np.int64(worst_at)])
                            seek_near_oldest[seeking] = near_count[half_at + 1]
                            seek_near_until[seeking] = np.float32(half + 1)
                            seek_near_top[seeking] = near_most
                            seek_near_near[seeking] = np.float32(half_at)
                        seek_of[seeking] = looks
                        seek_oldest[seeking] = record_count[sky_at + 1]
                        seek_far[seeking] = np.float32(k)
                        seek_until[seeking] = np.float32(farther)
                        seek_direct[seeking] = sky_direct
                        seek_top[seeking] = sky_most
                        seek_near[seeking] = np.float32(sky_at)
                        seek_best[seeking] = best
                        seeking += 1
                    look_product[looks] = -best
                else:
                    look_product[looks] = -margin * (sky_back + sky_direct)
                looks += 1
            i += 1
            next_owned = np.int64(owned_column[i]) if i < count else last + 1
        bare_slope = (bent_k - tx_m) * inverse_k
        if bare_slope > bare_most:
            bare_most = bare_slope
            bare_newest = np.int64(k)
        sky_k = k
        if covered:
            sky_k = k - behind
            sky_slope = -_FAR
            if sky_k > 1:
                t = _put(top, top_edge, top_previous, top_following, sky_k, sky_k - 1, inverse)
                sky_at = min(sky_at, t)
                sky_slope = (top[sky_k] - tx_sky) * inverse[sky_k]
        else:
            sky_slope = (bent_k - tx_sky) * inverse_k
        if sky_slope > sky_most:
            sky_most = sky_slope
            record_at[number] = np.float32(sky_k)
            record_slope[number] = sky_slope
            number += 1
        ground_most = max(ground_most, (ground_k - tx_m) * inverse_k)
        if watch and k > behind:
            while tail > head and cover[highest[tail - 1]] <= cover[k - behind]:
                tail -= 1
            if tail == head:
                head = 0
                tail = 0
            highest[tail] = k - behind
            tail += 1
    record_count[max(last + 1 - behind, 2)] = number
    for r in range(number, number + RECORD_GROUP):
        record_at[r] = _FAR
        record_slope[r] = _FAR
    if higher:
        for r in range(near_number, near_number + RECORD_GROUP):
            near_at[r] = _FAR
            near_slope[r] = _FAR
    state[NEAR_MOST] = near_most
    state[NEAR_RECORDS] = near_number
    state[SKY_MOST] = sky_most
    state[GROUND_MOST] = ground_most
    state[BARE_MOST] = bare_most
    state[BARE_NEWEST] = bare_newest
    state[TOTAL] = total
    state[MOMENT] = moment
    state[RECORDS] = number
    _worst_points(seeking, scratch.records, scratch)
    if higher:
        for c in range(seeking):
            seek_until[c] = seek_near_until[c]
            seek_oldest[c] = seek_near_oldest[c]
            seek_top[c] = seek_near_top[c]
            seek_near[c] = seek_near_near[c]
        _worst_points(seeking, scratch.near_records, scratch)
    return looks


@apart
def _worst_points(seeking, records, scratch):
    """Look for the worst points of the receivers in `seek` among records and put them into `look.product`."""
    seek, product = scratch.seek, scratch.look.product
    if seeking == 0:
        return
    for c in range(seeking, seeking + LANES):  # the last again, to fill the lanes
        seek.of[c] = seek.of[seeking - 1]
        seek.oldest[c] = seek.oldest[seeking - 1]
        seek.far[c] = seek.far[seeking - 1]
        seek.until[c] = seek.until[seeking - 1]
        seek.direct[c] = seek.direct[seeking - 1]
        seek.top[c] = seek.top[seeking - 1]
        seek.near[c] = seek.near[seeking - 1]
        seek.best[c] = seek.best[seeking - 1]
    for c in range(0, seeking, LANES):
        end = c + LANES
        oldest = seek.oldest[c]
        for i in range(c, end):
            oldest = min(oldest, seek.oldest[i])
        before = records.count[np.int64(seek.until[end - 1])]
        worst_in_sight(
            np.int64(oldest), np.int64(before), seek.far[c:end], seek.until[c:end], seek.direct[c:end],
            seek.top[c:end], seek.near[c:end], seek.best[c:end], records.at, records.slope,
        )  # fmt: skip
        for i in range(c, end):
            product[seek.of[i]] = -seek.best[i]

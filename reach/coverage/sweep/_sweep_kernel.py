"""Every cell round a site, compiled: octants, radials that split as they go out, cells handed to their
radial."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._before_kernel import before_receivers, join_before, look_before
from reach.coverage.sweep._loss_kernel import loss_stretch
from reach.coverage.sweep._mechanisms_kernel import doubtful_stretch, mechanisms_stretch
from reach.coverage.sweep._tuples_kernel import COVERED, DEAD, SINH_SPAN, Before, Turn, apart, new_scratch
from reach.coverage.sweep._walk_kernel import (
    cover_stretch,
    first_column,
    only_wanted,
    open_site,
    owned_stretch,
    push_look,
    sample_stretch,
)
from reach.machinery.compiled import fresh
from reach.propagation.horizon_kind import kind_beyond, kind_in_sight
from reach.propagation.typical_land.rule import end_term_db
from reach.terrain.clutter import TERMINAL_CLEARING_M

OCTANTS = 8


@njit(error_model="numpy")
def border(place, radials):
    """Slope at `place` of an octant's radials, which lie evenly in asinh(slope): 0 at none of them, 1 at all.

    That end is exact whatever rounding does: the cells on the diagonal are one octant's, neither both's,
    whose threads would then write them in turn, nor nobody's.
    """
    return 1.0 if place >= radials else math.sinh(SINH_SPAN * (place / radials))


@apart
def store(looks, turn, scratch, out):
    """Put what was found into its cell: of two looks, or turns, the smaller loss, the rest of the first."""
    look, cell, result = scratch.look, scratch.owned.cell, scratch.result
    of = look.of
    before = np.int32(-1)
    for i in range(looks):
        at = np.uint64(cell[of[i]])
        lowest = turn.lowest or of[i] == before
        loss_db = result.loss_db[i]
        if lowest:
            loss_db = min(loss_db, out.loss_db[at])
        else:
            if out.want_clearance:
                out.clearance[at] = result.clearance[i]
            if out.want_kind:
                if look.rx_columns[i] > 0.0:
                    between = look.column[i] - look.tx_columns[i] - look.rx_columns[i]
                    kind = kind_beyond(between, look.column[i])
                else:
                    kind = kind_in_sight(result.clearance[i])
                out.kind[at] = kind
        out.loss_db[at] = loss_db
        before = of[i]


@njit(error_model="numpy")
def octant_steps(octant, ground):
    """(step_x, step_y, room_x, room_y): flat steps of the axis an octant runs along and of the one its slope
    is measured on, and the cells that lie that way."""
    east, north = 1, -ground.width
    if octant == 0 or octant == 7:
        step_x, room_x = east, ground.east
    elif octant == 1 or octant == 2:
        step_x, room_x = north, ground.north
    elif octant == 3 or octant == 4:
        step_x, room_x = -east, ground.west
    else:
        step_x, room_x = -north, ground.south
    if octant == 0 or octant == 3:
        step_y, room_y = north, ground.north
    elif octant == 1 or octant == 6:
        step_y, room_y = east, ground.east
    elif octant == 2 or octant == 5:
        step_y, room_y = -east, ground.west
    else:
        step_y, room_y = -north, ground.south
    return step_x, step_y, room_x, room_y


@njit(error_model="numpy")
def known_until(first, last, voids, height):
    """The last column before a void; nothing can be said of what lies behind one."""
    if voids == 0:
        return last
    k = first
    while not math.isnan(height[k]):
        k += 1
    return k - 1


@njit(error_model="numpy")
def cover_columns(first, last, site, steps, slope, column_m, ground, link, scratch):
    """What stands on the columns of a stretch, and its height on the bent Earth."""
    cover, bent, top = scratch.cover, scratch.bent.height, scratch.top.height
    if ground.cover.size > 1:
        cover_stretch(ground.cover, site, steps[0], steps[1], np.float32(slope), first, last, cover)
        clearing = TERMINAL_CLEARING_M / column_m
        for k in range(first, last + 1):
            if k >= clearing:
                break
            cover[k] = np.float32(0.0)
    else:
        open_columns = math.floor(link.open_m / column_m)
        for k in range(first, last + 1):
            cover[k] = np.float32(0.0) if k <= open_columns else link.lift_m
    for k in range(first, last + 1):
        top[k] = bent[k] + cover[k]


@njit(error_model="numpy")
def beside_site(column_m, turn, ground, link, owned, out):
    """Loss of a cell beside the site, first of the owned: nothing lies between."""
    cell = owned.cell[0]
    land_m = link.far_land_m if link.far_land_m >= 0.0 else abs(np.float64(ground.cover[cell]))
    far_m = max(link.far_height_m, land_m) if link.worked else link.far_height_m
    end_db = end_term_db(link.far_height_m, land_m, link.frequency_ghz) if link.worked else 0.0
    near_m = ground.cell_m * math.sqrt(owned.square[0])
    rise_m = ground.elevation[cell] - ground.site_m + far_m - turn.tx_m
    free_db = link.free_space_db + 10.0 * math.log10((near_m * near_m + rise_m * rise_m) * 1e-6)
    loss_db = np.float32(free_db + turn.tx_end_db + end_db)
    out.loss_db[cell] = min(loss_db, out.loss_db[cell]) if turn.lowest else loss_db
    if out.want_clearance:
        out.clearance[cell] = np.float32(np.inf)
    if out.want_kind:
        out.kind[cell] = 0


@njit(error_model="numpy")
def sweep_stretch(
    span, outermost, slopes, owns_low, steps, turn, ground, fan, link, more, out, scratch, state
):  # fmt: skip
    """One stretch of one radial, from its ground to the cells it owns.

    span : (first, last) column; outermost : the radial does not go on beyond it; slopes : of its lower
    border, its upper border and itself; steps : flat steps of the octant's axes. state : what the columns
    before leave behind, see `push_look`.
    """
    first, last = span
    low, high, slope = slopes
    step_x, step_y = steps
    owned, look, result = scratch.owned, scratch.look, scratch.result
    site = ground.site_row * ground.width + ground.site_column
    column_m = ground.cell_m * math.sqrt(1.0 + slope * slope)
    curvature_m = np.float32(column_m * column_m / (2.0 * link.radius_m))
    limit = fan.radius_cells * fan.radius_cells
    count = owned_stretch(span, low, high, owns_low, limit, site, step_x, step_y, owned)
    if ground.wanted.size > 1:
        count = only_wanted(count, ground.wanted, owned)
        if outermost:
            if count == 0:
                return
            last = np.int64(owned.column[count - 1])
    voids = sample_stretch(
        ground.elevation, site, step_x, step_y, np.float32(slope), np.float32(ground.site_m), curvature_m,
        first, last, scratch.flat.height, scratch.bent.height,
    )  # fmt: skip
    if voids > 0:
        state[DEAD] = 1.0
        last = known_until(first, last, voids, scratch.bent.height)
        if last < first:
            return
        while count > 0 and owned.column[count - 1] > last:
            count -= 1
    if link.look == COVERED:
        cover_columns(first, last, site, steps, slope, column_m, ground, link, scratch)
    if first == 1:
        first_column(turn.tx_m, link, scratch, state)
    if link.look == COVERED and ground.cover.size == 1:
        open_site(first, math.floor(link.open_m / column_m), turn.tx_m, link, scratch, state)
    if count > 0 and owned.column[0] == 1:
        beside_site(column_m, turn, ground, link, owned, out)
        count -= 1
        for i in range(count):
            owned.column[i] = owned.column[i + 1]
            owned.cell[i] = owned.cell[i + 1]
            owned.square[i] = owned.square[i + 1]
    before = Before(0, 0, site, step_x, step_y, 0.0)
    if link.look == COVERED and ground.cover.size > 1:
        before = before_receivers(column_m, site, step_x, step_y)
        look_before(count, turn.tx_m, before, ground.cover, scratch)
    looks = push_look(max(first, 2), last, count, column_m, turn, link, before, ground.cover, scratch, state)
    if before.columns > 0:
        join_before(looks, turn.tx_m, before, scratch)
    cell_m, column32 = np.float32(ground.cell_m), np.float32(column_m)
    loss_stretch(looks, cell_m, column32, turn.tx_m, link, look, result)
    if more.wanted:
        doubtful = mechanisms_stretch(looks, cell_m, column32, turn.tx_m, link, more, look, result)
        if doubtful > 0:
            doubtful_stretch(
                looks, turn.tx_m, ground.site_row, ground.width, ground.cell_m, column_m, link, more, scratch
            )
    store(looks, turn, scratch, out)


@njit(error_model="numpy")
def turn_of(number, slope, steps, rooms, ground, link, site):
    """How the site's end is worked at a first radial's first turn (number 0) or at its second.

    The second is only for where both ends are taken to stand in the highest cover within near_m of them; a
    site that stands as high, or has no such cover on that side, leaves it to the receivers of the first.
    """
    column_m = ground.cell_m * math.sqrt(1.0 + slope * slope)
    near_columns = math.floor((site.near_m + 1e-3) / column_m)
    clearing = math.ceil(TERMINAL_CLEARING_M / column_m)
    near_land_m = site.land_m
    twice = site.near_m > 0.0
    if twice:
        at = ground.site_row * ground.width + ground.site_column
        for k in range(max(clearing, 1), min(near_columns, rooms[0]) + 1):
            aside = int(k * slope + 0.5)
            if aside <= rooms[1]:
                near_land_m = max(near_land_m, np.float64(ground.cover[at + k * steps[0] + aside * steps[1]]))
    again = near_land_m > site.land_m and site.height_m < near_land_m
    land_m = site.land_m if number == 0 else near_land_m
    tx_m = np.float32(max(site.height_m, land_m) if link.worked else site.height_m)
    end_db = end_term_db(site.height_m, land_m, link.frequency_ghz) if link.worked else 0.0
    turn = Turn(tx_m, end_db, number == 0, twice and (number == 1 or not again), near_columns, number == 1)
    return turn, again


@fresh
@njit(nogil=True)
def sweep(first_task, last_task, ground, fan, site, link, more, out):
    """Fill out.loss_db and, if wanted, out.clearance round a site, for some of OCTANTS * fan.roots tasks.

    A task is one of an octant's first radials with all it splits into; no cell belongs to two tasks. Cells
    in a void, behind one and outside the circle or the raster keep what out held.

    Longer than the rest: the walk through the tree of splits, whose steps share a dozen values.
    """
    roots, levels = fan.roots, fan.levels
    leaves = 1 << levels
    most_before = 0
    if link.look == COVERED and ground.cover.size > 1:
        most_before = before_receivers(ground.cell_m, 0, 1, 1).columns
    scratch = new_scratch(fan.radius_cells, levels, most_before)
    states = scratch.states
    for task in range(first_task, last_task):
        farthest = fan.radius_cells
        if fan.until.size > 1:
            farthest = min(farthest, np.int64(fan.until[task]))
            if farthest == 0:
                continue
        octant = task // roots
        root = task % roots
        step_x, step_y, room_x, room_y = octant_steps(octant, ground)
        owns_low = octant % 2 == 0
        root_high = border(root + 1, roots)
        stretch = math.sqrt(1.0 + root_high * root_high) * SINH_SPAN
        for number in range(2):
            middle = border(root + 0.5, roots)
            turn, again = turn_of(number, middle, (step_x, step_y), (room_x, room_y), ground, link, site)
            if number == 1 and not again:
                break
            for leaf in range(leaves):
                level = 0
                if leaf > 0:
                    level = levels
                    bits = leaf
                    while bits & 1 == 0:
                        bits >>= 1
                        level -= 1
                while level <= levels:
                    radials = roots << level
                    radial = (root << level) + (leaf >> (levels - level))
                    low = border(radial, radials)
                    high = border(radial + 1, radials)
                    slope = border(radial + 0.5, radials)
                    first = np.int64(1)
                    if level > 0:
                        first += np.int64(math.floor((radials >> 1) / stretch))
                    end = np.int64(math.floor(fan.radius_cells / math.sqrt(1.0 + low * low)))
                    end = min(end, farthest)
                    last = end if level == levels else min(end, np.int64(math.floor(radials / stretch)))
                    # sampling reads one cell beyond the radial
                    room = min(room_x, np.int64(math.floor((room_y - 0.01) / slope)))
                    left = room < last
                    last = min(last, room)
                    state = states[level + 1]
                    state[:] = states[level]
                    if last >= first and state[DEAD] == 0.0:
                        sweep_stretch(
                            (first, last), level == levels, (low, high, slope), owns_low, (step_x, step_y),
                            turn, ground, fan, link, more, out, scratch, state,
                        )  # fmt: skip
                    if left:  # nothing that goes on from here comes back into the raster
                        state[DEAD] = 1.0
                    level += 1

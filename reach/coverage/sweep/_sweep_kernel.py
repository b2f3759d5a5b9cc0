"""Every cell round a site, compiled: octants, radials that split as they go out, cells handed to their
radial."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._loss_kernel import loss_stretch
from reach.coverage.sweep._mechanisms_kernel import doubtful_stretch, mechanisms_stretch
from reach.coverage.sweep._tuples_kernel import DEAD, SINH_SPAN, new_scratch
from reach.coverage.sweep._walk_kernel import (
    cover_stretch,
    first_column,
    owned_stretch,
    push_look,
    sample_stretch,
)
from reach.machinery.compiled import fresh

OCTANTS = 8


@njit(error_model="numpy")
def store(count, cell_of, source, target):
    """Put each value into its cell."""
    for i in range(count):
        target[np.uint64(cell_of[i])] = source[i]


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
def sweep_stretch(span, slopes, owns_low, steps, ground, fan, link, more, out, scratch, state):
    """One stretch of one radial, from its ground to the cells it owns.

    span : (first, last) column; slopes : of its lower border, its upper border and itself; steps : flat
    steps of the octant's axes. state : what the columns before leave behind, see `push_look`.
    """
    first, last = span
    low, high, slope = slopes
    step_x, step_y = steps
    owned, result = scratch.owned, scratch.result
    site = ground.site_row * ground.width + ground.site_column
    column_m = ground.cell_m * math.sqrt(1.0 + slope * slope)
    curvature_m = np.float32(column_m * column_m / (2.0 * link.radius_m))
    flat, bent, top = scratch.flat.height, scratch.bent.height, scratch.top.height
    voids = sample_stretch(
        ground.elevation, site, step_x, step_y, np.float32(slope), np.float32(ground.site_m), curvature_m, first,
        last, flat, bent,
    )  # fmt: skip
    if voids > 0:
        state[DEAD] = 1.0
        last = known_until(first, last, voids, bent)
        if last < first:
            return
    if link.covered:
        cover = scratch.cover
        if ground.cover.size > 1:
            cover_stretch(ground.cover, site, step_x, step_y, np.float32(slope), first, last, cover)
        else:
            open_columns = link.open_m / column_m
            for k in range(first, last + 1):
                cover[k] = np.float32(0.0) if k <= open_columns else link.open_height_m
        for k in range(first, last + 1):
            top[k] = bent[k] + cover[k]
    if first == 1:
        first_column(link, scratch, state)
    limit = fan.radius_cells * fan.radius_cells
    count = owned_stretch((first, last), low, high, owns_low, limit, site, step_x, step_y, owned)
    beside = 1 if count > 0 and owned.column[0] == 1 else 0
    if beside == 1:  # a cell beside the site: nothing lies between
        near_km = ground.cell_m * math.sqrt(owned.square[0]) * 1e-3
        out.loss_db[owned.cell[0]] = link.free_space_db + 20.0 * math.log10(near_km) + more.ends_db
        if out.want_clearance:
            out.clearance[owned.cell[0]] = np.float32(np.inf)
        count -= 1
        for i in range(count):
            owned.column[i] = owned.column[i + 1]
            owned.cell[i] = owned.cell[i + 1]
            owned.square[i] = owned.square[i + 1]
    clear_factor = np.float32(2.0 / (link.wavelength_m * column_m))
    push_look(max(first, 2), last, count, clear_factor, link, scratch, state)
    cell_m, column32 = np.float32(ground.cell_m), np.float32(column_m)
    loss_stretch(count, cell_m, column32, link, owned, scratch.look, result)
    if more.wanted:
        doubtful = mechanisms_stretch(count, cell_m, column32, link, more, owned, scratch.look, result)
        if doubtful > 0:
            doubtful_stretch(
                count, ground.site_row, ground.width, ground.cell_m, column_m, link, more, scratch
            )
    store(count, owned.cell, result.loss_db, out.loss_db)
    if out.want_clearance:
        store(count, owned.cell, result.clearance, out.clearance)


@fresh
@njit(nogil=True)
def sweep(first_task, last_task, ground, fan, link, more, out):
    """Fill out.loss_db and, if wanted, out.clearance round a site, for some of OCTANTS * fan.roots tasks.

    A task is one of an octant's first radials with all it splits into; no cell belongs to two tasks. Cells
    in a void, behind one and outside the circle or the raster keep what out held.

    Longer than the rest: the walk through the tree of splits, whose steps share a dozen values.
    """
    roots, levels = fan.roots, fan.levels
    leaves = 1 << levels
    scratch = new_scratch(fan.radius_cells, levels)
    states = scratch.states
    for task in range(first_task, last_task):
        octant = task // roots
        root = task % roots
        step_x, step_y, room_x, room_y = octant_steps(octant, ground)
        owns_low = octant % 2 == 0
        root_high = math.sinh(SINH_SPAN * (root + 1) / roots)
        stretch = math.sqrt(1.0 + root_high * root_high) * SINH_SPAN
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
                low = math.sinh(SINH_SPAN * radial / radials)
                high = math.sinh(SINH_SPAN * (radial + 1) / radials)
                slope = math.sinh(SINH_SPAN * (radial + 0.5) / radials)
                first = np.int64(1)
                if level > 0:
                    first += np.int64(math.floor((radials >> 1) / stretch))
                end = np.int64(math.floor(fan.radius_cells / math.sqrt(1.0 + low * low)))
                # sampling reads one cell beyond the radial, and its cells lie up to one aside
                end = min(end, room_x, np.int64(math.floor((room_y - 1) / slope)))
                last = end if level == levels else min(end, np.int64(math.floor(radials / stretch)))
                state = states[level + 1]
                state[:] = states[level]
                if last >= first and state[DEAD] == 0.0:
                    sweep_stretch(
                        (first, last), (low, high, slope), owns_low, (step_x, step_y), ground, fan, link, more,
                        out, scratch, state,
                    )  # fmt: skip
                level += 1

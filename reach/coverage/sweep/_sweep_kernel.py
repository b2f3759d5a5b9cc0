"""Every cell round a site, compiled: octants, radials that split as they go out, cells handed to their
radial."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._p1812_kernel import combine_stretch
from reach.coverage.sweep._radial_kernel import (
    LANES,
    RECORD_GROUP,
    look_stretch,
    loss_stretch,
    push_stretch,
    sample_stretch,
)
from reach.machinery.compiled import fresh

OCTANTS = 8
SINH_SPAN = math.asinh(1.0)


@njit(error_model="numpy")
def owned_stretch(
    first, last, low, high, owns_low, radius_cells, site, step_x, step_y, column_of, cell_of, square_of
):  # fmt: skip
    """The columns of a stretch that own a cell, that cell's flat index and its squared distance in cells.

    Returns how many they are.

    A column owns the one cell between the radial's two borders, if there is one. low, high : slopes of the
    borders with the neighbouring radials; the borders of all radials tile the octant, so every cell has
    exactly one owner.
    owns_low : a cell on the low border is this radial's, else one on the high border is.
    """
    limit = radius_cells * radius_cells
    count = 0
    for k in range(first, last + 1):
        bottom = k * low
        top = k * high
        if owns_low:
            y = np.int64(math.ceil(bottom))
            mine = y < top
        else:
            y = np.int64(math.floor(top))
            mine = y > bottom
        mine = mine and k * k + y * y <= limit
        column_of[count] = k
        cell_of[count] = site + k * step_x + y * step_y
        square_of[count] = np.float32(k * k + y * y)
        count += 1 if mine else 0
    return count


@njit(error_model="numpy")
def store(count, cell_of, source, target):
    """Put each value into its cell."""
    for i in range(count):
        target[np.uint64(cell_of[i])] = source[i]


@fresh
@njit(nogil=True)
def sweep(
    first_task, last_task, elevation, width, site_row, site_column, radius_cells, cell_m, roots, levels,
    tx_m, rx_m, site_m, radius_m, wavelength_m, free_space_db, x_factor, y_factor, log_admittance,
    clear_limit, want_clearance, complete, frequency_ghz, refractivity_n, latitude_deg, location_db, loss_db,
    clearance,
):  # fmt: skip
    """Fill loss_db and, if wanted, clearance round a site, flat rasters, for some of OCTANTS * roots tasks.

    complete : P.1812's other mechanisms too, not diffraction alone.
    A task is one of an octant's first radials with all it splits into; no cell belongs to two tasks.
    roots : radials an octant starts with; levels : how often each splits in two. NaN in elevation is a
    void: cells in it and behind it keep what loss_db held.
    """
    site = site_row * width + site_column
    leaves = 1 << levels
    reach = np.int64(math.floor(radius_cells))
    inverse = np.empty(reach + 2, np.float32)
    inverse[0] = np.float32(0.0)
    for k in range(1, reach + 2):
        inverse[k] = np.float32(1.0 / k)
    n = reach + 2
    ground = np.zeros(n, np.float32)
    bent = np.zeros(n, np.float32)
    bent_edge = np.empty(n, np.float32)
    ground_edge = np.empty(n, np.float32)
    bent_previous = np.zeros(n, np.int32)
    ground_previous = np.zeros(n, np.int32)
    record_at = np.empty(n + RECORD_GROUP, np.float32)
    record_slope = np.empty(n + RECORD_GROUP, np.float32)
    record_count = np.zeros(n + 1, np.int32)
    seek_of = np.empty(n + LANES, np.int32)
    seek_oldest = np.empty(n + LANES, np.int32)
    seek = np.empty((5, n + LANES), np.float32)
    product = np.empty(n, np.float32)
    from_tx = np.empty(n, np.float32)
    from_rx = np.empty(n, np.float32)
    obstruction = np.empty(n, np.float32)
    sum_one = np.empty(n, np.float32)
    sum_two = np.empty(n, np.float32)
    loss = np.empty(n, np.float32)
    clear = np.empty(n, np.float32)
    height = np.empty(n, np.float32)
    own_one = np.empty(n, np.float32)
    own_two = np.empty(n, np.float32)
    bent_top = np.empty(n, np.float32)
    ground_top = np.empty(n, np.float32)
    column_of = np.empty(n, np.int32)
    cell_of = np.empty(n, np.int64)
    square_of = np.empty(n, np.float32)
    states = np.zeros((levels + 2, 6), np.float64)
    for task in range(first_task, last_task):
        octant = task // roots
        root = task % roots
        east = 1
        north = -width
        # the axis the octant runs along, and the one its slope is measured on
        if octant == 0 or octant == 7:
            step_x = east
        elif octant == 1 or octant == 2:
            step_x = north
        elif octant == 3 or octant == 4:
            step_x = -east
        else:
            step_x = -north
        if octant == 0 or octant == 3:
            step_y = north
        elif octant == 1 or octant == 6:
            step_y = east
        elif octant == 2 or octant == 5:
            step_y = -east
        else:
            step_y = -north
        owns_low = octant % 2 == 0
        root_high = math.sinh(SINH_SPAN * (root + 1) / roots)
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
                stretch = math.sqrt(1.0 + root_high * root_high) * SINH_SPAN
                first = np.int64(1)
                if level > 0:
                    first += np.int64(math.floor((radials >> 1) / stretch))
                end = np.int64(math.floor(radius_cells / math.sqrt(1.0 + low * low)))
                last = end if level == levels else min(end, np.int64(math.floor(radials / stretch)))
                column_m = cell_m * math.sqrt(1.0 + slope * slope)
                state = states[level + 1]
                state[:] = states[level]
                if last >= first and state[5] == 0.0:
                    voids = sample_stretch(
                        elevation, site, step_x, step_y, np.float32(slope), np.float32(site_m),
                        np.float32(column_m * column_m / (2.0 * radius_m)), first, last, ground, bent,
                    )  # fmt: skip
                    if voids > 0:
                        # nothing can be said of what lies behind a void
                        state[5] = 1.0
                        known = first
                        while not math.isnan(ground[known]):
                            known += 1
                        last = known - 1
                    begin = first
                    if first == 1 and last >= 1:
                        bent_edge[1] = np.float32(np.inf)
                        ground_edge[1] = np.float32(np.inf)
                        state[0] = bent[1] - tx_m
                        state[1] = ground[1] - tx_m
                        state[2] = ground[1]
                        state[3] = ground[1]
                        state[4] = 1
                        record_at[0] = 1
                        record_slope[0] = bent[1] - tx_m
                        record_count[1] = 0
                        sum_one[1] = ground[1]
                        sum_two[1] = np.float32(2.0) * ground[1]
                        record_count[2] = 1
                        begin = np.int64(2)
                    push_stretch(
                        begin, last, np.float32(tx_m), False, inverse, ground, bent, bent_edge, bent_previous,
                        ground_edge, ground_previous, record_at, record_slope, record_count, bent_top,
                        ground_top, sum_one, sum_two, state,
                    )  # fmt: skip
                    count = owned_stretch(
                        first,
                        last,
                        low,
                        high,
                        owns_low,
                        radius_cells,
                        site,
                        step_x,
                        step_y,
                        column_of,
                        cell_of,
                        square_of,
                    )
                    skip = 1 if count > 0 and column_of[0] == 1 else 0
                    if skip == 1:
                        loss_db[cell_of[0]] = free_space_db + 20.0 * math.log10(
                            cell_m * math.sqrt(square_of[0]) * 1e-3
                        )
                        if want_clearance:
                            clearance[cell_of[0]] = np.float32(np.inf)
                    columns = column_of[skip:count]
                    cells = cell_of[skip:count]
                    count -= skip
                    look_stretch(
                        count, columns, np.float32(tx_m), np.float32(rx_m), False,
                        np.float32(2.0 / (wavelength_m * column_m)), clear_limit, inverse, ground, bent, bent,
                        bent_edge, bent_previous, ground_edge, ground_previous, record_at, record_slope,
                        record_count, bent_top, ground_top, sum_one, sum_two, seek_of, seek_oldest, seek,
                        height, product, from_tx, from_rx, obstruction, own_one, own_two,
                    )  # fmt: skip
                    loss_stretch(
                        columns, square_of[skip : skip + count], np.float32(cell_m), np.float32(tx_m),
                        np.float32(rx_m), np.float32(column_m),
                        np.float32(radius_m),
                        np.float32(wavelength_m), np.float32(free_space_db), x_factor, y_factor,
                        log_admittance,
                        height[:count], product[:count], from_tx[:count], from_rx[:count],
                        obstruction[:count], own_one[:count], own_two[:count], loss[:count], clear[:count],
                    )  # fmt: skip
                    if complete:
                        combine_stretch(
                            count, columns, cells, square_of[skip : skip + count], width, site_row, cell_m,
                            np.float32(tx_m), np.float32(rx_m), column_m, radius_m, frequency_ghz,
                            refractivity_n, latitude_deg, location_db, inverse, ground, bent, bent_edge,
                            bent_previous, record_at, record_slope, record_count, bent_top, own_one, own_two,
                            loss,
                        )  # fmt: skip
                    store(count, cells, loss, loss_db)
                    if want_clearance:
                        store(count, cells, clear, clearance)
                level += 1

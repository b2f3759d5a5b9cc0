"""From a member's path loss to who is reached, cell by cell, compiled."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def shift_rows(first, last, source, row, column, down, across, target):
    """Bilinear: target[i, j] = source at (row + i + down, column + j + across), shifts below one cell."""
    beside_row = 1 if down > 0.0 else -1
    beside_column = 1 if across > 0.0 else -1
    wy = np.float32(abs(down))
    wx = np.float32(abs(across))
    if wy == 0.0:  # the neighbour counts for nothing then, and may lie outside
        beside_row = 0
    if wx == 0.0:
        beside_column = 0
    one = np.float32(1.0)
    for i in range(first, last):
        here = source[row + i]
        there = source[row + i + beside_row]
        for j in range(target.shape[1]):
            at = column + j
            a = here[at] * (one - wy) + there[at] * wy
            b = here[at + beside_column] * (one - wy) + there[at + beside_column] * wy
            target[i, j] = a * (one - wx) + b * wx


@fresh
@njit(nogil=True, error_model="numpy")
def spare_rows(first, last, loss_db, kind, looked, east, north, step, limit_db, least, spare_db):
    """spare = limit - loss for the cells of some rows; with `least`, the smaller of that and what was there.

    looked : which cells are looked at, the others keep what was there; one for all. kind : codes of
    `PathKind`, or one cell where they do not matter. east, north : of the cell (0, 0)'s centre from the
    member, cells; limit_db[kind, i] : at multiples of step cells.
    """
    most = limit_db.shape[1] - 2
    by_kind = kind.size > 1
    some = looked.size > 1
    for i in range(first, last):
        down = north - i
        for j in range(loss_db.shape[1]):
            if some and not looked[i, j]:
                continue
            across = east + j
            place = math.sqrt(down * down + across * across) / step
            at = min(np.int64(place), most)
            part = min(place - at, 1.0)
            row = np.int64(kind[i, j]) if by_kind else 0
            value = (
                np.float32(limit_db[row, at] * (1.0 - part) + limit_db[row, at + 1] * part) - loss_db[i, j]
            )
            if not least:
                spare_db[i, j] = value
            elif not (spare_db[i, j] < value):  # what is not known in one way is not known
                spare_db[i, j] = value if not math.isnan(spare_db[i, j]) else spare_db[i, j]


@fresh
@njit(nogil=True, error_model="numpy")
def mark_rows(
    first, last, spare_db, looked, bit, plane, count, known, strongest_db, begin, slack_db, hope, hopeful
):  # fmt: skip
    """Count a member where it is reached; begin : it is the first of its group.

    looked : which cells were looked at, the others keep what they hold; one for all. hope : what it adds to
    hopeful where it is reached, or would be were the path slack_db better.
    """
    lowest = np.float32(-np.inf)
    zero = np.float32(0.0)
    some = looked.size > 1
    for i in range(first, last):
        for j in range(spare_db.shape[1]):
            if some and not looked[i, j]:
                strongest_db[i, j] = lowest
                continue
            spare = spare_db[i, j]
            before = lowest if begin else strongest_db[i, j]
            reached = spare >= zero
            known[i, j] &= not math.isnan(spare)
            plane[i, j] |= bit if reached else np.uint64(0)
            count[i, j] += np.uint16(1) if reached else np.uint16(0)
            hopeful[i, j] += hope if spare >= -slack_db else np.uint16(0)
            strongest_db[i, j] = max(before, spare) if reached else before


@fresh
@njit(nogil=True, error_model="numpy")
def weakest_rows(first, last, strongest_db, worst_db):
    """The smallest of the groups' strongest that are reached."""
    for i in range(first, last):
        for j in range(worst_db.shape[1]):
            value = strongest_db[i, j]
            if value >= np.float32(0.0):
                worst_db[i, j] = min(worst_db[i, j], value)

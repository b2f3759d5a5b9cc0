"""How far out each first radial of a sweep has cells to be looked at, compiled."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._tuples_kernel import SINH_SPAN
from reach.machinery.compiled import fresh

BESIDE = 1e-6  # of a first radial's width: a cell so near to its border counts on both sides


@fresh
@njit(nogil=True, error_model="numpy")
def columns_wanted(wanted, site_row, site_column, roots, until):
    """Raise until (octants times roots,) to the farthest column with a wanted cell in each sector.

    wanted : (rows, columns). Octants and sectors as `_sweep_kernel.sweep` numbers them.
    """
    for row in range(wanted.shape[0]):
        north = site_row - row
        for column in range(wanted.shape[1]):
            if not wanted[row, column]:
                continue
            east = column - site_column
            along, aside = max(abs(east), abs(north)), min(abs(east), abs(north))
            if along == 0:
                continue
            place = math.asinh(aside / along) / SINH_SPAN * roots
            first = max(math.floor(place - BESIDE), 0)
            last = min(math.floor(place + BESIDE), roots - 1)
            for octant in range(8):
                if not _holds(octant, east, north):
                    continue
                for root in range(first, last + 1):
                    at = octant * roots + root
                    until[at] = max(until[at], np.int32(along))


@njit(error_model="numpy")
def _holds(octant, east, north):
    """Whether a direction lies in an octant, its borders with both neighbours included."""
    if octant == 0 or octant == 7:
        along, aside = east, north
    elif octant == 1 or octant == 2:
        along, aside = north, east
    elif octant == 3 or octant == 4:
        along, aside = -east, north
    else:
        along, aside = -north, east
    if octant == 2 or octant == 4 or octant == 5 or octant == 7:
        aside = -aside
    return along >= aside and aside >= 0

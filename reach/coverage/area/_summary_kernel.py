# mypy: allow-untyped-defs
"""Loop over cells for `summary`: how many lie in each sector of the compass."""

import math

from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True)
def count_by_sector(first, last, known, served, cells, good):
    """Add to row r of cells and good (rows, sectors) the known and the served cells of rows first..last - 1.

    known, served (n, n), the site in the middle; sector 0 is centred on north, the others follow clockwise.
    """
    rows, columns = known.shape
    sectors = cells.shape[1]
    width = 2.0 * math.pi / sectors
    for r in range(first, last):
        north = rows // 2 - r
        for c in range(columns):
            if known[r, c]:
                azimuth = math.atan2(float(c - columns // 2), float(north))
                sector = math.floor(azimuth / width + 0.5) % sectors
                cells[r, sector] += 1
                if served[r, c]:
                    good[r, sector] += 1

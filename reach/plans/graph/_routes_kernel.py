# mypy: allow-untyped-defs
"""Loops over centres, relays and stations for `routes`."""

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def best_chances_into(usable, relays, centres, limit, out):
    """Fill out (m, n) with the best chance of every station round each of the centres (m,).

    usable (n, n) symmetric chances of the links that count, 0 for the others; relays (n,), where a centre is
    none for itself; limit : most relays of a way. 1 at the centre itself.
    """
    n = len(usable)
    before = np.empty(n)
    for c in range(len(centres)):
        centre = centres[c]
        best = out[c]
        for v in range(n):
            best[v] = usable[centre, v]
        for _ in range(limit):
            before[:] = best
            for r in range(n):
                chance = before[r]
                if relays[r] and r != centre and chance > 0.0:
                    for v in range(n):
                        through = usable[r, v] * chance
                        best[v] = through if through > best[v] else best[v]
        best[centre] = 1.0

# mypy: allow-untyped-defs
"""Loop over paths that tells sound profiles from bad ones.

NaN fails every comparison, so no fast math here.
"""

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def sound_paths(
    first, last, start, distance_m, ground_m, clutter_m, lowest_m, highest_m, highest_clutter_m, sound
):
    """Set sound[first:last]: distances finite and ascending from 0, heights and clutter within bounds."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        good = (distance_m[a] == 0.0) & (distance_m[b - 1] < np.inf)
        for i in range(a + 1, b):
            good &= distance_m[i] > distance_m[i - 1]
        for i in range(a, b):
            good &= (ground_m[i] >= lowest_m) & (ground_m[i] <= highest_m)
            good &= (clutter_m[i] >= 0.0) & (clutter_m[i] <= highest_clutter_m)
        sound[path] = good

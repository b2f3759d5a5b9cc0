# mypy: allow-untyped-defs
"""Loop over arrays for `joint_normal`."""

import math

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.joint_normal import both_above_zero


@fresh
@njit(nogil=True, error_model="numpy")
def both_above_zero_into(first, second, correlation, out):
    """Fill out (n,); NaN in any argument gives NaN."""
    for i in range(out.size):
        if math.isnan(first[i]) or math.isnan(second[i]) or math.isnan(correlation[i]):
            out[i] = math.nan
        else:
            out[i] = both_above_zero(first[i], second[i], correlation[i])

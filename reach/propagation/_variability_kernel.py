"""Loops over arrays for `variability`: nothing else."""

from __future__ import annotations

import math

import numpy as np
from numba import njit
from numpy.typing import NDArray

from reach.machinery.compiled import fresh
from reach.propagation.itm.variability import effective_distance_m, time_spreads_db

FloatArray = NDArray[np.float64]


@fresh
@njit(nogil=True, error_model="numpy")
def normal_cdf_into(x: FloatArray, out: FloatArray) -> None:
    """Phi(x) of a flat array; NaN stays NaN."""
    for i in range(x.size):
        out[i] = 0.5 * math.erfc(-x[i] / math.sqrt(2.0))


@fresh
@njit(nogil=True, error_model="numpy")
def time_spreads_into(
    climate: int,
    distance: FloatArray,
    frequency: FloatArray,
    h_e1: FloatArray,
    h_e2: FloatArray,
    out: FloatArray,
) -> None:
    """Median shift, worse and better spread of each path: out (3, paths)."""
    for i in range(distance.size):
        d_e = effective_distance_m(distance[i], frequency[i], h_e1[i], h_e2[i])
        out[0, i], out[1, i], out[2, i] = time_spreads_db(climate, d_e, frequency[i])

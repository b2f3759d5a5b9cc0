"""ITM over many paths: the compiled loop, nothing else."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from reach.propagation.freshness import fresh
from reach.propagation.itm.path import point_to_point

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@fresh
@njit(nogil=True, error_model="numpy")
def itm_paths(
    first: int,
    last: int,
    start: IntArray,
    distance: FloatArray,
    ground: FloatArray,
    tx_height: FloatArray,
    rx_height: FloatArray,
    frequency: FloatArray,
    vertical: bool,
    surface_refractivity: float,
    permittivity: float,
    conductivity: float,
    climate: int,
    mdvar: int,
    z_T: float,
    z_L: float,
    z_S: float,
    rows: FloatArray,
    errors: IntArray,
    warnings: IntArray,
) -> None:
    """Paths first..last-1 of a ragged batch into rows (paths, COLUMNS), errors and warnings (paths,)."""
    for p in range(first, last):
        errors[p], warnings[p] = point_to_point(
            distance[start[p] : start[p + 1]],
            ground[start[p] : start[p + 1]],
            tx_height[p],
            rx_height[p],
            frequency[p],
            vertical,
            surface_refractivity,
            permittivity,
            conductivity,
            climate,
            mdvar,
            z_T,
            z_L,
            z_S,
            rows[p],
        )

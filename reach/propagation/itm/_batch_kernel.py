"""ITM over many paths: the compiled loop, nothing else."""

from __future__ import annotations

import numpy as np
from numba import njit
from numpy.typing import NDArray

from reach.machinery.compiled import fresh
from reach.propagation.itm.ground import wave_of
from reach.propagation.itm.path import point_to_point
from reach.propagation.itm.terrain import Workspace

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


# _nrt : nothing in here allocates, so numba need not count references to every slice (a third of the time)
@fresh
@njit(nogil=True, error_model="numpy", _nrt=False)
def itm_paths(
    first: int,
    last: int,
    start: IntArray,
    distance: FloatArray,
    ground: FloatArray,
    tx_height: FloatArray,
    rx_height: FloatArray,
    waves: FloatArray,
    wave: IntArray,
    surface_refractivity: float,
    climate: int,
    mdvar: int,
    z_T: float,
    z_L: float,
    z_S: float,
    work: Workspace,
    rows: FloatArray,
    errors: IntArray,
    warnings: IntArray,
) -> None:
    """Paths first..last-1 of a ragged batch into rows (paths, COLUMNS), errors and warnings (paths,).

    waves : from `ground.waves_of`; wave (paths,) : the row that holds for a path.
    """
    for p in range(first, last):
        errors[p], warnings[p] = point_to_point(
            distance[start[p] : start[p + 1]],
            ground[start[p] : start[p + 1]],
            tx_height[p],
            rx_height[p],
            wave_of(waves, wave[p]),
            surface_refractivity,
            climate,
            mdvar,
            z_T,
            z_L,
            z_S,
            work,
            rows[p],
        )

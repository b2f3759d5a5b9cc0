"""ITM over many paths: the compiled loop, nothing else."""

from __future__ import annotations

from numba import njit

from reach.propagation.itm.path import point_to_point


@njit(cache=True, nogil=True)
def itm_paths(
    first,
    last,
    start,
    distance,
    ground,
    tx_height,
    rx_height,
    frequency,
    vertical,
    surface_refractivity,
    permittivity,
    conductivity,
    climate,
    mdvar,
    time_share,
    location_share,
    situation_share,
    rows,
    errors,
    warnings,
):
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
            time_share,
            location_share,
            situation_share,
            rows[p],
        )

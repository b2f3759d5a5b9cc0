# mypy: allow-untyped-defs
"""Loop over paths for delta-Bullington."""

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.delta_bullington import delta_bullington


@fresh
@njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "reassoc", "contract", "arcp"})
def delta_bullington_paths(
    first,
    last,
    start,
    distance_m,
    ground_m,
    clutter_m,
    zone,
    tx_height_m,
    rx_height_m,
    effective_radius_km,
    frequency_mhz,
    polarisation,
    constants,
    loss_db,
):
    """Fill loss_db[first:last]. Inputs are finite (checked by the caller), so the no-NaN assumption holds."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        found = delta_bullington(
            distance_m[a:b],
            ground_m[a:b],
            clutter_m[a:b],
            zone[a:b],
            tx_height_m[path],
            rx_height_m[path],
            effective_radius_km,
            frequency_mhz[path] * 1e-3,
            polarisation,
            constants,
        )
        loss_db[path] = found.loss_db

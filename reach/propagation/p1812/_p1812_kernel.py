# mypy: allow-untyped-defs
"""Loop over paths for P.1812."""

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.p1812.path import p1812_path


@fresh
@njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "reassoc", "contract", "arcp"})
def p1812_paths(
    first,
    last,
    start,
    distance_m,
    ground_m,
    clutter_m,
    zone,
    latitude_deg,
    tx_height_m,
    rx_height_m,
    frequency_mhz,
    polarisation,
    sigma_db,
    entry_median_db,
    settings,
    loss_db,
    free_space_db,
):
    """Fill loss_db and free_space_db [first:last]. Inputs are finite (checked by the caller)."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        found = p1812_path(
            distance_m[a:b],
            ground_m[a:b],
            clutter_m[a:b],
            zone[a:b],
            latitude_deg[path],
            tx_height_m[path],
            rx_height_m[path],
            frequency_mhz[path] * 1e-3,
            polarisation,
            sigma_db[path],
            entry_median_db[path],
            settings,
        )
        loss_db[path] = found.loss_db
        free_space_db[path] = found.sight.free_space_db

# mypy: allow-untyped-defs
"""Loop over paths for typical land."""

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.typical_land.path import typical_land_path


@fresh
@njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "reassoc", "contract", "arcp"})
def typical_land_paths(
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
    tx_land_m,
    rx_land_m,
    frequency_mhz,
    polarisation,
    cover,
    settings,
    loss_db,
    free_space_db,
    tx_end_db,
    rx_end_db,
):
    """Fill the four arrays (paths,) [first:last]. Inputs are finite (checked by the caller)."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        found = typical_land_path(
            distance_m[a:b],
            ground_m[a:b],
            clutter_m[a:b],
            zone[a:b],
            latitude_deg[path],
            tx_height_m[path],
            rx_height_m[path],
            tx_land_m[path],
            rx_land_m[path],
            frequency_mhz[path] * 1e-3,
            polarisation,
            cover,
            settings,
        )
        loss_db[path] = found.loss_db
        free_space_db[path] = found.free_space_db
        tx_end_db[path] = found.tx_end_db
        rx_end_db[path] = found.rx_end_db

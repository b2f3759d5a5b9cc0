# mypy: allow-untyped-defs
"""Loop over paths for the worst point of each."""

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.profile_scan import last_worst_point, path_surface, worst_obstruction


@fresh
@njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "reassoc", "contract", "arcp"})
def worst_points(
    first,
    last,
    start,
    distance_m,
    clutter_m,
    ground_m,
    tx_height_m,
    rx_height_m,
    effective_radius_km,
    point,
    obstruction_m,
):
    """Fill [first:last] of point (index within the path, 0 for none) and obstruction_m (above the ray)."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        d = distance_m[a:b]
        s = path_surface(ground_m[a:b], clutter_m[a:b])
        tx_asl_m = ground_m[a] + tx_height_m[path]
        rx_asl_m = ground_m[b - 1] + rx_height_m[path]
        worst = worst_obstruction(d, s, tx_asl_m, rx_asl_m, effective_radius_km)
        at = last_worst_point(d, s, tx_asl_m, rx_asl_m, effective_radius_km, worst)
        point[path] = at
        if at == 0:
            obstruction_m[path] = -np.inf
        else:
            x_km = d[at] * 1e-3
            xy = x_km * (d[d.size - 1] * 1e-3 - x_km)
            obstruction_m[path] = np.sign(worst) * np.sqrt(abs(worst) * xy)

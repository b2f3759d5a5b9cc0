# mypy: allow-untyped-defs
"""Loop over paths for their kinds."""

from numba import njit

from reach.machinery.compiled import fresh
from reach.propagation.horizon_kind import path_kind


@fresh
@njit(nogil=True, error_model="numpy", fastmath={"nnan", "nsz", "reassoc", "contract", "arcp"})
def path_kinds_into(
    first, last, start, distance_m, ground_m, tx_height_m, rx_height_m, radius_km, wavelength_m, kind
):
    """Fill kind[first:last] with codes of `PathKind`."""
    for path in range(first, last):
        a = start[path]
        b = start[path + 1]
        kind[path] = path_kind(
            distance_m[a:b],
            ground_m[a:b],
            ground_m[a] + tx_height_m[path],
            ground_m[b - 1] + rx_height_m[path],
            radius_km,
            wavelength_m[path],
        )

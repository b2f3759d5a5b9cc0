# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Single passes over a profile that several models share.

Each is a plain loop over intermediate points with one division and no root or logarithm, which compilers turn
into vector code. Arrays are one path's: distance_m ascending from 0, and a height above sea level, m.
"""

from __future__ import annotations

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.larger import larger

NO_POINT = -1e300  # maximum of no intermediate point
ROUNDING_M = (
    1e-9  # heights closer than this count as equal when the point that attains a maximum is looked for
)

FloatArray = NDArray[np.float64]


@register_jitable
def path_surface(ground_m: FloatArray, clutter_m: FloatArray) -> FloatArray:
    """Ground plus clutter along one path; the terminals stand on bare ground. (n,) new array.

    Source : Rec. ITU-R P.1812-7, 3.2, eqs (1a) to (1d).
    """
    surface_m = ground_m + clutter_m
    surface_m[0] = ground_m[0]
    surface_m[-1] = ground_m[-1]
    return surface_m


@register_jitable
def horizon_slopes(
    distance_m: FloatArray, height_m: FloatArray, tx_asl_m: float, rx_asl_m: float, effective_radius_km: float
) -> tuple[float, float]:
    """Largest slopes to an intermediate point with the Earth's bulge added, m/km: from transmitter, from
    receiver.

    Source : Stim and Srim of Rec. ITU-R P.1812-7, eqs (13) and (17); P.526-15, 4.5.
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    curvature = 500.0 / effective_radius_km
    stim = NO_POINT
    srim = NO_POINT
    for i in range(1, n - 1):
        x_km = distance_m[i] * 1e-3
        y_km = d_km - x_km
        share = 1.0 / (x_km * y_km)
        bent_m = height_m[i] + curvature * x_km * y_km
        from_tx = (bent_m - tx_asl_m) * (y_km * share)
        from_rx = (bent_m - rx_asl_m) * (x_km * share)
        stim = larger(from_tx, stim)
        srim = larger(from_rx, srim)
    return stim, srim


@register_jitable
def worst_obstruction(
    distance_m: FloatArray, height_m: FloatArray, tx_asl_m: float, rx_asl_m: float, effective_radius_km: float
) -> float:
    """The largest of H|H|/(d1 d2) over intermediate points, H the height above the line of sight, m, d in km.

    It has the order of the diffraction parameter: nu = sign(v) sqrt(0.002 d |v| / wavelength), see `nu_of`.
    Returns NO_POINT when there is no intermediate point.
    Source : argument of P.1812-7 eq. (15), squared with its sign kept.
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    curvature = 500.0 / effective_radius_km
    slope = (rx_asl_m - tx_asl_m) / d_km
    worst = NO_POINT
    for i in range(1, n - 1):
        x_km = distance_m[i] * 1e-3
        xy = x_km * (d_km - x_km)
        above_m = height_m[i] + curvature * xy - (tx_asl_m + slope * x_km)
        value = above_m * abs(above_m) / xy
        worst = larger(value, worst)
    return worst


@register_jitable
def last_worst_point(
    distance_m: FloatArray,
    height_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    effective_radius_km: float,
    worst: float,
) -> int:
    """Index of the last intermediate point that attains `worst_obstruction`, to rounding; 0 for none."""
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    curvature = 500.0 / effective_radius_km
    slope = (rx_asl_m - tx_asl_m) / d_km
    for back in range(2, n):
        i = n - back
        x_km = distance_m[i] * 1e-3
        xy = x_km * (d_km - x_km)
        above_m = height_m[i] + curvature * xy - (tx_asl_m + slope * x_km) + ROUNDING_M
        if above_m * abs(above_m) >= worst * xy:
            return i
    return 0


@register_jitable
def nu_of(worst: float, d_km: float, wavelength_m: float) -> float:
    """Diffraction parameter of a `worst_obstruction` on a path of d_km; minus infinity for no point."""
    if worst <= NO_POINT:
        return -np.inf
    return np.sign(worst) * np.sqrt(0.002 * d_km / wavelength_m * abs(worst))


@register_jitable
def smooth_surface(distance_m: FloatArray, height_m: FloatArray) -> tuple[float, float]:
    """Heights at both ends, m above sea level, of the straight line fitted to the terrain.

    Source : P.1812-7, eqs (85) to (88); P.526-15, 4.5.
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    v1 = 0.0
    v2 = 0.0
    for i in range(1, n):
        x0 = distance_m[i - 1] * 1e-3
        x1 = distance_m[i] * 1e-3
        h0 = height_m[i - 1]
        h1 = height_m[i]
        v1 += (x1 - x0) * (h1 + h0)
        v2 += (x1 - x0) * (h1 * (2.0 * x1 + x0) + h0 * (x1 + 2.0 * x0))
    return (2.0 * v1 * d_km - v2) / (d_km * d_km), (v2 - v1 * d_km) / (d_km * d_km)


@register_jitable
def obstruction(
    distance_m: FloatArray, height_m: FloatArray, tx_asl_m: float, rx_asl_m: float
) -> tuple[float, float, float]:
    """How far terrain stands above the straight line between the antennas, flat Earth: hobs, m; slopes, m/km.

    Source : P.1812-7, eqs (89a) to (89d).
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    slope = (rx_asl_m - tx_asl_m) / d_km
    highest = NO_POINT
    from_tx = NO_POINT
    from_rx = NO_POINT
    for i in range(1, n - 1):
        x_km = distance_m[i] * 1e-3
        y_km = d_km - x_km
        share = 1.0 / (x_km * y_km)
        above_m = height_m[i] - (tx_asl_m + slope * x_km)
        a = above_m * (y_km * share)
        b = above_m * (x_km * share)
        highest = larger(above_m, highest)
        from_tx = larger(a, from_tx)
        from_rx = larger(b, from_rx)
    return highest, from_tx, from_rx


@register_jitable
def share_over_sea(distance_m: FloatArray, zone: NDArray[np.int8]) -> float:
    """omega: share of the path over sea, each point owning the way half-way to its neighbours.

    Source : P.1812-7, 3.2 and eq. (1).
    """
    n = distance_m.size
    any_sea = False
    for i in range(n):
        any_sea |= zone[i] == 1
    if not any_sea:
        return 0.0
    sea_m = 0.0
    for i in range(n):
        if zone[i] == 1:
            left = distance_m[max(i - 1, 0)]
            right = distance_m[min(i + 1, n - 1)]
            sea_m += 0.5 * (right - left)
    return sea_m / distance_m[n - 1]

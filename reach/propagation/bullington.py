# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""The Bullington construction: one equivalent edge where the two horizon lines meet."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.knife_edge import knife_edge_loss_db
from reach.propagation.profile_scan import NO_POINT, horizon_slopes, nu_of, worst_obstruction

FloatArray = NDArray[np.float64]


@register_jitable
def equivalent_edge_loss_db(nu: float, d_km: float) -> float:
    """Bullington loss of the equivalent edge, dB.

    Source : P.1812-7, eqs (16), (20), (21); P.526-15, 4.5.1.
    """
    edge_db = knife_edge_loss_db(nu)
    return edge_db + (1.0 - math.exp(-edge_db / 6.0)) * (10.0 + 0.02 * d_km)


@register_jitable
def bullington_loss_db(
    distance_m: FloatArray,
    surface_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    effective_radius_km: float,
    wavelength_m: float,
) -> float:
    """Bullington loss of a profile against free space, dB; 0 where there is no intermediate point.

    surface_m : (n,) terrain with clutter, m above sea level; tx_asl_m, rx_asl_m : antennas, above sea level.
    Source : P.1812-7, 4.3.1, eqs (13) to (21); P.526-15, 4.5.1. Beyond the horizon the edge's nu of eqs (18),
        (19) is written sqrt(0.002 d/lambda (Stim - Str)(Srim + Str)), the same number without locating the
        edge.
    """
    n = distance_m.size
    if n < 3:
        return 0.0
    d_km = distance_m[n - 1] * 1e-3
    stim, srim = horizon_slopes(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km)
    direct = (rx_asl_m - tx_asl_m) / d_km  # (14)
    if stim < direct:
        nu = nu_of(
            worst_obstruction(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km),
            d_km,
            wavelength_m,
        )  # (15)
    else:
        nu = math.sqrt(
            0.002 * d_km / wavelength_m * max((stim - direct) * (srim + direct), 0.0)
        )  # (18), (19)
    return equivalent_edge_loss_db(nu, d_km)


@register_jitable
def smooth_bullington_loss_db(
    distance_m: FloatArray, tx_m: float, rx_m: float, effective_radius_km: float, wavelength_m: float
) -> float:
    """Bullington loss of the zero profile sampled at the same points, antennas tx_m and rx_m above it, dB.

    The result is that of `bullington_loss_db` on zeros, found in O(log n). Over zero terrain the slope from
    either end is concave along the path, so its largest sample neighbours the tangent point. In line of sight
    nu, with s = ln(d1/d2)/2, is -(A cosh(s - s0) - B / cosh s) with A, B > 0, which has one maximum only (the
    ratio of the two derivatives is monotone between s0 and 0 and there is no root elsewhere), so bisection
    finds it.
    Source : P.1812-7, 4.3.4, second step, eqs (13) to (21) with all profile heights zero.
    """
    n = distance_m.size
    if n < 3:
        return 0.0
    d_km = distance_m[n - 1] * 1e-3
    curvature = 500.0 / effective_radius_km
    direct = (rx_m - tx_m) / d_km
    stim = _steepest_over_zero(distance_m, tx_m, 1e3 * math.sqrt(tx_m / curvature), curvature, 0.0)
    if stim < direct:
        low = 1
        high = n - 2
        while low < high:
            middle = (low + high) // 2
            here = _zero_profile_obstruction(distance_m[middle], d_km, tx_m, direct, curvature)
            if here < _zero_profile_obstruction(distance_m[middle + 1], d_km, tx_m, direct, curvature):
                low = middle + 1
            else:
                high = middle
        worst = _zero_profile_obstruction(distance_m[low], d_km, tx_m, direct, curvature)
        nu = nu_of(worst, d_km, wavelength_m)
    else:
        tangent_m = distance_m[n - 1] - 1e3 * math.sqrt(rx_m / curvature)
        srim = _steepest_over_zero(distance_m, rx_m, tangent_m, curvature, distance_m[n - 1])
        nu = math.sqrt(0.002 * d_km / wavelength_m * max((stim - direct) * (srim + direct), 0.0))
    return equivalent_edge_loss_db(nu, d_km)


@register_jitable
def _zero_profile_obstruction(x_m: float, d_km: float, tx_m: float, slope: float, curvature: float) -> float:
    """H|H|/(d1 d2) of one point of the zero profile, see `worst_obstruction`."""
    x_km = x_m * 1e-3
    xy = x_km * (d_km - x_km)
    above_m = curvature * xy - (tx_m + slope * x_km)
    return above_m * abs(above_m) / xy


@register_jitable
def _steepest_over_zero(
    distance_m: FloatArray, antenna_m: float, tangent_m: float, curvature: float, end_m: float
) -> float:
    """Stim (end_m = 0) or Srim (end_m = path length) over zeros, from the samples beside the tangent."""
    n = distance_m.size
    low = 1
    high = n - 2
    while low < high:  # first intermediate point at or beyond the tangent
        middle = (low + high) // 2
        if distance_m[middle] < tangent_m:
            low = middle + 1
        else:
            high = middle
    best = NO_POINT
    for i in range(max(low - 1, 1), min(low + 1, n - 2) + 1):
        x_km = abs(distance_m[i] - end_m) * 1e-3
        y_km = distance_m[n - 1] * 1e-3 - x_km
        best = max(best, curvature * y_km - antenna_m / x_km)
    return best

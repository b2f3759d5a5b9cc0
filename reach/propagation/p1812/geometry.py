"""Horizons, path angle and smooth surface of a profile. Rec. ITU-R P.1812-7, Attachment 1."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.delta_bullington import diffraction_ends
from reach.propagation.larger import larger
from reach.propagation.profile_scan import (
    NO_POINT,
    ROUNDING_M,
    horizon_slopes,
    last_worst_point,
    smooth_surface,
    worst_obstruction,
)

FloatArray = NDArray[np.float64]


class Horizons(NamedTuple):
    """Horizon points and angles: dlt, dlr, km; theta_t, theta_r, theta, mrad; indices of the two points."""

    transhorizon: bool
    tx_horizon_km: float
    rx_horizon_km: float
    tx_angle_mrad: float
    rx_angle_mrad: float
    path_angle_mrad: float
    tx_point: int
    rx_point: int


class SmoothSurfaces(NamedTuple):
    """Fitted line hst, hsr; ends for diffraction hstd, hsrd; for ducting hst, hsr, hte, hre, hm; m."""

    hst_m: float
    hsr_m: float
    hstd_m: float
    hsrd_m: float
    ducting_hst_m: float
    ducting_hsr_m: float
    hte_m: float
    hre_m: float
    hm_m: float


@register_jitable
def horizons(
    distance_m: FloatArray, ground_m: FloatArray, tx_asl_m: float, rx_asl_m: float, effective_radius_km: float
) -> Horizons:
    """Horizons over bare ground.

    Source : P.1812-7, eqs (76) to (84). The arctangents rise with their arguments, so the largest argument is
        looked for and one arctangent taken; arguments are `horizon_slopes` less 500 d / a_e. On a
        line-of-sight path both horizon points are the one with the largest diffraction parameter, whatever
        the wavelength.
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    curvature = 500.0 / effective_radius_km
    half_bend = curvature * d_km
    direct = (rx_asl_m - tx_asl_m) / d_km
    stim, srim = horizon_slopes(distance_m, ground_m, tx_asl_m, rx_asl_m, effective_radius_km)
    if stim > direct:
        tx_point = _first_on_slope(distance_m, ground_m, tx_asl_m, stim, curvature)
        rx_point = _last_on_slope(distance_m, ground_m, rx_asl_m, srim, curvature)
        dlt_km = distance_m[tx_point] * 1e-3  # (80)
        dlr_km = d_km - distance_m[rx_point] * 1e-3  # (83)
        tx_angle = 1e3 * math.atan(1e-3 * (stim - half_bend))  # (77), (79)
        rx_angle = 1e3 * math.atan(1e-3 * (srim - half_bend))  # (82)
        transhorizon = True
    else:
        worst = worst_obstruction(distance_m, ground_m, tx_asl_m, rx_asl_m, effective_radius_km)
        tx_point = last_worst_point(distance_m, ground_m, tx_asl_m, rx_asl_m, effective_radius_km, worst)
        rx_point = tx_point
        dlt_km = distance_m[tx_point] * 1e-3
        dlr_km = d_km - dlt_km  # (83a)
        tx_angle = 1e3 * math.atan(1e-3 * (direct - half_bend))  # (78), (79)
        rx_angle = 1e3 * math.atan(1e-3 * (-direct - half_bend))  # (81)
        transhorizon = False
    path_angle = 1e3 * d_km / effective_radius_km + tx_angle + rx_angle  # (84)
    return Horizons(transhorizon, dlt_km, dlr_km, tx_angle, rx_angle, path_angle, tx_point, rx_point)


@register_jitable
def _first_on_slope(
    distance_m: FloatArray, ground_m: FloatArray, tx_asl_m: float, stim: float, curvature: float
) -> int:
    """First point on the transmitter's steepest slope. Source : P.1812-7, eq. (80)."""
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    for i in range(1, n - 1):
        x_km = distance_m[i] * 1e-3
        if ground_m[i] + curvature * x_km * (d_km - x_km) - tx_asl_m - stim * x_km >= -ROUNDING_M:
            return i
    return 1


@register_jitable
def _last_on_slope(
    distance_m: FloatArray, ground_m: FloatArray, rx_asl_m: float, srim: float, curvature: float
) -> int:
    """Last point on the receiver's steepest slope. Source : P.1812-7, eq. (83)."""
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    for back in range(2, n):
        i = n - back
        x_km = distance_m[i] * 1e-3
        y_km = d_km - x_km
        if ground_m[i] + curvature * x_km * y_km - rx_asl_m - srim * y_km >= -ROUNDING_M:
            return i
    return n - 2


@register_jitable
def smooth_surfaces(
    distance_m: FloatArray,
    ground_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    tx_point: int,
    rx_point: int,
) -> SmoothSurfaces:
    """SmoothSurfaces of a path whose horizon points have the indices given.

    Source : P.1812-7, eqs (85) to (95).
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    hst_m, hsr_m = smooth_surface(distance_m, ground_m)
    hstd_m, hsrd_m = diffraction_ends(distance_m, ground_m, tx_asl_m, rx_asl_m, hst_m, hsr_m)
    tx_end_m = min(hst_m, ground_m[0])  # (92a)
    rx_end_m = min(hsr_m, ground_m[n - 1])  # (92b)
    slope = (rx_end_m - tx_end_m) / d_km  # (93)
    between_m = distance_m[tx_point : rx_point + 1]  # both horizon points included
    height_m = ground_m[tx_point : rx_point + 1]
    hm_m = NO_POINT
    for i in range(between_m.size):
        above_m = height_m[i] - (tx_end_m + slope * (between_m[i] * 1e-3))
        hm_m = larger(above_m, hm_m)  # (95)
    return SmoothSurfaces(
        hst_m, hsr_m, hstd_m, hsrd_m, tx_end_m, rx_end_m, tx_asl_m - tx_end_m, rx_asl_m - rx_end_m, hm_m
    )  # (94)

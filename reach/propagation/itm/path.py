"""ITM: the whole chain for one path, from ground and heights to basic transmission loss."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.itm.diffraction import clutter_db, diffraction_db, height_gains
from reach.propagation.itm.ground import (
    Wave,
    effective_earth_radius_m,
    itm_free_space_db,
    surface_refractivity,
)
from reach.propagation.itm.line_of_sight import near_reference_db
from reach.propagation.itm.scans import is_ascending, is_even, sum_and_count_within, sum_of
from reach.propagation.itm.terrain import (
    Workspace,
    mean_elevation_m,
    positive,
    read_profile,
    smooth_horizon_m,
)
from reach.propagation.itm.troposcatter import NOTHING_REMEMBERED, scatter_db
from reach.propagation.itm.variability import varied_attenuation_db
from reach.propagation.path_inputs import HIGHEST_GROUND_M, LOWEST_GROUND_M

FloatArray = NDArray[np.float64]

# Columns of a path's row of results.
(
    LOSS_DB, FREE_SPACE_DB, REFERENCE_DB, THETA_1_RAD, THETA_2_RAD, D_1_M, D_2_M, H_E1_M, H_E2_M, N_S,
    DELTA_H_M, REGION, EARTH_RADIUS_M,
) = range(13)  # fmt: skip
COLUMNS = 13

# What can be wrong with a path that only shows on the way.
FINE, UNSOUND, THIN_AIR, THICK_AIR, EARTH_CURVATURE, GROUND_IMPEDANCE = 0, -1, 1021, 1022, 1016, 1013

NEAR, DIFFRACTION, SCATTER = 1, 2, 3  # regions, as the reference numbers its modes


@register_jitable
def read_evenly(distance: FloatArray, ground: FloatArray, even: FloatArray) -> None:
    """Into even: ground at equally spaced points over the same path, as many as were given, by straight lines
    between those.
    """
    n = distance.size - 1
    xi = distance[n] / n
    even[0] = ground[0]
    even[n] = ground[n]
    i = 0
    for j in range(1, n):
        x = j * xi
        while distance[i + 1] < x:
            i += 1
        left, right = distance[i], distance[i + 1]
        even[j] = ground[i] + (ground[i + 1] - ground[i]) * (x - left) / (right - left)


@register_jitable
def spacing_m(distance: FloatArray) -> float:
    """Spacing of the path's equally spaced points, m, in whole steps of 2^-24 m (0.06 micrometres).

    The model cuts nine tenths of each horizon distance down to whole points. In binary fractions of that kind
    every product and sum of distances is exact, so a horizon on a tenth, twentieth, ... point is cut alike
    from either end; otherwise the last bit decides, and the loss can jump by several dB between directions.
    """
    steps_per_m = 16_777_216.0
    n = distance.size - 1
    return float(math.floor(distance[n] / n * steps_per_m + 0.5) / steps_per_m)


@register_jitable
def reference_db(
    D: float,
    wave: Wave,
    a: float,
    N_s: float,
    h_1: float,
    h_2: float,
    h_e1: float,
    h_e2: float,
    d_1: float,
    d_2: float,
    theta_1: float,
    theta_2: float,
    delta_h: float,
) -> tuple[float, int]:
    """Reference attenuation A_ref, dB over free space, never negative, and the region it came from.

    The region is decided by the path's length against the smooth-earth horizons alone, not by clearance.
    Source : Algorithm, section "reference attenuation" (LRprop); ITM 1.2.2.
    """
    d_sL = smooth_horizon_m(h_e1, a) + smooth_horizon_m(h_e2, a)
    d_L = d_1 + d_2
    theta_los = -max(theta_1 + theta_2, -d_L / a)
    X = (a * a) ** (1.0 / 3.0) / wave.cube_root_f

    d_3 = max(d_sL, d_L + 5.0 * X)
    d_4 = d_3 + 10.0 * X
    x_ends, F_ends = height_gains(d_1, d_2, h_e1, h_e2, wave)
    A_fo = clutter_db(h_1, h_2, wave.f, d_sL, delta_h)
    A_3 = A_fo + diffraction_db(
        d_3, wave, a, h_1, h_2, h_e1, h_e2, d_1, d_2, theta_los, delta_h, x_ends, F_ends
    )
    A_4 = A_fo + diffraction_db(
        d_4, wave, a, h_1, h_2, h_e1, h_e2, d_1, d_2, theta_los, delta_h, x_ends, F_ends
    )
    M_d = (A_4 - A_3) / (d_4 - d_3)
    A_d0 = A_3 - M_d * d_3

    if d_sL > D:
        A = near_reference_db(D, wave, h_e1, h_e2, delta_h, d_L, d_sL, M_d, A_d0)
        return positive(A), NEAR

    d_5 = d_L + 200e3
    d_6 = d_L + 400e3
    A_6, H_0 = scatter_db(
        d_6, wave, a, N_s, h_e1, h_e2, d_1, d_2, theta_1, theta_2, theta_los, NOTHING_REMEMBERED
    )
    A_5, _ = scatter_db(d_5, wave, a, N_s, h_e1, h_e2, d_1, d_2, theta_1, theta_2, theta_los, H_0)
    if A_5 < 1000.0:
        M_s = (A_6 - A_5) / 200e3
        d_x = max(d_sL, d_L + 1.088 * X * wave.ln_f, (A_5 - A_d0 - M_s * d_5) / (M_d - M_s))
        A_s0 = (M_d - M_s) * d_x + A_d0
    else:
        M_s = M_d
        A_s0 = A_d0
        d_x = 10e6
    if d_x < D:
        return positive(M_s * D + A_s0), SCATTER
    return positive(M_d * D + A_d0), DIFFRACTION


@register_jitable
def warning_bits(
    D: float,
    f: float,
    a: float,
    N_s: float,
    h_1: float,
    h_2: float,
    h_e1: float,
    h_e2: float,
    d_1: float,
    d_2: float,
    theta_1: float,
    theta_2: float,
    far_tail: bool,
) -> int:
    """Bit mask of what makes the figure doubtful; meanings in `settings.ItmWarning`. Source : ITM 1.2.2."""
    s_1 = smooth_horizon_m(h_e1, a)
    s_2 = smooth_horizon_m(h_e2, a)
    return int(
        0x0001 * ((h_1 < 1.0) | (h_1 > 1000.0))
        + 0x0002 * ((h_2 < 1.0) | (h_2 > 1000.0))
        + 0x0004 * ((f < 40.0) | (f > 10_000.0))
        + 0x0008 * (D > 1000e3)
        + 0x0010 * (D > 2000e3)
        + 0x0020 * (abs(h_e1 - h_e2) / 0.2 > D)
        + 0x0040 * (D < 1e3)
        + 0x0080 * (abs(theta_1) > 0.2)
        + 0x0100 * (abs(theta_2) > 0.2)
        + 0x0200 * (d_1 < 0.1 * s_1)
        + 0x0400 * (d_2 < 0.1 * s_2)
        + 0x0800 * (d_1 > 3.0 * s_1)
        + 0x1000 * (d_2 > 3.0 * s_2)
        + 0x2000 * far_tail
        + 0x4000 * (N_s < 250.0)
    )


@register_jitable
def point_to_point(
    distance: FloatArray,
    ground: FloatArray,
    h_1: float,
    h_2: float,
    wave: Wave,
    N_0: float,
    climate: int,
    mdvar: int,
    z_T: float,
    z_L: float,
    z_S: float,
    work: Workspace,
    row: FloatArray,
) -> tuple[int, int]:
    """One path: fills its row of results (COLUMNS,), returns error code (FINE or not) and warning bits.

    z_T, z_L, z_S : deviates of time, location and situation.

    Source : ITM 1.2.2, point-to-point with time, location and situation percentages.
    """
    total, sound = sum_and_count_within(ground, LOWEST_GROUND_M, HIGHEST_GROUND_M)
    if sound < ground.size:
        return UNSOUND, 0
    z = ground
    if not is_even(distance):
        if not is_ascending(distance):
            return UNSOUND, 0
        z = work.even[: ground.size]
        read_evenly(distance, ground, z)
        total = sum_of(z)
    n = z.size - 1
    xi = spacing_m(distance)
    D = n * xi

    N_s = surface_refractivity(N_0, mean_elevation_m(z, total))
    if N_s < 150.0:
        return THIN_AIR, 0
    if N_s > 400.0:
        return THICK_AIR, 0
    a = effective_earth_radius_m(N_s)
    if a < 4_000_000.0 or a > 13_333_333.0:
        return EARTH_CURVATURE, 0
    if wave.Z_real <= abs(wave.Z_imag):
        return GROUND_IMPEDANCE, 0

    f = wave.f
    theta_1, theta_2, d_1, d_2, h_e1, h_e2, delta_h = read_profile(z, xi, h_1, h_2, a, work)
    A_ref, region = reference_db(D, wave, a, N_s, h_1, h_2, h_e1, h_e2, d_1, d_2, theta_1, theta_2, delta_h)
    A, far_tail = varied_attenuation_db(A_ref, D, f, h_e1, h_e2, delta_h, climate, mdvar, z_T, z_L, z_S)
    A_fs = itm_free_space_db(D, f)

    row[LOSS_DB] = A + A_fs
    row[FREE_SPACE_DB] = A_fs
    row[REFERENCE_DB] = A_ref
    row[THETA_1_RAD] = theta_1
    row[THETA_2_RAD] = theta_2
    row[D_1_M] = d_1
    row[D_2_M] = d_2
    row[H_E1_M] = h_e1
    row[H_E2_M] = h_e2
    row[N_S] = N_s
    row[DELTA_H_M] = delta_h
    row[REGION] = region
    row[EARTH_RADIUS_M] = a
    return FINE, warning_bits(D, f, a, N_s, h_1, h_2, h_e1, h_e2, d_1, d_2, theta_1, theta_2, far_tail)

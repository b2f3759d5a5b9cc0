"""ITM: what the model reads from a profile: mean elevation, horizons, irregularity, effective heights.

Everywhere below: z (n + 1,) ground above sea level, m, transmitter first, equally spaced by xi m, n >= 1.
"""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.itm.scans import LEAST_KEY, extremes, kth_smallest, moments, order_key, sum_of

FloatArray = NDArray[np.float64]

MOST_POINTS = 0xF_FFFF  # of one profile; 20 bits


@register_jitable
def positive(x: float) -> float:
    """x where above zero, else 0."""
    return x if x > 0.0 else 0.0


@register_jitable
def mean_elevation_m(z: FloatArray) -> float:
    """Mean elevation of the path without the tenth at either end, m. Source : ITM 1.2.2, point-to-point."""
    n = z.size - 1
    p = int(0.1 * n)
    return float(sum_of(z, p, n - p) / (n - 2 * p + 1))


@register_jitable
def steepest_points(
    z: FloatArray, xi: float, Z_1: float, Z_2: float, half_curvature: float
) -> tuple[int, int]:
    """Points, 1..n-1, seen highest from the ends at Z_1 and Z_2 (m above sea level); of equals the first.

    n >= 2; half_curvature : 1/(2 a), 1/m. The last bits of each angle's key make room for the point's number,
    so that one maximum brings both; angles equal to 2e-10 of themselves count as equal.
    """
    n = z.size - 1
    D = n * xi
    most_1 = LEAST_KEY
    most_2 = LEAST_KEY
    for i in range(1, n):
        x = i * xi
        y = D - x
        share = 1.0 / (x * y)
        t_1 = (z[i] - Z_1) * (y * share) - x * half_curvature
        t_2 = (z[i] - Z_2) * (x * share) - y * half_curvature
        key_1 = (order_key(t_1) & ~MOST_POINTS) | (MOST_POINTS - i)
        key_2 = (order_key(t_2) & ~MOST_POINTS) | (MOST_POINTS - i)
        most_1 = key_1 if key_1 > most_1 else most_1
        most_2 = key_2 if key_2 > most_2 else most_2
    return MOST_POINTS - (most_1 & MOST_POINTS), MOST_POINTS - (most_2 & MOST_POINTS)


@register_jitable
def horizons(z: FloatArray, xi: float, h_1: float, h_2: float, a: float) -> tuple[float, float, float, float]:
    """Elevation angles (rad) and distances (m) of the radio horizons: theta_1, theta_2, d_1, d_2.

    h_1, h_2 : structural heights, m; a : effective earth radius, m. With the ends in each other's sight both
    distances are the path length. Of equal maxima the one met first from the transmitter counts for both.
    Source : Algorithm, section "preparation", horizons; ITM 1.2.2.
    """
    n = z.size - 1
    D = n * xi
    Z_1 = z[0] + h_1
    Z_2 = z[n] + h_2
    half_curvature = 0.5 / a
    theta_1 = (Z_2 - Z_1) / D - D * half_curvature
    theta_2 = (Z_1 - Z_2) / D - D * half_curvature
    d_1 = D
    d_2 = D
    if n >= 2:
        point_1, point_2 = steepest_points(z, xi, Z_1, Z_2, half_curvature)
        x = point_1 * xi
        t_1 = (z[point_1] - Z_1) / x - x * half_curvature
        if t_1 > theta_1:
            theta_1 = t_1
            d_1 = x
        y = D - point_2 * xi
        t_2 = (z[point_2] - Z_2) / y - y * half_curvature
        if t_2 > theta_2:
            theta_2 = t_2
            d_2 = y
    return theta_1, theta_2, d_1, d_2


@register_jitable
def fitted_ends(z: FloatArray, xi: float, d_a: float, d_b: float) -> tuple[float, float]:
    """Heights at both ends of the whole profile of the least-squares line through its part d_a..d_b, m.

    Source : ITM 1.2.2, linear least-squares fit (half weight at the ends of the part).
    """
    n = z.size - 1
    i_a = int(positive(d_a / xi))
    i_b = n - int(positive(n - d_b / xi))
    if i_b <= i_a:
        i_a = int(positive(i_a - 1.0))
        i_b = n - int(positive(n - (i_b + 1.0)))
    length = i_b - i_a
    half = 0.5 * length
    total, moment = moments(z, i_a, i_b)
    mean = total / length
    slope = 12.0 * moment / (length * (length * length + 2.0))
    centre = i_b - half
    return mean - slope * centre, mean + slope * (n - centre)


@register_jitable
def terrain_irregularity_m(z: FloatArray, xi: float, d_a: float, d_b: float) -> float:
    """Terrain irregularity parameter delta h, m: interdecile range about the fitted line, for a long path.

    d_a, d_b : the part of the path considered. The range seen is raised to its asymptote for long paths, so
    on a short path the figure is up to five times what the profile shows.
    Source : Algorithm, section "preparation", delta h; ITM 1.2.2.
    """
    n = z.size - 1
    x_a = d_a / xi
    x_b = d_b / xi
    if x_b - x_a < 2.0:
        return 0.0
    K = min(max(4, int(0.1 * (x_b - x_a + 8.0))), 25)
    M = 10 * K - 5
    sample = np.empty(M)
    step = (x_b - x_a) / (M - 1)
    for j in range(M):
        p = x_a + j * step
        i = min(int(p), n - 1)
        sample[j] = z[i] + (z[i + 1] - z[i]) * (p - i)
    y_1, y_2 = fitted_ends(sample, 1.0, 0.0, M - 1.0)
    slope = (y_2 - y_1) / (M - 1)
    for j in range(M):
        sample[j] -= y_1 + slope * j
    least, most = extremes(sample)
    interdecile = kth_smallest(sample, M - K, least, most) - kth_smallest(sample, K - 1, least, most)
    return float(interdecile / (1.0 - 0.8 * math.exp(-(d_b - d_a) / 50e3)))


@register_jitable
def roughness_m(delta_h_m: float, distance_m: float) -> float:
    """Interdecile terrain range to be expected over a path of that length, m.

    Source : Algorithm eq. (3) from memory; Longley and Rice (1968) eq. (3).
    """
    return delta_h_m * (1.0 - 0.8 * math.exp(-distance_m / 50e3))


@register_jitable
def surface_deviation_m(roughness: float) -> float:
    """Standard deviation of the surface about the fitted line, m, from the range at that distance.

    Source : Longley and Rice (1968) eq. (3.6a); ITM 1.2.2 (all lengths m).
    """
    return 0.78 * roughness * math.exp(-0.5 * roughness**0.25)


@register_jitable
def smooth_horizon_m(h_e: float, a: float) -> float:
    """Distance to the horizon over smooth earth, m, from effective height h_e, m. Source : ITM 1.2.2."""
    return math.sqrt(2.0 * h_e * a)


@register_jitable
def rough_horizon_m(h_e: float, a: float, delta_h: float) -> float:
    """Usual distance to the horizon over irregular ground, m. Source : Longley and Rice (1968); ITM 1.2.2."""
    return math.sqrt(2.0 * h_e * a) * math.exp(-0.07 * math.sqrt(delta_h / max(h_e, 5.0)))


@register_jitable
def read_profile(
    z: FloatArray, xi: float, h_1: float, h_2: float, a: float
) -> tuple[float, float, float, float, float, float, float]:
    """What the model keeps of a profile: theta_1, theta_2 (rad), d_1, d_2, h_e1, h_e2, delta_h (m).

    On a well-cleared path (d_1 + d_2 > 1.5 D) horizons and effective heights are those of the fitted line, no
    longer geometry; else the horizons stay and each effective height comes from its own foreground.
    Source : ITM 1.2.2, quick analysis of a profile.
    """
    n = z.size - 1
    D = n * xi
    theta_1, theta_2, d_1, d_2 = horizons(z, xi, h_1, h_2, a)
    d_a = min(15.0 * h_1, 0.1 * d_1)
    d_b = D - min(15.0 * h_2, 0.1 * d_2)
    delta_h = terrain_irregularity_m(z, xi, d_a, d_b)
    if d_1 + d_2 > 1.5 * D:
        y_1, y_2 = fitted_ends(z, xi, d_a, d_b)
        h_e1 = h_1 + positive(z[0] - y_1)
        h_e2 = h_2 + positive(z[n] - y_2)
        d_1 = rough_horizon_m(h_e1, a, delta_h)
        d_2 = rough_horizon_m(h_e2, a, delta_h)
        if d_1 + d_2 <= D:
            Q = (D / (d_1 + d_2)) ** 2
            h_e1 *= Q
            h_e2 *= Q
            d_1 = rough_horizon_m(h_e1, a, delta_h)
            d_2 = rough_horizon_m(h_e2, a, delta_h)
        s_1 = smooth_horizon_m(h_e1, a)
        s_2 = smooth_horizon_m(h_e2, a)
        theta_1 = (0.65 * delta_h * (s_1 / d_1 - 1.0) - 2.0 * h_e1) / s_1
        theta_2 = (0.65 * delta_h * (s_2 / d_2 - 1.0) - 2.0 * h_e2) / s_2
    else:
        y_1, _ = fitted_ends(z, xi, d_a, 0.9 * d_1)
        _, y_2 = fitted_ends(z, xi, D - 0.9 * d_2, d_b)
        h_e1 = h_1 + positive(z[0] - y_1)
        h_e2 = h_2 + positive(z[n] - y_2)
    return theta_1, theta_2, d_1, d_2, h_e1, h_e2, delta_h

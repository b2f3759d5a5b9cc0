"""ITM: what the model reads from a profile: mean elevation, horizons, irregularity, effective heights.

Everywhere below: z (n + 1,) ground above sea level, m, transmitter first, equally spaced by xi m, n >= 1.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.itm.scans import (
    highest_over_ray,
    interpolated,
    kth_from_both_ends,
    moments,
    slopes_from,
    sum_of,
    take_off_line,
)

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

MOST_POINTS = 0xF_FFFF  # of one profile; 20 bits, so that distances are exact (see `path.spacing_m`)
MOST_SAMPLES = 245
LEAST_SLOPE = 1e-300  # above the direct ray, however little
STRETCH_BITS = 7
STRETCH = 1 << STRETCH_BITS


class Workspace(NamedTuple):
    """Memory for one path after another: no path allocates its own.

    reciprocal (longest,) 1/i, the first 0; reciprocal_back the same backwards; sample (245,) heights;
    part (245,) fractions; highest_1, highest_2 : (stretches,) keys of `scans.highest_over_ray`;
    even (longest,) ground at equal steps.
    """

    reciprocal: FloatArray
    reciprocal_back: FloatArray
    sample: FloatArray
    part: FloatArray
    highest_1: IntArray
    highest_2: IntArray
    even: FloatArray


def workspace(longest: int) -> Workspace:
    """Memory for paths of up to that many points."""
    reciprocal = np.zeros(longest)
    reciprocal[1:] = 1.0 / np.arange(1, longest)
    stretches = (longest >> STRETCH_BITS) + 1
    return Workspace(
        reciprocal,
        reciprocal[::-1].copy(),
        np.empty(MOST_SAMPLES),
        np.empty(MOST_SAMPLES),
        np.zeros(stretches, dtype=np.int64),
        np.zeros(stretches, dtype=np.int64),
        np.empty(longest),
    )


@register_jitable
def positive(x: float) -> float:
    """x where above zero, else 0."""
    return x if x > 0.0 else 0.0


@register_jitable
def mean_elevation_m(z: FloatArray, total: float) -> float:
    """Mean elevation of the path without the tenth at either end, m; total : the sum over the whole path.

    Source : ITM 1.2.2, point-to-point.
    """
    n = z.size - 1
    p = int(0.1 * n)
    middle = total - sum_of(z[:p]) - sum_of(z[n - p + 1 :])
    return float(middle / (n - 2 * p + 1))


@register_jitable
def horizon(
    z: FloatArray,
    xi: float,
    end: int,
    Z: float,
    theta_ray: float,
    half_curvature: float,
    away: FloatArray,
    highest: IntArray,
    most: int,
    over: float,
    rounding: float,
) -> tuple[float, float]:
    """Elevation angle (rad) and distance (m) of the radio horizon seen from point `end` (0 or n) at height Z.

    away : 1/(points to the end); highest, over, rounding : what `horizons` found roughly, most the largest of
    highest. Whatever comes within rounding of it is a candidate, and among those the model's own arithmetic
    decides; without any it is the direct ray, theta_ray, and the path length. Source : as `horizons`.
    """
    n = z.size - 1
    theta = theta_ray
    d = n * xi
    if most == 0:
        return theta, d
    slope = np.int64(most).view(np.float64)
    floor = max(slope * (1.0 - 1e-12) - rounding, LEAST_SLOPE)
    floor_key = np.float64(floor).view(np.int64)
    bend = xi * xi * half_curvature
    turn = bend if end == 0 else -bend
    for begin in range(1, n, STRETCH):
        if highest[begin >> STRETCH_BITS] >= floor_key:
            first = begin
            last = n if n < begin + STRETCH else begin + STRETCH
            over_first = over - bend * abs(first - end)
            count, places = slopes_from(floor, z[first:last], away[first:last], Z, over_first, turn)
            if count == 1:  # nearly always
                first += places
                last = first + 1
            for i in range(first, last):
                x = abs(i - end) * xi
                t = (z[i] - Z) / x - x * half_curvature
                if t > theta:
                    theta = t
                    d = x
    return theta, d


@register_jitable
def horizons(
    z: FloatArray, xi: float, h_1: float, h_2: float, a: float, work: Workspace
) -> tuple[float, float, float, float]:
    """Elevation angles (rad) and distances (m) of the radio horizons: theta_1, theta_2, d_1, d_2.

    h_1, h_2 : structural heights, m; a : effective earth radius, m. With the ends in each other's sight both
    distances are the path length. Of equal maxima the one met first from the transmitter counts for both.

    All slopes are first taken roughly, by reciprocals, as height over the direct ray per point; whatever
    comes within rounding of the highest is then settled exactly.
    Source : Algorithm, section "preparation", horizons; ITM 1.2.2.
    """
    n = z.size - 1
    D = n * xi
    Z_1 = z[0] + h_1
    Z_2 = z[n] + h_2
    half_curvature = 0.5 / a
    theta_1 = (Z_2 - Z_1) / D - D * half_curvature
    theta_2 = (Z_1 - Z_2) / D - D * half_curvature
    bend = xi * xi * half_curvature
    rounding = 1e-12 * (abs(Z_2 - Z_1) / n + 2.0 * bend * n + 1e-3)
    over_1 = rounding - theta_1 * xi
    over_2 = rounding - theta_2 * xi
    back = work.reciprocal_back.size - 1 - n
    away_1 = work.reciprocal[: n + 1]
    away_2 = work.reciprocal_back[back:]
    most_1 = np.int64(0)
    most_2 = np.int64(0)
    for first in range(1, n, STRETCH):
        last = n if n < first + STRETCH else first + STRETCH
        key_1, key_2 = highest_over_ray(
            z[first:last],
            away_1[first:last],
            away_2[first:last],
            Z_1,
            Z_2,
            over_1 - bend * first,
            over_2 - bend * (n - first),
            bend,
        )
        work.highest_1[first >> STRETCH_BITS] = key_1
        work.highest_2[first >> STRETCH_BITS] = key_2
        most_1 = key_1 if key_1 > most_1 else most_1
        most_2 = key_2 if key_2 > most_2 else most_2
    theta_1, d_1 = horizon(
        z, xi, 0, Z_1, theta_1, half_curvature, away_1, work.highest_1, most_1, over_1, rounding
    )
    theta_2, d_2 = horizon(
        z, xi, n, Z_2, theta_2, half_curvature, away_2, work.highest_2, most_2, over_2, rounding
    )
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
    total, moment = moments(z[i_a : i_b + 1])
    mean = total / length
    slope = 12.0 * moment / (length * (length * length + 2.0))
    centre = i_b - half
    return mean - slope * centre, mean + slope * (n - centre)


@register_jitable
def terrain_irregularity_m(z: FloatArray, xi: float, d_a: float, d_b: float, work: Workspace) -> float:
    """Terrain irregularity parameter delta h, m: interdecile range about the fitted line, for a long path.

    d_a, d_b : the part of the path considered. The range seen is raised to its asymptote for long paths, so
    on a short path the figure is up to five times what the profile shows.
    Source : Algorithm, section "preparation", delta h; ITM 1.2.2.
    """
    x_a = d_a / xi
    x_b = d_b / xi
    if x_b - x_a < 2.0:
        return 0.0
    K = min(max(4, int(0.1 * (x_b - x_a + 8.0))), 25)
    M = 10 * K - 5
    sample = work.sample[:M]
    interpolated(z, x_a, (x_b - x_a) / (M - 1), sample, work.part)
    y_1, y_2 = fitted_ends(sample, 1.0, 0.0, M - 1.0)
    squares = take_off_line(sample, y_1, (y_2 - y_1) / (M - 1))
    lowest_tenth, highest_tenth = kth_from_both_ends(sample, K - 1, squares)
    return float(positive(highest_tenth - lowest_tenth) / (1.0 - 0.8 * math.exp(-(d_b - d_a) / 50e3)))


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
    return 0.78 * roughness * math.exp(-0.5 * math.sqrt(math.sqrt(roughness)))


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
    z: FloatArray, xi: float, h_1: float, h_2: float, a: float, work: Workspace
) -> tuple[float, float, float, float, float, float, float]:
    """What the model keeps of a profile: theta_1, theta_2 (rad), d_1, d_2, h_e1, h_e2, delta_h (m).

    On a well-cleared path (d_1 + d_2 > 1.5 D) horizons and effective heights are those of the fitted line, no
    longer geometry; else the horizons stay and each effective height comes from its own foreground.
    Source : ITM 1.2.2, quick analysis of a profile.
    """
    n = z.size - 1
    D = n * xi
    theta_1, theta_2, d_1, d_2 = horizons(z, xi, h_1, h_2, a, work)
    d_a = min(15.0 * h_1, 0.1 * d_1)
    d_b = D - min(15.0 * h_2, 0.1 * d_2)
    delta_h = terrain_irregularity_m(z, xi, d_a, d_b, work)
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

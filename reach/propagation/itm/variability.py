"""ITM: how far the loss strays from the reference over time, places and comparable situations."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable

from reach.propagation.itm.ground import WAVENUMBER_DIVISOR
from reach.propagation.itm.terrain import roughness_m

# NBS TN101 section 10 and NTIA Report 82-100: one column per climate, 1 equatorial, 2 continental
# subtropical, 3 maritime subtropical, 4 desert, 5 continental temperate, 6 maritime temperate over land,
# 7 the same over sea.
# Rows of a curve: c1 (dB), c2 (dB), x1, x2, x3 (m).
MEDIAN_CURVE = np.array(
    [
        [-9.67, -0.62, 1.26, -9.21, -0.62, -0.39, 3.15],
        [12.7, 9.19, 15.5, 9.05, 9.19, 2.86, 857.9],
        [144.9e3, 228.9e3, 262.6e3, 84.1e3, 228.9e3, 141.7e3, 2222e3],
        [190.3e3, 205.2e3, 185.2e3, 101.1e3, 205.2e3, 315.9e3, 164.8e3],
        [133.8e3, 143.6e3, 99.8e3, 98.6e3, 143.6e3, 167.4e3, 116.3e3],
    ]
)
WORSE_CURVE = np.array(
    [
        [2.13, 2.66, 6.11, 1.98, 2.68, 6.86, 8.51],
        [159.5, 7.67, 6.65, 13.11, 7.16, 10.38, 169.8],
        [762.2e3, 100.4e3, 138.2e3, 139.1e3, 93.7e3, 187.8e3, 609.8e3],
        [123.6e3, 172.5e3, 242.2e3, 132.7e3, 186.8e3, 169.6e3, 119.9e3],
        [94.5e3, 136.4e3, 178.6e3, 193.5e3, 133.5e3, 108.9e3, 106.6e3],
    ]
)
BETTER_CURVE = np.array(
    [
        [2.11, 6.87, 10.08, 3.68, 4.75, 8.58, 8.43],
        [102.3, 15.53, 9.60, 159.3, 8.12, 13.97, 8.19],
        [636.9e3, 138.7e3, 165.3e3, 464.4e3, 93.2e3, 216.0e3, 136.2e3],
        [134.8e3, 143.7e3, 225.7e3, 93.1e3, 135.9e3, 152.0e3, 188.5e3],
        [95.6e3, 98.6e3, 129.7e3, 94.2e3, 113.4e3, 122.7e3, 122.9e3],
    ]
)
TAIL_FACTOR = np.array([1.224, 0.801, 1.380, 1.000, 1.224, 1.518, 1.518])  # C_D
TAIL_START = np.array([1.282, 2.161, 1.282, 20.0, 1.282, 1.282, 1.282])  # z_D
# Frequency factors b1, b2, b3 of the worse and the better half.
WORSE_FREQUENCY = np.array(
    [
        [1.0, 1.0, 1.0, 1.0, 0.92, 1.0, 1.0],
        [0.0, 0.0, 0.0, 0.0, 0.25, 0.0, 0.0],
        [0.0, 0.0, 0.0, 0.0, 1.77, 0.0, 0.0],
    ]
)
BETTER_FREQUENCY = np.array(
    [
        [1.0, 0.93, 1.0, 0.93, 0.93, 1.0, 1.0],
        [0.0, 0.31, 0.0, 0.19, 0.31, 0.0, 0.0],
        [0.0, 2.00, 0.0, 1.79, 2.00, 0.0, 0.0],
    ]
)

SINGLE_MESSAGE, ACCIDENTAL, MOBILE, BROADCAST = 0, 1, 2, 3  # tens are added: see settings.LeftOut


@register_jitable
def deviate(share: float) -> float:
    """Standard normal deviate exceeded by that share (0 < share < 1): positive below one half.

    The model's own approximation, within 4.5e-4. Source : Abramowitz and Stegun 26.2.23; ITM 1.2.2.
    """
    T = math.sqrt(-2.0 * math.log(min(share, 1.0 - share)))
    z = T - ((0.010328 * T + 0.802853) * T + 2.515516) / (
        ((0.001308 * T + 0.189269) * T + 1.432788) * T + 1.0
    )
    return -z if share > 0.5 else z


@register_jitable
def curve_db(c_1: float, c_2: float, x_1: float, x_2: float, x_3: float, d_e: float) -> float:
    """One climate curve at effective distance d_e (m), dB. Source : TN101 eqs. (III.69) to (III.71)."""
    u = (d_e / x_1) ** 2
    v = (d_e - x_2) / x_3
    return (c_1 + c_2 / (1.0 + v * v)) * u / (1.0 + u)


@register_jitable
def effective_distance_m(D: float, f: float, h_e1: float, h_e2: float) -> float:
    """Effective distance d_e of the variability curves, m.

    Source : Algorithm, section 4; TN101 section 10.
    """
    k = f / WAVENUMBER_DIVISOR
    d_ex: float = math.sqrt(18e6 * h_e1) + math.sqrt(18e6 * h_e2) + (575.7e12 / k) ** (1.0 / 3.0)
    if d_ex > D:
        return 130e3 * D / d_ex
    return 130e3 + D - d_ex


@register_jitable
def time_spreads_db(climate: int, d_e: float, f: float) -> tuple[float, float, float]:
    """Median shift V_med and standard deviations of the worse and the better half of time, dB.

    climate : 1..7. Source : Algorithm, section 4, V_med, sigma_T- and sigma_T+; ITM 1.2.2.
    """
    c = climate - 1
    q = math.log(0.133 * f / WAVENUMBER_DIVISOR)
    worse_factor = WORSE_FREQUENCY[0, c] + WORSE_FREQUENCY[1, c] / (1.0 + (WORSE_FREQUENCY[2, c] * q) ** 2)
    better_factor = BETTER_FREQUENCY[0, c] + BETTER_FREQUENCY[1, c] / (
        1.0 + (BETTER_FREQUENCY[2, c] * q) ** 2
    )
    median = curve_db(
        MEDIAN_CURVE[0, c],
        MEDIAN_CURVE[1, c],
        MEDIAN_CURVE[2, c],
        MEDIAN_CURVE[3, c],
        MEDIAN_CURVE[4, c],
        d_e,
    )
    worse = curve_db(
        WORSE_CURVE[0, c], WORSE_CURVE[1, c], WORSE_CURVE[2, c], WORSE_CURVE[3, c], WORSE_CURVE[4, c], d_e
    )
    better = curve_db(
        BETTER_CURVE[0, c],
        BETTER_CURVE[1, c],
        BETTER_CURVE[2, c],
        BETTER_CURVE[3, c],
        BETTER_CURVE[4, c],
        d_e,
    )
    return median, worse * worse_factor, better * better_factor


@register_jitable
def time_sigma_db(climate: int, z_T: float, worse: float, better: float) -> float:
    """Standard deviation that goes with the time deviate z_T, dB: worse half, better half, or its tail.

    Source : Algorithm, section 4, sigma_T; ITM 1.2.2.
    """
    if z_T < 0.0:
        return worse
    z_D = float(TAIL_START[climate - 1])
    if z_T <= z_D:
        return better
    tail = TAIL_FACTOR[climate - 1] * better
    return float(tail + (better - tail) * z_D / z_T)


@register_jitable
def varied_attenuation_db(
    A_ref: float,
    D: float,
    f: float,
    h_e1: float,
    h_e2: float,
    delta_h: float,
    climate: int,
    mdvar: int,
    z_T: float,
    z_L: float,
    z_S: float,
) -> tuple[float, bool]:
    """Attenuation over free space at the wanted deviates, dB, and whether a deviate lies beyond 3.10.

    mdvar : mode (ones) plus 10 without location and 20 without situation variability.
    Source : Algorithm, section 4 "variability"; NTIA Report 82-100; ITM 1.2.2.
    """
    k = f / WAVENUMBER_DIVISOR
    mode = mdvar % 10
    left_out = mdvar // 10
    d_e = effective_distance_m(D, f, h_e1, h_e2)
    median, worse, better = time_spreads_db(climate, d_e, f)
    sigma_S = 0.0 if left_out >= 2 else 5.0 + 3.0 * math.exp(-d_e / 100e3)

    if mode == SINGLE_MESSAGE:
        z_T = z_S
        z_L = z_S
    elif mode == ACCIDENTAL:
        z_L = z_S
    elif mode == MOBILE:
        z_L = z_T
    far_tail = abs(z_T) > 3.10 or abs(z_L) > 3.10 or abs(z_S) > 3.10

    sigma_T = time_sigma_db(climate, z_T, worse, better)
    sigma_L = 0.0
    if left_out % 2 == 0:
        waves = k * roughness_m(delta_h, D)
        sigma_L = 10.0 * waves / (waves + 13.0)
    Y_T = sigma_T * z_T
    Y_L = sigma_L * z_L
    W = sigma_S * sigma_S + Y_T * Y_T / (7.8 + z_S * z_S) + Y_L * Y_L / (24.0 + z_S * z_S)

    if mode == SINGLE_MESSAGE:
        Y_R = 0.0
        Y_S = math.sqrt(sigma_T * sigma_T + sigma_L * sigma_L + W) * z_S
    elif mode == ACCIDENTAL:
        Y_R = Y_T
        Y_S = math.sqrt(sigma_L * sigma_L + W) * z_S
    elif mode == MOBILE:
        Y_R = math.sqrt(sigma_T * sigma_T + sigma_L * sigma_L) * z_T
        Y_S = math.sqrt(W) * z_S
    else:
        Y_R = Y_T + Y_L
        Y_S = math.sqrt(W) * z_S

    A = A_ref - median - Y_R - Y_S
    if A < 0.0:
        A = A * (29.0 - A) / (29.0 - 10.0 * A)
    return A, far_tail

"""ITM: forward scatter from the common volume far beyond the horizons."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable

from reach.propagation.itm.ground import Wave, decibels

# TN101 figure (9.3): coefficients of the frequency-gain curves for eta = 1..5
H_01_ALPHA = np.array([25.0, 80.0, 177.0, 395.0, 705.0])
H_01_BETA = np.array([24.0, 45.0, 68.0, 80.0, 105.0])

UNDEFINED_DB = 1001.0  # both normalised heights below 0.2: the scatter formula does not apply
NOTHING_REMEMBERED = -1.0


@register_jitable
def attenuation_function_db(theta_d_m: float) -> float:
    """Attenuation function F(theta d) at N_s = 301, dB, of scatter angle times distance, m.

    Source : TN101 figure (9.1); Algorithm, F(theta d).
    """
    if theta_d_m <= 10e3:
        return float(133.4 + 0.332e-3 * theta_d_m - decibels(theta_d_m))
    if theta_d_m <= 70e3:
        return float(104.6 + 0.212e-3 * theta_d_m - 0.25 * decibels(theta_d_m))
    return float(71.8 + 0.157e-3 * theta_d_m + 0.5 * decibels(theta_d_m))


@register_jitable
def frequency_gain_curve_db(r: float, j: int) -> float:
    """Frequency gain H_0 of curve j (0..4 for eta 1..5) at normalised height r, dB. Source : TN101 (9.3)."""
    r_2 = r * r
    return float(decibels(1.0 + H_01_ALPHA[j] / (r_2 * r_2) + H_01_BETA[j] / r_2))


@register_jitable
def frequency_gain_db(r: float, eta: float) -> float:
    """Frequency gain H_01(r, eta), dB, eta held within 1..5, straight between curves.

    Source : Algorithm, H_01.
    """
    eta = min(max(eta, 1.0), 5.0)
    i = int(eta)
    fraction = eta - i
    gain = frequency_gain_curve_db(r, i - 1)
    if fraction != 0.0:
        gain = (1.0 - fraction) * gain + fraction * frequency_gain_curve_db(r, i)
    return float(gain)


@register_jitable
def scatter_db(
    d: float,
    wave: Wave,
    a: float,
    N_s: float,
    h_e1: float,
    h_e2: float,
    d_1: float,
    d_2: float,
    theta_1: float,
    theta_2: float,
    theta_los: float,
    remembered_H_0: float,
) -> tuple[float, float]:
    """Troposcatter attenuation at distance d, dB over free space, and the frequency gain to remember, dB.

    remembered_H_0 : the gain of the call before (farther distance), or NOTHING_REMEMBERED; it takes over when
    this one would exceed 15 dB. Returns UNDEFINED_DB where both normalised heights are below 0.2.
    Source : Algorithm, section "scatter attenuation" A_scat; TN101 section 9; ITM 1.2.2.
    """
    H_0 = remembered_H_0
    if remembered_H_0 <= 15.0:
        asymmetry = d_1 - d_2
        rho = h_e2 / h_e1
        if asymmetry < 0.0:
            asymmetry = -asymmetry
            rho = 1.0 / rho
        theta = theta_1 + theta_2 + d / a
        r_1 = 2.0 * wave.k * theta * h_e1
        r_2 = 2.0 * wave.k * theta * h_e2
        if r_1 < 0.2 and r_2 < 0.2:
            return UNDEFINED_DB, remembered_H_0
        s = (d - asymmetry) / (d + asymmetry)
        q = min(max(0.1, rho / s), 10.0)
        s = max(0.1, s)
        h_0 = (d - asymmetry) * (d + asymmetry) * theta * 0.25 / d
        eta = (h_0 / 1755.6) * (
            1.0 + (0.031 - 2.32e-3 * N_s + 5.67e-6 * N_s * N_s) * math.exp(-(min(1.7, h_0 / 8000.0) ** 6))
        )
        H_00 = 0.5 * (frequency_gain_db(r_1, eta) + frequency_gain_db(r_2, eta))
        correction = 6.0 * (0.6 - math.log10(max(eta, 1.0))) * math.log10(s) * math.log10(q)
        H_0 = max(0.0, H_00 + min(H_00, correction))
        if eta < 1.0:
            root_2 = math.sqrt(2.0)
            product = (1.0 + root_2 / r_1) * (1.0 + root_2 / r_2)
            near = decibels(product * product * (r_1 + r_2) / (r_1 + r_2 + 2.0 * root_2))
            H_0 = eta * H_0 + (1.0 - eta) * near
        if H_0 > 15.0 and remembered_H_0 >= 0.0:
            H_0 = remembered_H_0
    theta_beyond = d / a - theta_los
    theta_d = theta_beyond * d
    A = (
        attenuation_function_db(theta_d)
        + decibels(wave.f)
        + 4.0 * decibels(theta_beyond)
        - 0.1 * (N_s - 301.0) * math.exp(-theta_d / 40e3)
        + H_0
    )
    return A, H_0

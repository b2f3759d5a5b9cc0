"""Single-precision forms of the formulas of `propagation/` that the sweep needs in every cell, compiled.

Each has its own test against the double-precision body it stands for (tests/coverage/sweep/test_formulas.py).
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._log_kernel import exp2_f32, log2_f32

_F0 = np.float32(0.0)
_F1 = np.float32(1.0)
_F2 = np.float32(2.0)
_F01 = np.float32(0.1)
_HALF = np.float32(0.5)
_TINY = np.float32(1e-12)
_NU_OF_NO_LOSS = np.float32(-0.78)
DB = np.float32(20.0 * math.log10(2.0))  # 20 log10(x) = DB log2(x)
_SIXTH = np.float32(-math.log2(math.e) / 6.0)  # exp(-x/6) = 2**(_SIXTH x)


@njit(error_model="numpy", inline="always")
def knife_edge_f32(nu):
    """J(nu), dB. Rec. ITU-R P.526-15, eq. (31)."""
    v = nu - _F01
    w = math.sqrt(v * v + _F1) + v
    return np.float32(6.9) + DB * log2_f32(w) if nu > _NU_OF_NO_LOSS else _F0


@njit(error_model="numpy", inline="always")
def bullington_f32(nu, distance_km):
    """Bullington loss of the equivalent edge, dB. P.526-15, 4.5.1; P.1812-7, eq. (21)."""
    edge_db = knife_edge_f32(nu)
    return edge_db + (_F1 - exp2_f32(_SIXTH * edge_db)) * (np.float32(10.0) + np.float32(0.02) * distance_km)


@njit(error_model="numpy", inline="always")
def height_gain_f32(b):
    """G of the argument beta Y, dB, before its floor. P.526-15, 3.1.1.2; P.1812-7, eq. (34)."""
    far = b > _F2
    inner = b - np.float32(1.1) if far else b + _F01 * b * b * b
    log_db = DB * log2_f32(max(inner, _TINY))
    high = np.float32(17.6) * math.sqrt(max(inner, _F0)) - np.float32(0.25) * log_db - np.float32(8.0)
    return high if far else log_db


@njit(error_model="numpy", inline="always")
def first_term_f32(distance_km, tx_m, rx_m, log_radius, x_factor, y_factor, log_admittance, beta_by_formula):
    """First term of the spherical-Earth series over one kind of ground, dB. P.526-15, 3.1; P.1812-7, eqs
    (29)-(36).

    log_radius : log2 of the radius in km; x_factor, y_factor : frequency already in them; log_admittance :
    log2 of K at 1 km radius. beta_by_formula : eq. (30), as P.1812 has it; else 1, as P.526-15 has for
    horizontal polarisation and above 20 MHz over land.
    """
    root = exp2_f32(log_radius * np.float32(-1.0 / 3.0))
    log_k = log_admittance - log_radius * np.float32(1.0 / 3.0)
    beta = _F1
    if beta_by_formula:
        k2 = exp2_f32(_F2 * log_k)
        beta = (_F1 + np.float32(1.6) * k2 + np.float32(0.67) * k2 * k2) / (
            _F1 + np.float32(4.5) * k2 + np.float32(1.53) * k2 * k2
        )
    x = max(x_factor * beta * root * root * distance_km, _TINY)
    log_x = log2_f32(x)
    far = np.float32(11.0) + _HALF * DB * log_x - np.float32(17.6) * x
    near = -DB * log_x - np.float32(5.6488) * exp2_f32(np.float32(1.425) * log_x)
    gain = far if x >= np.float32(1.6) else near
    floor = _F2 + DB * log_k
    scale = y_factor * beta * beta * root
    gain += max(height_gain_f32(scale * tx_m), floor) + max(height_gain_f32(scale * rx_m), floor)
    return -gain


@njit(error_model="numpy", inline="always")
def least_clearance_step(w, hi, lo, bulge):
    """One Newton step towards hi w - lo = bulge w (1 - w)/(1 + w)^2."""
    t = _F1 + w
    t2 = t * t
    value = (hi * w - lo) * t2 - bulge * w * (_F1 - w)
    slope = hi * t2 * t - bulge * (_F1 - np.float32(3.0) * w)
    return max(w - value * t / slope, _TINY)


@njit(error_model="numpy", inline="always")
def lowest_point_step(b, m, c):
    """One Newton step towards m b^3 - (m + 1) b + c = 0 from below."""
    return b + (m * b * b * b - (m + _F1) * b + c) / ((m + _F1) + _TINY - np.float32(3.0) * m * b * b)


_A0, _A1, _A2, _A3, _A4, _A5, _A6 = (
    np.float32(c)
    for c in np.polynomial.chebyshev.Chebyshev.interpolate(
        lambda s: np.arctan(np.sqrt(np.maximum(s, 1e-12))) / np.sqrt(np.maximum(s, 1e-12)),
        6,
        domain=[0.0, 1.0],
    )
    .convert(kind=np.polynomial.Polynomial)
    .coef
)
_QUARTER_TURN = np.float32(math.pi / 2.0)


@njit(error_model="numpy", inline="always")
def atan_f32(x):
    """Arc tangent, radians."""
    size = abs(x)
    steep = size > _F1
    y = _F1 / size if steep else size
    s = y * y
    p = _A6
    p = p * s + _A5
    p = p * s + _A4
    p = p * s + _A3
    p = p * s + _A2
    p = p * s + _A1
    p = p * s + _A0
    angle = y * p
    angle = _QUARTER_TURN - angle if steep else angle
    return angle if x >= _F0 else -angle


_ROOT_TWO = np.float32(math.sqrt(2.0))
_TWO_ROOT_TWO = np.float32(2.0 * math.sqrt(2.0))
_LEAST_R = np.float32(1e-6)


@njit(error_model="numpy", inline="always")
def frequency_gain_f32(r1, r2):
    """H0 of low antennas in troposcatter, dB. NBS Technical Note 101, section 9, eta = 0."""
    a = max(r1, _LEAST_R)
    b = max(r2, _LEAST_R)
    both = (_F1 + _ROOT_TWO / a) * (_F1 + _ROOT_TWO / b)
    return _HALF * DB * log2_f32(both * both * ((a + b) / (a + b + _TWO_ROOT_TWO)))


@njit(error_model="numpy", inline="always")
def either_way_f32(one_db, other_db):
    """-5 log10(10^(-0.2 one) + 10^(-0.2 other)), dB. P.1812-7, eq. (63)."""
    apart = abs(one_db - other_db)
    sum_db = log2_f32(_F1 + exp2_f32(np.float32(-0.2 * math.log2(10.0)) * apart))
    return min(one_db, other_db) - np.float32(5.0 * math.log10(2.0)) * sum_db

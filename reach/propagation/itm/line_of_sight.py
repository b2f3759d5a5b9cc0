"""ITM: the region nearer than the smooth-earth horizons (whether or not a hill stands in the way)."""

from __future__ import annotations

import math

from numba.extending import register_jitable

from reach.propagation.itm.ground import Wave, decibels
from reach.propagation.itm.terrain import positive, roughness_m, surface_deviation_m


@register_jitable
def two_ray_db(d: float, wave: Wave, h_e1: float, h_e2: float, delta_h: float) -> float:
    """Attenuation of the direct ray and one reflected off rough ground, dB over free space.

    Source : Algorithm, section "line-of-sight attenuation" A_t; ITM 1.2.2.
    """
    k = wave.k
    H = h_e1 + h_e2
    sin_psi = H / math.sqrt(d * d + H * H)
    sigma_h = surface_deviation_m(roughness_m(delta_h, d))
    # Fresnel reflection (sin psi - Z_g)/(sin psi + Z_g), written out in real and imaginary part
    norm = (sin_psi + wave.Z_real) ** 2 + wave.Z_imag**2
    shrink = math.exp(-min(10.0, k * sigma_h * sin_psi)) / norm
    R_real = (sin_psi * sin_psi - wave.Z_real**2 - wave.Z_imag**2) * shrink
    R_imag = -2.0 * sin_psi * wave.Z_imag * shrink
    q = R_real * R_real + R_imag * R_imag
    if q < 0.25 or q < sin_psi:
        grow = math.sqrt(sin_psi / q)
        R_real *= grow
        R_imag *= grow
    phi = 2.0 * k * h_e1 * h_e2 / d
    if phi > math.pi / 2.0:
        phi = math.pi - (math.pi / 2.0) ** 2 / phi
    return float(-decibels((math.cos(phi) + R_real) ** 2 + (R_imag - math.sin(phi)) ** 2))


@register_jitable
def near_attenuation_db(
    d: float,
    wave: Wave,
    h_e1: float,
    h_e2: float,
    delta_h: float,
    d_sL: float,
    M_d: float,
    A_d0: float,
) -> float:
    """Two-ray attenuation blended with the extended diffraction line, dB over free space.

    Source : Algorithm, A_los(d) and its weight w; ITM 1.2.2.
    """
    w = 1.0 / (1.0 + wave.f * delta_h / max(10e3, d_sL))
    A_t = two_ray_db(d, wave, h_e1, h_e2, delta_h)
    return float(w * A_t + (1.0 - w) * (M_d * d + A_d0))


@register_jitable
def near_reference_db(
    D: float,
    wave: Wave,
    h_e1: float,
    h_e2: float,
    delta_h: float,
    d_L: float,
    d_sL: float,
    M_d: float,
    A_d0: float,
) -> float:
    """Reference attenuation of a path shorter than the smooth-earth horizons, dB over free space.

    The curve A_sL + k1 (d - d_sL) + k2 ln(d / d_sL) through two near distances; at d_sL it meets the
    diffraction line.
    Source : Algorithm, section "coefficients for the line-of-sight range"; ITM 1.2.2.
    """
    A_sL = A_d0 + M_d * d_sL
    d_I = 0.04 * wave.f * h_e1 * h_e2
    if A_d0 >= 0.0:
        d_I = min(d_I, 0.5 * d_L)
        d_II = d_I + 0.25 * (d_L - d_I)
    else:
        d_II = max(-A_d0 / M_d, 0.25 * d_L)
    A_1 = near_attenuation_db(d_II, wave, h_e1, h_e2, delta_h, d_sL, M_d, A_d0)

    k_1 = 0.0
    k_2 = 0.0
    fitted = False
    if d_I < d_II:
        A_0 = near_attenuation_db(d_I, wave, h_e1, h_e2, delta_h, d_sL, M_d, A_d0)
        g = math.log(d_sL / d_I)
        k_2 = positive(
            ((d_sL - d_I) * (A_1 - A_0) - (d_II - d_I) * (A_sL - A_0))
            / ((d_sL - d_I) * math.log(d_II / d_I) - (d_II - d_I) * g)
        )
        fitted = A_d0 > 0.0 or k_2 > 0.0
        if fitted:
            k_1 = (A_sL - A_0 - k_2 * g) / (d_sL - d_I)
            if k_1 < 0.0:
                k_1 = 0.0
                k_2 = positive(A_sL - A_0) / g
                if k_2 == 0.0:
                    k_1 = M_d
    if not fitted:
        k_2 = 0.0
        k_1 = positive(A_sL - A_1) / (d_sL - d_II)
        if k_1 == 0.0:
            k_1 = M_d
    return A_sL + k_1 * (D - d_sL) + k_2 * math.log(D / d_sL)

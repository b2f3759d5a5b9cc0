"""ITM: attenuation beyond the horizon by diffraction, and the straight line the model puts through it."""

from __future__ import annotations

import math

from numba.extending import register_jitable

from reach.propagation.itm.ground import Wave, decibels
from reach.propagation.itm.terrain import roughness_m, surface_deviation_m

ACTUAL_EARTH_RADIUS_M = 6_370_000.0


@register_jitable
def knife_edge_db(v_squared: float) -> float:
    """Knife-edge attenuation, dB, from the square of the Fresnel-Kirchhoff parameter (edge above the line).

    Source : TN101 eqs. (III.24b), (III.24c); Algorithm, function Fn.
    """
    if v_squared < 5.76:
        return 6.02 + 9.11 * math.sqrt(v_squared) - 1.27 * v_squared
    return float(12.953 + decibels(v_squared))


@register_jitable
def height_gain_db(x_km: float, K: float) -> float:
    """Height-gain function F(x, K) of smooth-earth diffraction, dB; x is the model's scaled distance.

    Source : Algorithm, function F(x, K); TN101 section 8, figure (8.2) curves.
    """
    if x_km < 200.0:
        w = -math.log(K)
        if K < 1e-5 or x_km * w * w * w > 5495.0:
            F = -117.0
            if x_km > 1.0:
                F += 17.372 * math.log(x_km)
            return F
        return 2.5e-5 * x_km * x_km / K - 8.686 * w - 15.0
    ln_x = math.log(x_km)
    F = 0.05751 * x_km - 4.343 * ln_x
    if x_km < 2000.0:
        w = 0.0134 * x_km * math.exp(-0.005 * x_km)
        F = (1.0 - w) * F + w * (17.372 * ln_x - 117.0)
    return F


@register_jitable
def scaled_distance(a_m: float, d_m: float, wave: Wave) -> tuple[float, float]:
    """Scaled distance x and ground factor K of one of the three radii.

    Source : Algorithm, A_r; TN101 section 8.
    """
    C = (4.0 / 3.0 * ACTUAL_EARTH_RADIUS_M / a_m) ** (1.0 / 3.0)
    K = 0.017778 * C / (wave.cube_root_f * wave.Z_abs)
    B = 1.607 - K
    return B * C * C * wave.cube_root_f * d_m / 1000.0, K


@register_jitable
def height_gains(d_1: float, d_2: float, h_e1: float, h_e2: float, wave: Wave) -> tuple[float, float]:
    """Sum of the two ends' scaled distances x_1 + x_2 and of their height gains F, dB.

    They belong to the ends and are the same at every distance. Source : Algorithm, A_r; TN101 section 8.
    """
    x_1, K_1 = scaled_distance(0.5 * d_1 * d_1 / h_e1, d_1, wave)
    x_2, K_2 = scaled_distance(0.5 * d_2 * d_2 / h_e2, d_2, wave)
    return x_1 + x_2, height_gain_db(x_1, K_1) + height_gain_db(x_2, K_2)


@register_jitable
def smooth_earth_db(theta: float, d_beyond: float, x_ends: float, F_ends: float, wave: Wave) -> float:
    """Smooth-earth diffraction A_r by Vogler's three radii, dB.

    theta : angular distance beyond the horizons, rad; d_beyond : distance beyond them, m; x_ends, F_ends :
    from `height_gains`. Source : Algorithm, A_r; TN101 section 8 (Vogler 1964); ITM 1.2.2.
    """
    x_0, _ = scaled_distance(d_beyond / theta, d_beyond, wave)
    x = x_0 + x_ends
    G = 0.05751 * x - decibels(x)
    return float(G - F_ends - 20.0)


@register_jitable
def clutter_db(h_1: float, h_2: float, f: float, d_sL: float, delta_h: float) -> float:
    """Clutter allowance A_fo of diffraction, dB, at most 15; h_1, h_2 structural heights, m.

    Source : Algorithm, section "diffraction attenuation"; ITM 1.2.2.
    """
    sigma_h = surface_deviation_m(roughness_m(delta_h, d_sL))
    return float(min(15.0, 0.5 * decibels(1.0 + 1e-5 * h_1 * h_2 * f * sigma_h)))


@register_jitable
def diffraction_db(
    d: float,
    wave: Wave,
    a: float,
    h_1: float,
    h_2: float,
    h_e1: float,
    h_e2: float,
    d_1: float,
    d_2: float,
    theta_los: float,
    delta_h: float,
    x_ends: float,
    F_ends: float,
) -> float:
    """Diffraction attenuation at distance d beyond the horizons, dB over free space, without `clutter_db`.

    A blend of two knife edges and smooth earth. h_1, h_2 are the structural heights, h_e1 and h_e2 the
    effective ones; x_ends, F_ends from `height_gains`.
    Source : Algorithm, section "diffraction attenuation" A_diff; ITM 1.2.2.
    """
    d_L = d_1 + d_2
    theta = d / a - theta_los
    d_n = d - d_L

    v_base = 0.0795775 * wave.k * theta * theta * d_n
    A_k = knife_edge_db(v_base * d_1 / (d_n + d_1)) + knife_edge_db(v_base * d_2 / (d_n + d_2))
    A_r = smooth_earth_db(theta, d_n, x_ends, F_ends, wave)

    q_0 = h_1 * h_2
    root = math.sqrt(1.0 + (h_e1 * h_e2 - q_0) / (q_0 + 10.0))
    q = (root + (d_L - theta_los * a) / d) * min(wave.k * roughness_m(delta_h, d), 6283.2)
    w = 25.1 / (25.1 + math.sqrt(q))
    return float(w * A_r + (1.0 - w) * A_k)

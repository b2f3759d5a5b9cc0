# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""Knife edges, Rec. ITU-R P.526: one edge, and the edge or edges that stand out of a profile."""

from __future__ import annotations

import numpy as np
from numba.extending import register_jitable

from reach.units import Number

LEAST_NU = -0.78  # below it J is taken as zero; P.526-15, 4.1


@register_jitable
def knife_edge_loss_db(nu: Number) -> Number:
    """Loss of one knife edge against free space, J(nu), dB.

    nu : float or array - diffraction parameter, positive when the edge blocks the ray.
    Returns : same shape, never negative; NaN stays NaN.
    Source : Rec. ITU-R P.526-15, 4.1, eq. (31); P.1812-7 eq. (12). Zero at and below nu = -0.78, where the
        formula has 0.004 dB left.
    """
    raised = np.maximum(nu, LEAST_NU) - 0.1
    loss_db = 6.9 + 20.0 * np.log10(np.sqrt(raised * raised + 1.0) + raised)
    return loss_db * (1.0 - (nu <= LEAST_NU))


@register_jitable
def diffraction_parameter(height_m: Number, d1_km: Number, d2_km: Number, wavelength_m: Number) -> Number:
    """nu of an edge height_m above (negative: below) the line between the ends, d1_km and d2_km from them.

    Source : P.526-15, 4.1, eq. (26), in practical units.
    """
    return height_m * np.sqrt(0.002 * (d1_km + d2_km) / (wavelength_m * d1_km * d2_km))


@register_jitable
def fresnel_radius_m(d1_km: Number, d2_km: Number, wavelength_m: Number) -> Number:
    """Radius of the first Fresnel zone, m, at d1_km and d2_km from the ends.

    Source : P.526-15, 2.3, eq. (2), with the exact constant where the text prints 550.
    """
    return np.sqrt(1000.0 * wavelength_m * d1_km * d2_km / (d1_km + d2_km))


def rounded_obstacle_loss_db(
    *, height_m: float, d1_km: float, d2_km: float, radius_m: float, wavelength_m: float
) -> float:
    """Loss of one isolated rounded hill: J(nu) + T(m, n), dB.

    height_m : of the crossing of the two tangents above the direct line; radius_m : of curvature of the top.
    Source : P.526-15, 4.2, eqs (32) to (37) (from memory).
    """
    d1_m, d2_m = d1_km * 1e3, d2_km * 1e3
    size = (np.pi * radius_m / wavelength_m) ** (1.0 / 3.0)
    m = radius_m * (d1_m + d2_m) / (d1_m * d2_m) / size
    n = height_m * size * size / radius_m
    if m * n <= 4.0:
        t_db = 7.2 * m**0.5 - (2.0 - 12.5 * n) * m + 3.6 * m**1.5 - 0.8 * m * m
    else:
        t_db = (
            -6.0 - 20.0 * np.log10(m * n) + 7.2 * m**0.5 - (2.0 - 17.0 * n) * m + 3.6 * m**1.5 - 0.8 * m * m
        )
    return float(knife_edge_loss_db(diffraction_parameter(height_m, d1_km, d2_km, wavelength_m)) + t_db)

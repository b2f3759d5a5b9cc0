"""ITM: the air's refractivity, the effective earth and the ground's impedance."""

from __future__ import annotations

import cmath
import math
from typing import NamedTuple

from numba.extending import register_jitable

WAVENUMBER_DIVISOR = 47.7  # k = f/47.7, 1/m with f in MHz
DB_PER_NEPER = 10.0 / math.log(10.0)  # of power


class Wave(NamedTuple):
    """What depends on the frequency and the ground alone: worked out once for all paths that share them.

    f MHz; k wave number, 1/m; cube_root_f, ln_f : of f; Z_g : ground impedance, abs_Z_g its magnitude.
    """

    f: float
    k: float
    cube_root_f: float
    ln_f: float
    Z_g: complex
    abs_Z_g: float


@register_jitable
def wave_of(
    frequency_mhz: float, relative_permittivity: float, conductivity_s_per_m: float, vertical: bool
) -> Wave:
    """The `Wave` of a frequency over a ground. Source : Algorithm, section 1."""
    Z_g = ground_impedance(frequency_mhz, relative_permittivity, conductivity_s_per_m, vertical)
    return Wave(
        frequency_mhz,
        frequency_mhz / WAVENUMBER_DIVISOR,
        frequency_mhz ** (1.0 / 3.0),
        math.log(frequency_mhz),
        Z_g,
        abs(Z_g),
    )


@register_jitable
def decibels(power_ratio: float) -> float:
    """10 log10 of a ratio, by the faster natural logarithm."""
    return DB_PER_NEPER * math.log(power_ratio)


@register_jitable
def surface_refractivity(N_0: float, h_sys_m: float) -> float:
    """Refractivity of the air at the path's mean elevation, N-units.

    N_0 : refractivity reduced to sea level; h_sys_m : mean elevation of the path's middle 80 %.
    Source : TN101 eq. (4.3); ITM 1.2.2.
    """
    if h_sys_m == 0.0:
        return N_0
    return N_0 * math.exp(-h_sys_m / 9460.0)


@register_jitable
def effective_earth_radius_m(N_s: float) -> float:
    """Radius of the earth over which rays run straight, m; 301 N-units give 8 492 463 m.

    Source : TN101 eq. (4.4), curvature 157e-9 /m of the true earth; ITM 1.2.2.
    """
    curvature = 157e-9 * (1.0 - 0.04665 * math.exp(N_s / 179.3))
    return 1.0 / curvature


@register_jitable
def ground_impedance(
    frequency_mhz: float, relative_permittivity: float, conductivity_s_per_m: float, vertical: bool
) -> complex:
    """Surface transfer impedance Z_g of the ground relative to free space, complex, without unit.

    Source : Algorithm, section 1 (Z_g); ITM 1.2.2.
    """
    epsilon = complex(relative_permittivity, 18000.0 * conductivity_s_per_m / frequency_mhz)
    Z_g = cmath.sqrt(epsilon - 1.0)
    if vertical:
        Z_g = Z_g / epsilon
    return Z_g


@register_jitable
def itm_free_space_db(distance_m: float, frequency_mhz: float) -> float:
    """Free-space basic transmission loss, dB, with the constant the model uses (32.45; exact is 32.4478).

    Source : ITM 1.2.2; Rec. ITU-R P.525 has 32.4, rounded.
    """
    return float(32.45 + 2.0 * decibels(frequency_mhz * (distance_m / 1000.0)))

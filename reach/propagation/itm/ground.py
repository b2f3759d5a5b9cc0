"""ITM: the air's refractivity, the effective earth and the ground's impedance."""

from __future__ import annotations

import cmath
import math

from numba.extending import register_jitable


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
    return 32.45 + 20.0 * math.log10(frequency_mhz) + 20.0 * math.log10(distance_m / 1000.0)

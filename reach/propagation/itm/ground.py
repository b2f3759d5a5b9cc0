"""ITM: the air's refractivity, the effective earth and the ground's impedance."""

from __future__ import annotations

import math
from typing import NamedTuple, overload

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

WAVENUMBER_DIVISOR = 47.7  # k = f/47.7, 1/m with f in MHz
DB_PER_NEPER = 10.0 / math.log(10.0)  # of power


class Wave(NamedTuple):
    """What depends on the frequency and the ground alone: worked out once for all paths that share them.

    f MHz; k wave number, 1/m; cube_root_f, ln_f : of f; Z_real, Z_imag, Z_abs : of the ground impedance Z_g.
    """

    f: float
    k: float
    cube_root_f: float
    ln_f: float
    Z_real: float
    Z_imag: float
    Z_abs: float


def waves_of(
    frequency_mhz: FloatArray, relative_permittivity: float, conductivity_s_per_m: float, vertical: bool
) -> FloatArray:
    """The fields of `Wave` in columns (frequencies, 7), for frequencies (frequencies,) over one ground.

    Source : Algorithm, section 1.
    """
    Z_g = ground_impedance(frequency_mhz, relative_permittivity, conductivity_s_per_m, vertical)
    f = frequency_mhz
    return np.stack([f, f / WAVENUMBER_DIVISOR, np.cbrt(f), np.log(f), Z_g.real, Z_g.imag, abs(Z_g)], axis=1)


@register_jitable
def wave_of(waves: FloatArray, i: int) -> Wave:
    """Row i of `waves_of`."""
    return Wave(waves[i, 0], waves[i, 1], waves[i, 2], waves[i, 3], waves[i, 4], waves[i, 5], waves[i, 6])


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


@overload
def ground_impedance(
    frequency_mhz: float, relative_permittivity: float, conductivity_s_per_m: float, vertical: bool
) -> complex: ...
@overload
def ground_impedance(
    frequency_mhz: FloatArray, relative_permittivity: float, conductivity_s_per_m: float, vertical: bool
) -> NDArray[np.complex128]: ...
def ground_impedance(
    frequency_mhz: float | FloatArray,
    relative_permittivity: float,
    conductivity_s_per_m: float,
    vertical: bool,
) -> complex | NDArray[np.complex128]:
    """Surface transfer impedance Z_g of the ground relative to free space, complex, without unit.

    Source : Algorithm, section 1 (Z_g); ITM 1.2.2.
    """
    epsilon = relative_permittivity + 1j * (18000.0 * conductivity_s_per_m / frequency_mhz)
    Z_g = np.sqrt(epsilon - 1.0)
    return Z_g / epsilon if vertical else Z_g


@register_jitable
def itm_free_space_db(distance_m: float, frequency_mhz: float) -> float:
    """Free-space basic transmission loss, dB, with the constant the model uses (32.45; exact is 32.4478).

    Source : ITM 1.2.2; Rec. ITU-R P.525 has 32.4, rounded.
    """
    return float(32.45 + 2.0 * decibels(frequency_mhz * (distance_m / 1000.0)))

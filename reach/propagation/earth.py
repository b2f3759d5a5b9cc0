"""The bent Earth under a path: effective radius, k-factor, bulge."""

from __future__ import annotations

from numba.extending import register_jitable

from reach.units import Number

EARTH_RADIUS_KM = 6371.0  # Rec. ITU-R P.1812-7, 3.7; P.526-15, 2 (mean radius)
STANDARD_K_FACTOR = 4.0 / 3.0  # common practice; a median lapse rate of 39 N/km


def effective_radius_km(k_factor: float) -> float:
    """Effective Earth radius, km, for a k-factor; 4/3 gives 8495 km, which P.526 rounds to 8500."""
    return EARTH_RADIUS_KM * k_factor


def median_k_factor(lapse_rate_n_per_km: float) -> float:
    """Median k-factor of an average refractivity lapse rate DN, N/km, positive and below 157.

    Source : Rec. ITU-R P.1812-7, 3.7, eq. (6).
    """
    return 157.0 / (157.0 - lapse_rate_n_per_km)


@register_jitable
def earth_bulge_m(d1_km: Number, d2_km: Number, effective_radius_km: Number) -> Number:
    """Height of the bent Earth above the chord, m, at d1_km from one end and d2_km from the other.

    Floats or arrays. Source : parabolic approximation 500 d1 d2 / a_e used throughout P.526 and P.1812.
    """
    return 500.0 * d1_km * d2_km / effective_radius_km

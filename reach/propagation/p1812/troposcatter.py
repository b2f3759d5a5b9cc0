# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Tropospheric scatter. Rec. ITU-R P.1812-7, section 4.4."""

from __future__ import annotations

import math

from numba.extending import register_jitable


@register_jitable
def troposcatter_loss_db(
    d_km: float,
    path_angle_mrad: float,
    frequency_ghz: float,
    sea_level_refractivity_n: float,
    time_percent: float,
) -> float:
    """Lbs, dB, not exceeded for time_percent (at most 50). Source : P.1812-7, eqs (44), (45)."""
    frequency_db = 25.0 * math.log10(frequency_ghz) - 2.5 * math.log10(0.5 * frequency_ghz) ** 2  # (45)
    return (
        190.1
        + frequency_db
        + 20.0 * math.log10(d_km)
        + 0.573 * path_angle_mrad
        - 0.15 * sea_level_refractivity_n
        - 10.125 * math.log10(50.0 / time_percent) ** 0.7
    )  # (44)

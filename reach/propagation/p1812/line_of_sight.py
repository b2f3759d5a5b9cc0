"""Line-of-sight loss with multipath and focusing. Rec. ITU-R P.1812-7, section 4.2."""

from __future__ import annotations

import math
from typing import NamedTuple

from numba.extending import register_jitable


class LineOfSight(NamedTuple):
    """Lbfs; Lb0p for p % of time; Lb0b for beta0 % of time, dB."""

    free_space_db: float
    time_db: float
    beta0_db: float


@register_jitable
def line_of_sight(
    d_km: float,
    tx_asl_m: float,
    rx_asl_m: float,
    frequency_ghz: float,
    dlt_km: float,
    dlr_km: float,
    time_percent: float,
    beta0_percent: float,
) -> LineOfSight:
    """LineOfSight of a path. Source : P.1812-7, eqs (8) to (11); the printed constant 92.4."""
    slant_km = math.sqrt(d_km * d_km + (1e-3 * (tx_asl_m - rx_asl_m)) ** 2)  # (8a)
    free_space_db = 92.4 + 20.0 * math.log10(frequency_ghz) + 20.0 * math.log10(slant_km)  # (8)
    fading = 2.6 * (1.0 - math.exp(-0.1 * (dlt_km + dlr_km)))
    time_db = free_space_db + fading * math.log10(time_percent / 50.0)  # (9a), (10)
    beta0_db = free_space_db + fading * math.log10(beta0_percent / 50.0)  # (9b), (11)
    return LineOfSight(free_space_db, time_db, beta0_db)

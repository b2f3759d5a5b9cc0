"""Putting the mechanisms together. Rec. ITU-R P.1812-7, section 4.6."""

from __future__ import annotations

import math
from typing import NamedTuple

from numba.extending import register_jitable

from reach.propagation.p1812.diffraction import Diffraction
from reach.propagation.p1812.line_of_sight import LineOfSight


class Combination(NamedTuple):
    """Fj, Fk; Lbd50, Lbd, Lminb0p, Lminbap, Lbda, Lbam and Lbc, dB."""

    fj: float
    fk: float
    lbd50_db: float
    lbd_db: float
    lminb0p_db: float
    lminbap_db: float
    lbda_db: float
    lbam_db: float
    lbc_db: float


@register_jitable
def combination(
    d_km: float,
    path_angle_mrad: float,
    sea_share: float,
    sight: LineOfSight,
    diffraction: Diffraction,
    ducting_db: float,
    troposcatter_db: float,
    time_percent: float,
    beta0_percent: float,
) -> Combination:
    """Combination of LineOfSight, Diffraction and the two other losses.

    Source : P.1812-7, eqs (42), (43), (57) to (63).
    """
    fj = 1.0 - 0.5 * (1.0 + math.tanh(3.0 * 0.8 * (path_angle_mrad - 0.3) / 0.3))  # (57)
    fk = 1.0 - 0.5 * (1.0 + math.tanh(3.0 * 0.5 * (d_km - 20.0) / 20.0))  # (58)
    lbd50_db = sight.free_space_db + diffraction.median.loss_db  # (42)
    lbd_db = sight.time_db + diffraction.time_db  # (43)
    over_land_db = (1.0 - sea_share) * diffraction.time_db
    if time_percent < beta0_percent:  # (59)
        lminb0p_db = sight.time_db + over_land_db
    else:
        lminb0p_db = lbd50_db + (sight.beta0_db + over_land_db - lbd50_db) * diffraction.interpolation
    lminbap_db = 2.5 * _log_add(ducting_db / 2.5, sight.time_db / 2.5)  # (60)
    if lminbap_db > lbd_db:  # (61)
        lbda_db = lbd_db
    else:
        lbda_db = lminbap_db + (lbd_db - lminbap_db) * fk
    lbam_db = lbda_db + (lminb0p_db - lbda_db) * fj  # (62)
    lbc_db = (
        -2.5 * _log_add(-troposcatter_db / 2.5 * _LN10_HALF, -lbam_db / 2.5 * _LN10_HALF) / _LN10_HALF
    )  # (63)
    return Combination(fj, fk, lbd50_db, lbd_db, lminb0p_db, lminbap_db, lbda_db, lbam_db, lbc_db)


_LN10_HALF = 0.5 * math.log(10.0)  # 10^(-0.2 L) = exp(-L/2.5 * ln(10)/2)


@register_jitable
def _log_add(a: float, b: float) -> float:
    """ln(exp a + exp b) without overflow."""
    high = max(a, b)
    return high + math.log1p(math.exp(min(a, b) - high))

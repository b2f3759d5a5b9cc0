"""Diffraction and its change with time. Rec. ITU-R P.1812-7, section 4.3."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.delta_bullington import delta_bullington_parts
from reach.propagation.p1812.parameters import BETA0_EARTH_RADIUS_KM
from reach.propagation.p1812.variability import inverse_normal
from reach.propagation.smooth_earth import DiffractionConstants

FloatArray = NDArray[np.float64]


class DiffractionRun(NamedTuple):
    """Ld with its parts Lbulla, Lbulls, Ldsph, dB, for one effective radius."""

    loss_db: float
    bullington_db: float
    smooth_bullington_db: float
    smooth_earth_db: float


class Diffraction(NamedTuple):
    """Median run, run at beta0 (repeats the median one when p is 50), Fi, and Ldp."""

    median: DiffractionRun
    beta0: DiffractionRun
    interpolation: float
    time_db: float


@register_jitable
def diffraction(
    distance_m: FloatArray,
    surface_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    hstd_m: float,
    hsrd_m: float,
    effective_radius_km: float,
    frequency_ghz: float,
    sea_share: float,
    polarisation: int,
    constants: DiffractionConstants,
    time_percent: float,
    beta0_percent: float,
) -> Diffraction:
    """Diffraction of a path. Source : P.1812-7, 4.3.4 and 4.3.5, eqs (39) to (41)."""
    radius_km = effective_radius_km
    first = DiffractionRun(0.0, 0.0, 0.0, 0.0)
    run = first
    for turn in range(2):  # one call site, so that the formulas are compiled once
        run = DiffractionRun(
            *delta_bullington_parts(
                distance_m,
                surface_m,
                tx_asl_m,
                rx_asl_m,
                hstd_m,
                hsrd_m,
                radius_km,
                frequency_ghz,
                sea_share,
                polarisation,
                constants,
            )
        )
        if turn == 0:
            first = run
            radius_km = BETA0_EARTH_RADIUS_KM
            if time_percent == 50.0:
                break
    interpolation = 1.0
    if time_percent > beta0_percent:
        interpolation = inverse_normal(time_percent / 100.0) / inverse_normal(beta0_percent / 100.0)  # (40a)
    time_db = first.loss_db + (run.loss_db - first.loss_db) * interpolation  # (41)
    return Diffraction(first, run, interpolation, time_db)

"""Delta-Bullington diffraction, Rec. ITU-R P.526: Bullington plus what that misses over smooth Earth."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.bullington import bullington_loss_db, smooth_bullington_loss_db
from reach.propagation.profile_scan import obstruction, path_surface, share_over_sea, smooth_surface
from reach.propagation.smooth_earth import DiffractionConstants, smooth_earth_loss_db

FloatArray = NDArray[np.float64]


class DeltaBullington(NamedTuple):
    """Parts of a delta-Bullington loss against free space, dB.

    tx_smooth_m, rx_smooth_m : end heights of the smooth surface, m above sea level.
    """

    loss_db: float
    bullington_db: float
    smooth_bullington_db: float
    smooth_earth_db: float
    tx_smooth_m: float
    rx_smooth_m: float


@register_jitable
def diffraction_ends(
    distance_m: FloatArray, ground_m: FloatArray, tx_asl_m: float, rx_asl_m: float, hst_m: float, hsr_m: float
) -> tuple[float, float]:
    """End heights of the smooth surface for diffraction, hstd and hsrd, m above sea level.

    hst_m, hsr_m : the fitted line's ends. Source : P.1812-7, Attachment 1, eqs (89) to (91); P.526-15, 4.5.
    """
    hobs, from_tx, from_rx = obstruction(distance_m, ground_m, tx_asl_m, rx_asl_m)
    if hobs > 0.0:
        hst_m -= hobs * from_tx / (from_tx + from_rx)
        hsr_m -= hobs * from_rx / (from_tx + from_rx)
    return min(hst_m, ground_m[0]), min(hsr_m, ground_m[ground_m.size - 1])


@register_jitable
def delta_bullington_parts(
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
) -> tuple[float, float, float, float]:
    """Loss, and its three parts: Lbulla, Lbulls, Ldsph; dB against free space.

    Source : P.1812-7, 4.3.4, eqs (37) to (39); P.526-15, 4.5.
    """
    wavelength_m = constants.wave_m_ghz / frequency_ghz
    d_km = distance_m[distance_m.size - 1] * 1e-3
    actual_db = bullington_loss_db(
        distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km, wavelength_m
    )
    tx_m = tx_asl_m - hstd_m  # (37a)
    rx_m = rx_asl_m - hsrd_m  # (37b)
    smooth_db = smooth_bullington_loss_db(distance_m, tx_m, rx_m, effective_radius_km, wavelength_m)
    sphere_db = smooth_earth_loss_db(
        d_km, tx_m, rx_m, effective_radius_km, frequency_ghz, sea_share, polarisation, constants
    )
    return actual_db + max(sphere_db - smooth_db, 0.0), actual_db, smooth_db, sphere_db  # (39)


@register_jitable
def delta_bullington(
    distance_m: FloatArray,
    ground_m: FloatArray,
    clutter_m: FloatArray,
    zone: NDArray[np.int8],
    tx_height_m: float,
    rx_height_m: float,
    effective_radius_km: float,
    frequency_ghz: float,
    polarisation: int,
    constants: DiffractionConstants,
) -> DeltaBullington:
    """DeltaBullington of one path: arrays (n,); antenna heights above ground, m; effective radius, km."""
    tx_asl_m = ground_m[0] + tx_height_m
    rx_asl_m = ground_m[ground_m.size - 1] + rx_height_m
    hst_m, hsr_m = smooth_surface(distance_m, ground_m)
    hstd_m, hsrd_m = diffraction_ends(distance_m, ground_m, tx_asl_m, rx_asl_m, hst_m, hsr_m)
    loss_db, actual_db, smooth_db, sphere_db = delta_bullington_parts(
        distance_m,
        path_surface(ground_m, clutter_m),
        tx_asl_m,
        rx_asl_m,
        hstd_m,
        hsrd_m,
        effective_radius_km,
        frequency_ghz,
        share_over_sea(distance_m, zone),
        polarisation,
        constants,
    )
    return DeltaBullington(loss_db, actual_db, smooth_db, sphere_db, hstd_m, hsrd_m)

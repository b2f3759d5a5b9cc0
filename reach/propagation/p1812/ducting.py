# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Ducting and reflection from elevated layers. Rec. ITU-R P.1812-7, section 4.5."""

from __future__ import annotations

import math

from numba.extending import register_jitable

from reach.propagation.p1812.geometry import Horizons, SmoothSurfaces
from reach.propagation.p1812.parameters import PathZones

SHARE_ROUNDING = 1e-9  # three quarters of a path at sea are that from either end, however its sum rounds


@register_jitable
def ducting_loss_db(
    zones: PathZones,
    horizons: Horizons,
    surfaces: SmoothSurfaces,
    d_km: float,
    tx_asl_m: float,
    rx_asl_m: float,
    radius_km: float,
    frequency_ghz: float,
    tau: float,
    beta0: float,
    p: float,
) -> float:
    """Lba, dB, for p per cent of time.

    zones, horizons, surfaces : PathZones, Horizons, SmoothSurfaces; tau of eq. (3); beta0 in per cent.
    Source : P.1812-7, eqs (46) to (56).
    """
    dlt_km = horizons.tx_horizon_km
    dlr_km = horizons.rx_horizon_km
    coupling_db = (
        102.45
        + 20.0 * math.log10(frequency_ghz)
        + 20.0 * math.log10(dlt_km + dlr_km)
        + low_band_loss_db(frequency_ghz)
        + _site_shielding_db(horizons.tx_angle_mrad, dlt_km, frequency_ghz)
        + _site_shielding_db(horizons.rx_angle_mrad, dlr_km, frequency_ghz)
        + _over_sea_coupling_db(zones.sea_share, zones.tx_coast_km, dlt_km, tx_asl_m)
        + _over_sea_coupling_db(zones.sea_share, zones.rx_coast_km, dlr_km, rx_asl_m)
    )  # (47)
    per_mrad_db = 5e-5 * radius_km * frequency_ghz ** (1.0 / 3.0)  # (51)
    angle_mrad = (
        1e3 * d_km / radius_km
        + min(horizons.tx_angle_mrad, 0.1 * dlt_km)
        + min(horizons.rx_angle_mrad, 0.1 * dlr_km)
    )  # (52), (52a)
    beta = beta0 * _path_geometry_factor(surfaces, d_km, radius_km, tau)
    beta *= _roughness_factor(surfaces.hm_m, min(d_km - dlt_km - dlr_km, 40.0))  # (54), (56a)
    return coupling_db + per_mrad_db * angle_mrad + time_loss_db(d_km, beta, p)  # (46), (50)


@register_jitable
def low_band_loss_db(frequency_ghz: float) -> float:
    """Alf, eq. (47a)."""
    if frequency_ghz < 0.5:
        return 45.375 - 137.0 * frequency_ghz + 92.5 * frequency_ghz * frequency_ghz
    return 0.0


@register_jitable
def _site_shielding_db(angle_mrad: float, horizon_km: float, frequency_ghz: float) -> float:
    """Ast or Asr, eqs (48), (48a)."""
    above_mrad = angle_mrad - 0.1 * horizon_km
    if above_mrad <= 0.0:
        return 0.0
    spread_db = 20.0 * math.log10(1.0 + 0.361 * above_mrad * math.sqrt(frequency_ghz * horizon_km))
    return spread_db + 0.264 * above_mrad * frequency_ghz ** (1.0 / 3.0)


@register_jitable
def _over_sea_coupling_db(
    sea_share: float, coast_km: float, horizon_km: float, antenna_asl_m: float
) -> float:
    """Act or Acr, eq. (49)."""
    if sea_share >= 0.75 - SHARE_ROUNDING and coast_km <= horizon_km and coast_km <= 5.0:
        return -3.0 * math.exp(-0.25 * coast_km * coast_km) * (1.0 + math.tanh(0.07 * (50.0 - antenna_asl_m)))
    return 0.0


@register_jitable
def _path_geometry_factor(surfaces: SmoothSurfaces, d_km: float, radius_km: float, tau: float) -> float:
    """mu2, eqs (55), (55a); at most 1."""
    alpha = max(-0.6 - 3.5e-9 * d_km**3.1 * tau, -3.4)
    roots = math.sqrt(surfaces.hte_m) + math.sqrt(surfaces.hre_m)
    return min((500.0 * d_km * d_km / (radius_km * roots * roots)) ** alpha, 1.0)


@register_jitable
def _roughness_factor(hm_m: float, between_km: float) -> float:
    """mu3, eq. (56)."""
    if hm_m <= 10.0:
        return 1.0
    return math.exp(-4.6e-5 * (hm_m - 10.0) * (43.0 + 6.0 * between_km))


@register_jitable
def time_loss_db(d_km: float, beta: float, p: float) -> float:
    """A(p), eqs (53), (53a)."""
    log_beta = math.log10(beta)
    gamma = (
        1.076
        / (2.0058 - log_beta) ** 1.012
        * math.exp(-(9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * 1e-6 * d_km**1.13)
    )
    return -12.0 + (1.2 + 3.7e-3 * d_km) * math.log10(p / beta) + 12.0 * (p / beta) ** gamma

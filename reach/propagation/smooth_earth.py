# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Diffraction over a smooth spherical Earth, Rec. ITU-R P.526 section 3 and P.1812 section 4.3.2.

The two Recommendations print the same formulas with differently rounded constants; `DiffractionConstants`
holds one set, and the two in use are `P526` and `P1812`.
"""

from __future__ import annotations

import math
from typing import NamedTuple

from numba.extending import register_jitable

from reach.units import SPEED_OF_LIGHT_M_PER_S

LAND_PERMITTIVITY, LAND_CONDUCTIVITY = 22.0, 0.003  # P.1812-7, 4.3.3; conductivity in S/m
SEA_PERMITTIVITY, SEA_CONDUCTIVITY = 80.0, 5.0

BETA_IS_ONE, BETA_BY_BAND, BETA_BY_FORMULA = 0, 1, 2


class DiffractionConstants(NamedTuple):
    """Constants of the diffraction formulas in practical units (GHz, km, m).

    wave_m_ghz : wavelength times frequency.
    x_factor, y_factor, k_factor : before beta (f/a^2)^(1/3) d, beta (f^2/a)^(1/3) h and (a f)^(-1/3).
    conductivity_factor : before sigma/f.
    clearance_factor : before sqrt(d1 d2 lambda/d), for the height free of diffraction.
    beta_rule : BETA_IS_ONE; BETA_BY_BAND: 1 for horizontal polarisation and for vertical above 20 MHz over
        land or 300 MHz over sea (P.526-15, 3.1.1.1), else the formula; BETA_BY_FORMULA: always the formula
        (P.1812).
    """

    wave_m_ghz: float
    x_factor: float
    y_factor: float
    k_factor: float
    conductivity_factor: float
    clearance_factor: float
    beta_rule: int


def exact_constants(wave_m_ghz: float, beta_rule: int) -> DiffractionConstants:
    """Unrounded constants for a given speed of light (wave_m_ghz = 0.299792458 for the true one).

    Source : P.526-15, 3.1.1.2, self-consistent units: X = beta (pi/(lambda a^2))^(1/3) d,
        Y = 2 beta (pi^2/(lambda^2 a))^(1/3) h, K_H = (2 pi a/lambda)^(-1/3) [...]^(-1/4).
    """
    return DiffractionConstants(
        wave_m_ghz=wave_m_ghz,
        x_factor=10.0 * (math.pi / wave_m_ghz) ** (1.0 / 3.0),
        y_factor=0.2 * (math.pi / wave_m_ghz) ** (2.0 / 3.0),
        k_factor=(2000.0 * math.pi / wave_m_ghz) ** (-1.0 / 3.0),
        conductivity_factor=60.0 * wave_m_ghz,
        clearance_factor=0.552 * math.sqrt(1000.0),
        beta_rule=beta_rule,
    )


P526 = exact_constants(SPEED_OF_LIGHT_M_PER_S * 1e-9, BETA_BY_BAND)
P1812 = DiffractionConstants(0.2998, 21.88, 0.9575, 0.036, 18.0, 17.456, BETA_BY_FORMULA)


@register_jitable
def distance_term_db(x: float) -> float:
    """F(X), dB. Source : P.1812-7, eq. (33); P.526-15, 3.1.1.2, eqs (17)."""
    if x >= 1.6:
        return 11.0 + 10.0 * math.log10(x) - 17.6 * x
    return -20.0 * math.log10(x) - 5.6488 * x**1.425


@register_jitable
def height_gain_db(y: float, beta: float, k: float) -> float:
    """G(Y), dB, never below 2 + 20 log K. Source : P.1812-7, eqs (34), (35); P.526-15, 3.1.1.2, eqs (18)."""
    b = beta * y
    if b > 2.0:
        gain_db = 17.6 * math.sqrt(b - 1.1) - 5.0 * math.log10(b - 1.1) - 8.0
    else:
        gain_db = 20.0 * math.log10(b + 0.1 * b * b * b)
    return max(gain_db, 2.0 + 20.0 * math.log10(k))


@register_jitable
def surface_admittance(
    radius_km: float,
    frequency_ghz: float,
    permittivity: float,
    conductivity: float,
    polarisation: int,
    constants: DiffractionConstants,
) -> float:
    """Normalised surface admittance K; polarisation 0 horizontal, 1 vertical.

    Source : P.1812-7, eqs (29a), (29b).
    """
    loss = constants.conductivity_factor * conductivity / frequency_ghz
    k = constants.k_factor * (radius_km * frequency_ghz) ** (-1.0 / 3.0)
    k *= ((permittivity - 1.0) ** 2 + loss * loss) ** -0.25
    if polarisation == 1:
        k *= math.sqrt(permittivity**2 + loss * loss)
    return k


@register_jitable
def first_term_over_ground_db(
    d_km: float,
    tx_m: float,
    rx_m: float,
    radius_km: float,
    frequency_ghz: float,
    permittivity: float,
    conductivity: float,
    polarisation: int,
    constants: DiffractionConstants,
    beta_is_one: bool,
) -> float:
    """First term of the residue series over one kind of ground, dB. Source : P.1812-7, eqs (29) to (36)."""
    k = surface_admittance(radius_km, frequency_ghz, permittivity, conductivity, polarisation, constants)
    beta = 1.0
    if not beta_is_one:
        k2 = k * k
        beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2)  # (30)
    x = constants.x_factor * beta * (frequency_ghz / (radius_km * radius_km)) ** (1.0 / 3.0) * d_km  # (31)
    y = (
        constants.y_factor * beta * (frequency_ghz * frequency_ghz / radius_km) ** (1.0 / 3.0)
    )  # (32), per metre
    return (
        -distance_term_db(x) - height_gain_db(y * tx_m, beta, k) - height_gain_db(y * rx_m, beta, k)
    )  # (36)


@register_jitable
def first_term_db(
    d_km: float,
    tx_m: float,
    rx_m: float,
    radius_km: float,
    frequency_ghz: float,
    sea_share: float,
    polarisation: int,
    constants: DiffractionConstants,
) -> float:
    """First term over mixed land and sea, dB; may be negative. Source : P.1812-7, 4.3.3, eq. (28)."""
    rule = constants.beta_rule
    loss_db = 0.0
    if sea_share < 1.0:
        one = rule == BETA_IS_ONE or (rule == BETA_BY_BAND and (polarisation == 0 or frequency_ghz > 0.02))
        loss_db += (1.0 - sea_share) * first_term_over_ground_db(
            d_km,
            tx_m,
            rx_m,
            radius_km,
            frequency_ghz,
            LAND_PERMITTIVITY,
            LAND_CONDUCTIVITY,
            polarisation,
            constants,
            one,
        )
    if sea_share > 0.0:
        one = rule == BETA_IS_ONE or (rule == BETA_BY_BAND and (polarisation == 0 or frequency_ghz > 0.3))
        loss_db += sea_share * first_term_over_ground_db(
            d_km,
            tx_m,
            rx_m,
            radius_km,
            frequency_ghz,
            SEA_PERMITTIVITY,
            SEA_CONDUCTIVITY,
            polarisation,
            constants,
            one,
        )
    return loss_db


@register_jitable
def smooth_earth_loss_db(
    d_km: float,
    tx_m: float,
    rx_m: float,
    radius_km: float,
    frequency_ghz: float,
    sea_share: float,
    polarisation: int,
    constants: DiffractionConstants,
) -> float:
    """Spherical-Earth diffraction loss against free space, dB.

    tx_m, rx_m : antenna heights above the smooth surface, above zero; radius_km : effective Earth radius;
    sea_share : 0 to 1; polarisation : 0 horizontal, 1 vertical; constants : DiffractionConstants.
    Beyond the horizon the first term stands as it is and may be slightly negative.
    Source : P.1812-7, 4.3.2, eqs (22) to (27); P.526-15, 3.2.
    """
    horizon_km = math.sqrt(2.0 * radius_km) * (math.sqrt(0.001 * tx_m) + math.sqrt(0.001 * rx_m))  # (22)
    if d_km >= horizon_km:
        return first_term_db(d_km, tx_m, rx_m, radius_km, frequency_ghz, sea_share, polarisation, constants)
    c = (tx_m - rx_m) / (tx_m + rx_m)  # (24d)
    m = 250.0 * d_km * d_km / (radius_km * (tx_m + rx_m))  # (24e)
    cosine = 1.5 * c * math.sqrt(3.0 * m / (m + 1.0) ** 3)
    cosine = min(1.0, max(-1.0, cosine))
    b = 2.0 * math.sqrt((m + 1.0) / (3.0 * m)) * math.cos(math.pi / 3.0 + math.acos(cosine) / 3.0)  # (24c)
    d1_km = 0.5 * d_km * (1.0 + b)  # (24a)
    d2_km = d_km - d1_km  # (24b)
    clearance_m = (
        (tx_m - 500.0 * d1_km * d1_km / radius_km) * d2_km
        + (rx_m - 500.0 * d2_km * d2_km / radius_km) * d1_km
    ) / d_km  # (23)
    wavelength_m = constants.wave_m_ghz / frequency_ghz
    wanted_m = constants.clearance_factor * math.sqrt(d1_km * d2_km * wavelength_m / d_km)  # (25)
    if clearance_m > wanted_m:
        return 0.0
    grazing_radius_km = 500.0 * (d_km / (math.sqrt(tx_m) + math.sqrt(rx_m))) ** 2  # (26)
    loss_db = first_term_db(
        d_km, tx_m, rx_m, grazing_radius_km, frequency_ghz, sea_share, polarisation, constants
    )
    return (1.0 - clearance_m / wanted_m) * max(loss_db, 0.0)  # (27)

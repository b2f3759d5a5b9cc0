"""Unit conversions: arithmetic only, on floats or arrays alike.

Source of the constants: definitions, unless a line says otherwise.
"""

from __future__ import annotations

import math
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Number = TypeVar("Number", float, NDArray[np.float64])

SPEED_OF_LIGHT_M_PER_S = 299_792_458.0
METRES_PER_FOOT = 0.3048
METRES_PER_MILE = 1609.344  # international
DIPOLE_GAIN_DBI = 2.15  # half-wave dipole; ITU-R V.573 (10 log10 1.64)
DBM_OF_ONE_MICROVOLT_50_OHM = -10.0 * math.log10(50.0) - 90.0  # 1 uV across 50 ohm = -106.99 dBm


def wavelength_m(frequency_mhz: Number) -> Number:
    """Wavelength in vacuum, m, of a frequency in MHz."""
    return SPEED_OF_LIGHT_M_PER_S / (frequency_mhz * 1e6)


def watts_to_dbm(power_w: Number) -> Number:
    """Power in W (above zero) as dBm."""
    level_dbm: Number = 10.0 * np.log10(power_w) + 30.0
    return level_dbm


def dbm_to_watts(power_dbm: Number) -> Number:
    """Power in dBm as W."""
    result_w: Number = 10.0 ** ((power_dbm - 30.0) / 10.0)
    return result_w


def power_in_words(power_dbm: float) -> str:
    """A power as people say it, e.g. '50 W', '500 mW' or '1500 W'; three figures."""
    power_w = float(dbm_to_watts(power_dbm))
    if power_w < 1.0:
        return f"{power_w * 1000.0:.3g} mW"
    return f"{power_w:.0f} W" if power_w >= 100.0 else f"{power_w:.3g} W"


def figure(value: float, digits: int = 6) -> str:
    """A number as people write it: so many significant digits, never a power of ten; '5,000,000', '0.5'."""
    if not math.isfinite(value):
        return str(value)
    rounded = float(f"{value:.{digits}g}")
    if abs(rounded) >= 10.0**digits:
        return f"{rounded:,.0f}"
    text = f"{rounded:.{digits}g}"
    if "e" not in text:
        return text
    smallest = digits + 5
    return f"{rounded:.{smallest}f}".rstrip("0").rstrip(".") if abs(rounded) >= 10.0**-smallest else "0"


def mhz_in_words(frequency_mhz: float) -> str:
    """'146.520 MHz'; a fourth decimal only where there is one, as on channels 12.5 kHz apart."""
    return f"{frequency_mhz:.4f}".removesuffix("0") + " MHz"


def metres_in_words(length_m: float) -> str:
    """A height, or what is usually said in metres: '8 m', '12.2 m', '3000 m'."""
    return f"{figure(length_m)} m"


def length_in_words(length_m: float) -> str:
    """A distance: '350 m', and from a thousand metres '1.5 km', '5000 km'."""
    return f"{figure(length_m / 1000.0)} km" if length_m >= 1000.0 else metres_in_words(length_m)


def dbm_to_microvolts(power_dbm: Number) -> Number:
    """Power in dBm as the voltage across 50 ohm, in uV (terminal voltage, not e.m.f.)."""
    result_uv: Number = 10.0 ** ((power_dbm - DBM_OF_ONE_MICROVOLT_50_OHM) / 20.0)
    return result_uv


def microvolts_to_dbm(voltage_uv: Number) -> Number:
    """Terminal voltage across 50 ohm in uV (above zero) as dBm."""
    level_dbm: Number = 20.0 * np.log10(voltage_uv) + DBM_OF_ONE_MICROVOLT_50_OHM
    return level_dbm


def dbd_to_dbi(gain_dbd: Number) -> Number:
    """Gain over a half-wave dipole (dBd) as gain over an isotropic antenna (dBi)."""
    return gain_dbd + DIPOLE_GAIN_DBI

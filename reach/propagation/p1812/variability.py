# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Spread over time and places, and building entry. P.1812-7, 4.7 to 4.9 and Attachment 2; P.2109."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

from numba.extending import register_jitable

from reach.errors import OutOfRange


@register_jitable
def inverse_normal(x: float) -> float:
    """I(x), inverse complementary cumulative normal, 1e-6 <= x <= 1 - 1e-6; beyond, the value at the bound.

    Source : P.1812-7, Attachment 2, eqs (96) to (98); C0 with the digits that make I(0.5) vanish.
    """
    x = min(max(x, 1e-6), 1.0 - 1e-6)
    tail = min(x, 1.0 - x)
    t = math.sqrt(-2.0 * math.log(tail))
    c = ((0.010328 * t + 0.802853) * t + 2.515516698) / (((0.001308 * t + 0.189269) * t + 1.432788) * t + 1.0)
    return t - c if x <= 0.5 else c - t


@register_jitable
def location_loss_db(
    location_percent: float, sigma_db: float, entry_median_db: float, over_sea: bool
) -> float:
    """Lloc, dB: what locations add for location_percent of places, building entry included.

    sigma_db : of places and building entry together. Zero for a receiver at sea.
    Source : P.1812-7, 4.7 to 4.9, eqs (66) to (69).
    """
    if over_sea:
        return 0.0
    if location_percent == 50.0:
        return entry_median_db
    return entry_median_db - inverse_normal(location_percent / 100.0) * sigma_db


@register_jitable
def location_sigma_db(
    frequency_ghz: float, antenna_height_m: float, clutter_m: float, square_m: float
) -> float:
    """sigma_L, dB, of places within a square of side square_m around a receiver.

    antenna_height_m : above ground; clutter_m : representative clutter height there.
    Source : P.1812-7, 4.7 (from memory): u (0.52 + 0.024 f) w^0.28, u from 1 below the clutter to 0 ten
        metres above.
    """
    u = min(max(1.0 - (antenna_height_m - clutter_m) / 10.0, 0.0), 1.0)
    return u * (0.52 + 0.024 * frequency_ghz) * square_m**0.28


class Building(Enum):
    """Building classes of Rec. ITU-R P.2109."""

    TRADITIONAL = "traditional"
    THERMALLY_EFFICIENT = "thermally_efficient"


@dataclass(frozen=True)
class _EntryCoefficients:
    r: float
    s: float
    t: float
    u: float
    v: float
    w: float
    x: float
    y: float
    z: float


_ENTRY = {  # P.2109-1, Table 1 (from memory)
    Building.TRADITIONAL: _EntryCoefficients(12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0),
    Building.THERMALLY_EFFICIENT: _EntryCoefficients(28.19, -3.00, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1),
}
P2109_LOWEST_MHZ = 80.0


@dataclass(frozen=True)
class BuildingEntry:
    """Building entry as P.1812 combines it: median and standard deviation, dB."""

    median_db: float
    sigma_db: float


def horizontal_entry_loss_db(building: Building, frequency_mhz: float) -> float:
    """L_h, median loss through the facade at horizontal incidence, dB.

    Source : P.2109-1, section 3 (from memory).
    """
    c = _ENTRY[building]
    log_f = math.log10(frequency_mhz * 1e-3)
    return c.r + c.s * log_f + c.t * log_f * log_f


def entry_loss_db(
    building: Building, *, frequency_mhz: float, probability: float = 0.5, elevation_deg: float = 0.0
) -> float:
    """Building entry loss not exceeded with a probability over buildings and places inside, dB.

    elevation_deg : of the path at the facade. Valid 80 MHz to 100 GHz.
    Source : P.2109-1, section 3 (from memory): sum of powers of A(P), B(P) and -3 dB.
    Raises : OutOfRange for a probability not between 0 and 1.
    """
    if not 0.0 < probability < 1.0:
        raise OutOfRange(f"probability is {probability:g}; it must lie between 0 and 1")
    c = _ENTRY[building]
    log_f = math.log10(frequency_mhz * 1e-3)
    normal = -float(inverse_normal(probability))
    a_db = (
        normal * (c.u + c.v * log_f)
        + horizontal_entry_loss_db(building, frequency_mhz)
        + 0.212 * abs(elevation_deg)
    )
    b_db = normal * (c.y + c.z * log_f) + c.w + c.x * log_f
    return 10.0 * math.log10(10.0 ** (0.1 * a_db) + 10.0 ** (0.1 * b_db) + 10.0**-0.3)


def building_entry(building: Building, *, frequency_mhz: float, elevation_deg: float = 0.0) -> BuildingEntry:
    """P.2109 as median and spread: half the way between its 15.9 % and 84.1 % points stands for sigma."""
    low, median, high = (
        entry_loss_db(building, frequency_mhz=frequency_mhz, probability=share, elevation_deg=elevation_deg)
        for share in (0.158655, 0.5, 0.841345)
    )
    return BuildingEntry(median, 0.5 * (high - low))

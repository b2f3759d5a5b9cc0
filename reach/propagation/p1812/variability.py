# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Spread over time and places, and building entry. P.1812-7, 4.7 to 4.9 and Attachment 2; P.2109."""

from __future__ import annotations

import math
from dataclasses import dataclass

from numba.extending import register_jitable

from reach.propagation.building_entry import Building, building_entry_loss_db


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


@dataclass(frozen=True)
class BuildingEntry:
    """Building entry as P.1812 combines it: median and standard deviation, dB."""

    median_db: float
    sigma_db: float


def building_entry(building: Building, *, frequency_mhz: float, elevation_deg: float = 0.0) -> BuildingEntry:
    """P.2109 as median and spread: half the way between its 15.9 % and 84.1 % points stands for sigma.

    Raises : OutOfRange below 80 MHz, where P.2109 begins.
    Source : P.1812-7, 4.9, which asks for the median and a standard deviation (from memory); P.2109-1.
    """
    low, median, high = (
        float(
            building_entry_loss_db(
                frequency_mhz=frequency_mhz,
                building=building,
                share_of_buildings=share,
                elevation_deg=elevation_deg,
            )
        )
        for share in (0.158655, 0.5, 0.841345)
    )
    return BuildingEntry(median, 0.5 * (high - low))

# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy, and float ** float is Any)
"""Radio-climatic path parameters. Rec. ITU-R P.1812-7, sections 3.5 to 3.7."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.earth import EARTH_RADIUS_KM

BETA0_EARTH_RADIUS_KM = 3.0 * EARTH_RADIUS_KM  # a_beta, (7b)
NO_COAST_KM = 500.0

FloatArray = NDArray[np.float64]


class PathZones(NamedTuple):
    """omega; dtm and dlm, longest land and inland stretch; dct and dcr, from either end to the coast; km."""

    sea_share: float
    longest_land_km: float
    longest_inland_km: float
    tx_coast_km: float
    rx_coast_km: float


@register_jitable
def path_zones(distance_m: FloatArray, zone: NDArray[np.int8]) -> PathZones:
    """PathZones of a profile: zone 1 sea, 3 coastal land, 4 inland; a point owns half the way to each
    neighbour.

    Source : P.1812-7, 3.2 and 3.5, eq. (1); dct and dcr, 4.5: land distance along the path to the first sea
        point, 500 km where there is none, 0 for a terminal at sea.
    """
    n = distance_m.size
    d_km = distance_m[n - 1] * 1e-3
    mixed = False
    for i in range(n):
        mixed |= zone[i] != 4
    if not mixed:
        return PathZones(0.0, d_km, d_km, NO_COAST_KM, NO_COAST_KM)
    sea_km = 0.0
    land_km = 0.0
    inland_km = 0.0
    longest_land_km = 0.0
    longest_inland_km = 0.0
    tx_coast_km = NO_COAST_KM
    rx_coast_km = NO_COAST_KM
    seen_sea = False
    for i in range(n):
        left_km = 0.5e-3 * (distance_m[max(i - 1, 0)] + distance_m[i])
        right_km = 0.5e-3 * (distance_m[i] + distance_m[min(i + 1, n - 1)])
        owned_km = right_km - left_km
        if zone[i] == 1:
            sea_km += owned_km
            land_km = 0.0
            if not seen_sea:
                tx_coast_km = left_km
                seen_sea = True
            rx_coast_km = d_km - right_km
        else:
            land_km += owned_km
            longest_land_km = max(longest_land_km, land_km)
        if zone[i] == 4:
            inland_km += owned_km
            longest_inland_km = max(longest_inland_km, inland_km)
        else:
            inland_km = 0.0
    return PathZones(sea_km / d_km, longest_land_km, longest_inland_km, tx_coast_km, rx_coast_km)


@register_jitable
def inland_share_tau(longest_inland_km: float) -> float:
    """tau. Source : P.1812-7, eq. (3)."""
    return 1.0 - math.exp(-4.12e-4 * longest_inland_km**2.41)


@register_jitable
def anomalous_time_percent(longest_land_km: float, tau: float, latitude_deg: float) -> float:
    """beta0: per cent of time with refractivity lapse beyond 100 N/km in the lowest 100 m, at the path's
    middle.

    Source : P.1812-7, 3.6, eqs (2), (4), (5).
    """
    mu1 = (
        10.0 ** (-longest_land_km / (16.0 - 6.6 * tau)) + 10.0 ** (-5.0 * (0.496 + 0.354 * tau))
    ) ** 0.2  # (2)
    mu1 = min(mu1, 1.0)
    latitude = abs(latitude_deg)
    if latitude <= 70.0:
        mu4 = mu1 ** (-0.935 + 0.0176 * latitude)  # (4)
        return 10.0 ** (-0.015 * latitude + 1.67) * mu1 * mu4  # (5)
    return 4.17 * mu1 * mu1**0.3

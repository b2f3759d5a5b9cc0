"""How far each link's margin may stray: the parts of `reach.propagation.variability` for a net's stations."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.links.land import stated_land
from reach.propagation.typical_land.model import Cover
from reach.propagation.typical_land.rule import LAND_HEIGHT_M
from reach.propagation.variability import (
    EVENING_FLOOR_BEYOND_DB,
    EVENING_FLOOR_IN_SIGHT_DB,
    STATION_SIGMA_DB,
    UNSTATED_LAND_SIGMA_DB,
    Siting,
    time_spread,
)
from reach.stations import Category, Repeater, Station

FloatArray = NDArray[np.float64]

_SITING = {
    Category.BASE: Siting.FIXED,
    Category.MOBILE: Siting.MOBILE,
    Category.PORTABLE: Siting.HANDHELD,
    Category.INTERNET: Siting.FIXED,  # counts nowhere: such a member has no link
}
REPEATER_SIGMA_DB = STATION_SIGMA_DB[Siting.FIXED]
TALLEST_LAND_M = max(LAND_HEIGHT_M.values())
SHORTEST_M = 1.0  # the climate curves need a distance and heights above zero


def station_sigma_db(category: Category) -> float:
    """Spread of a station's own site, dB, where it is known what stands round it."""
    return STATION_SIGMA_DB[_SITING[category]]


def site_sigma_db(party: Station | Repeater, cover: Cover) -> float:
    """Spread of a station's own site, dB: one draw for the station, in all its links, sent or received.

    Where nobody said what stands round it, and no raster does, half the step between the kinds of land is
    added for an antenna that may be below it.
    """
    own_db = REPEATER_SIGMA_DB if isinstance(party, Repeater) else station_sigma_db(party.category)
    known = stated_land(party) is not None or cover is not Cover.USUAL
    if known or party.antenna.height_m >= TALLEST_LAND_M:
        return own_db
    return math.hypot(own_db, UNSTATED_LAND_SIGMA_DB)


def time_sigma_db(
    *,
    distance_m: ArrayLike,
    frequency_mhz: float,
    tx_effective_height_m: ArrayLike,
    rx_effective_height_m: ArrayLike,
    margin_db: ArrayLike,
    line_of_sight: ArrayLike,
) -> FloatArray:
    """Spread from evening to evening on the side that decides, dB; arguments broadcast, NaN stays NaN.

    The weaker hours' where the margin is above zero, the stronger hours' where it is below (ITM's climate
    curves, continental temperate), with the floor of what the air does not do: wet leaves, snow, the sets.
    effective heights : above the ground that counts, m (ITM's; see `reach.propagation.variability`).
    """
    spread = time_spread(
        distance_m=np.maximum(distance_m, SHORTEST_M),
        frequency_mhz=frequency_mhz,
        tx_effective_height_m=np.maximum(tx_effective_height_m, SHORTEST_M),
        rx_effective_height_m=np.maximum(rx_effective_height_m, SHORTEST_M),
    )
    floor_db = np.where(line_of_sight, EVENING_FLOOR_IN_SIGHT_DB, EVENING_FLOOR_BEYOND_DB)
    return np.where(np.isnan(margin_db), np.nan, np.hypot(spread.sigma_db(margin_db), floor_db))

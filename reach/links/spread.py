"""How far each link's margin may stray: the parts of `reach.propagation.variability` for a net's stations."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.propagation.variability import STATION_SIGMA_DB, Siting, time_spread
from reach.stations import Category

FloatArray = NDArray[np.float64]

_SITING = {
    Category.BASE: Siting.FIXED,
    Category.MOBILE: Siting.MOBILE,
    Category.PORTABLE: Siting.HANDHELD,
    Category.INTERNET: Siting.FIXED,  # counts nowhere: such a member has no link
}
REPEATER_SIGMA_DB = STATION_SIGMA_DB[Siting.FIXED]
SHORTEST_M = 1.0  # the climate curves need a distance and heights above zero


def station_sigma_db(category: Category) -> float:
    """Spread of a station's own site, dB: one draw for the station, in all its links, sent or received."""
    return STATION_SIGMA_DB[_SITING[category]]


def time_sigma_db(
    *,
    distance_m: ArrayLike,
    frequency_mhz: float,
    tx_height_m: ArrayLike,
    rx_height_m: ArrayLike,
    margin_db: ArrayLike,
) -> FloatArray:
    """Spread from evening to evening on the side that decides, dB; arguments broadcast, NaN stays NaN.

    The weaker hours' where the margin is above zero, the stronger hours' where it is below (ITM's climate
    curves, continental temperate).
    """
    spread = time_spread(
        distance_m=np.maximum(distance_m, SHORTEST_M),
        frequency_mhz=frequency_mhz,
        tx_effective_height_m=np.maximum(tx_height_m, SHORTEST_M),
        rx_effective_height_m=np.maximum(rx_height_m, SHORTEST_M),
    )
    return np.where(np.isnan(margin_db), np.nan, spread.sigma_db(margin_db))

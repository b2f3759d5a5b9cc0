"""From margin and spread to the chance of working."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.stations import Category

_erf = np.vectorize(math.erf, otypes=[np.float64])


def chance_of_working(margin_db: ArrayLike, sigma_db: ArrayLike) -> NDArray[np.float64]:
    """Phi(margin / sigma), any shapes that broadcast; NaN stays NaN."""
    deviations = np.asarray(margin_db, dtype=np.float64) / np.asarray(sigma_db, dtype=np.float64)
    return np.asarray(0.5 * (1.0 + _erf(deviations / math.sqrt(2.0))))


# Standard deviations, dB. Together about 8 dB base to base and 10 dB where a handheld takes part (common
# practice, no source): point-to-point models over 30 m terrain miss single measurements by about as much.
_SITE_SIGMA_DB = {Category.BASE: 3.0, Category.MOBILE: 4.5, Category.PORTABLE: 6.0, Category.INTERNET: 0.0}
PATH_SIGMA_DB = 6.5


def site_sigma_db(category: Category) -> float:
    """Spread of a station's own site (clutter, antenna surroundings) against what the model assumes, dB."""
    return _SITE_SIGMA_DB[category]


def path_sigma_db(distance_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Spread of the path loss itself, the same in both directions, dB; shape of `distance_m`, NaN kept."""
    return np.where(np.isnan(distance_m), np.nan, PATH_SIGMA_DB)


def time_sigma_db(distance_m: NDArray[np.float64]) -> NDArray[np.float64]:
    """Spread from evening to evening, dB: about 1 dB in 20 km, 4 dB at most (common practice, no source)."""
    return np.minimum(np.asarray(distance_m, dtype=np.float64) / 20_000.0, 4.0)

"""Loss in woodland, as a line of the link budget: Rec. ITU-R P.833 and the older rule of Weissberger.

Both are for an antenna among the trees (or a path through the grove). Where a land-cover raster already
puts trees on the profile, adding such a line would count them twice.

Without leaves the loss falls by 20 to 30 % (in dB) at UHF and little at VHF; wet leaves lose more: common
practice, no source.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange

FloatArray = NDArray[np.float64]

# Rec. ITU-R P.833-9, mixed forest near St. Petersburg (checked against a public transcription)
POINTS_MHZ = np.array([105.9, 466.5, 949.0, 1852.0, 2117.5])
SPECIFIC_ATTENUATION_DB_PER_M = np.array([0.04, 0.12, 0.17, 0.30, 0.34])
MAXIMUM_ATTENUATION_DB = np.array([9.4, 18.0, 26.5, 29.0, 34.1])

WOODLAND_MHZ = (20.0, 2117.5)
WEISSBERGER_MHZ = (230.0, 95_000.0)
WEISSBERGER_DEEPEST_M = 400.0


def woodland_specific_attenuation_db_per_m(frequency_mhz: ArrayLike) -> FloatArray:
    """Specific attenuation gamma of mixed forest, dB/m, any shape.

    Straight lines in log gamma over log f between the published points; below 105.9 MHz the first line
    goes on (our extrapolation). Valid : 20 to 2117.5 MHz. Raises : OutOfRange.
    Source : Rec. ITU-R P.833-9, 2.1, table of measured gamma.
    """
    frequency = _within(frequency_mhz, WOODLAND_MHZ, "frequency", "MHz", "woodland loss (P.833)")
    log_f, log_points = np.log(frequency), np.log(POINTS_MHZ)
    log_gamma = np.log(SPECIFIC_ATTENUATION_DB_PER_M)
    slope = (log_gamma[1] - log_gamma[0]) / (log_points[1] - log_points[0])
    inside = np.interp(log_f, log_points, log_gamma)
    below = log_gamma[0] + slope * (log_f - log_points[0])
    return np.asarray(np.exp(np.where(frequency < POINTS_MHZ[0], below, inside)))


def woodland_maximum_db(frequency_mhz: ArrayLike) -> FloatArray:
    """Most that mixed forest can take, A_m, dB: beyond it the signal comes over the tops. Any shape.

    Valid : as `woodland_specific_attenuation_db_per_m`. Source : Rec. ITU-R P.833, A_m = 1.37 f^0.42
        (from memory).
    """
    frequency = _within(frequency_mhz, WOODLAND_MHZ, "frequency", "MHz", "woodland loss (P.833)")
    return np.asarray(1.37 * frequency**0.42)


def woodland_loss_db(*, frequency_mhz: ArrayLike, depth_m: ArrayLike) -> FloatArray:
    """Excess loss with one end inside woodland, depth_m of trees (0 or more) on the path, dB; arguments
    broadcast.

    Valid : 20 to 2117.5 MHz. Raises : OutOfRange naming the first bad element.
    Source : Rec. ITU-R P.833-9, eq. (1): A = A_m (1 - exp(-d gamma / A_m)).
    Check : 146 MHz, 100 m: 4.07 dB.
    """
    depth = _within(depth_m, (0.0, np.inf), "woodland depth", "m", "woodland loss (P.833)")
    A_m = woodland_maximum_db(frequency_mhz)
    gamma = woodland_specific_attenuation_db_per_m(frequency_mhz)
    return np.asarray(-A_m * np.expm1(-depth * gamma / A_m))


def weissberger_loss_db(*, frequency_mhz: ArrayLike, depth_m: ArrayLike) -> FloatArray:
    """Excess loss through a grove in leaf, depth_m of trees (0 to 400 m), dB; arguments broadcast.

    Valid : 230 MHz to 95 GHz (below, it would overstate). Raises : OutOfRange naming the first bad element.
    Source : Weissberger (1982), modified exponential decay, from memory: 0.45 f^0.284 d up to 14 m,
        1.33 f^0.284 d^0.588 beyond, f in GHz. At 14 m the two differ by 0.4 % of the loss.
    """
    frequency = _within(frequency_mhz, WEISSBERGER_MHZ, "frequency", "MHz", "Weissberger's foliage loss")
    depth = _within(depth_m, (0.0, WEISSBERGER_DEEPEST_M), "foliage depth", "m", "Weissberger's foliage loss")
    per_depth = np.where(depth <= 14.0, 0.45 * depth, 1.33 * depth**0.588)
    return np.asarray((frequency / 1000.0) ** 0.284 * per_depth)


def _within(values: ArrayLike, bounds: tuple[float, float], name: str, unit: str, formula: str) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    lowest, highest = bounds
    bad = np.flatnonzero(~((array >= lowest) & (array <= highest)))
    if bad.size:
        valid = f"{lowest:g} to {highest:g} {unit}" if np.isfinite(highest) else f"{lowest:g} {unit} or more"
        raise OutOfRange(
            f"{name} is {array.flat[bad[0]]:g} {unit} (element {bad[0]}); {formula} is valid for {valid}"
        )
    return array

# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""What stands round a station and along a path, and what an antenna below it loses.

Sources : heights, Rec. ITU-R P.2108-1, 3.1 (suburban 10 m, urban and trees 15 m), P.1812-7, Table 2 (open
0 m;
from memory); end term, P.2108-1, 3.1, eqs (2a) to (2g). The 500 m of open land and the half path a station's
surroundings hold for are our own choice.
"""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.stations import Land

FloatArray = NDArray[np.float64]

LAND_HEIGHT_M: dict[Land, float] = {Land.OPEN: 0.0, Land.HOUSES: 10.0, Land.TREES: 15.0, Land.TOWN: 15.0}
USUAL_LAND = Land.HOUSES  # where nobody said what stands round a station
USUAL_HEIGHT_M = 10.0  # of houses; also beyond the open land round an open station
OPEN_LAND_M = 500.0
STREET_WIDTH_M = 27.0  # P.2108-1, 3.1, where no street width is known

_SAME_PLACE_M = 1e-3  # distances closer than this are one, so that a path reads the same both ways


@register_jitable
def worked_height_m(height_m: float, land_m: float) -> float:
    """Height above ground at which an antenna is worked: its own, or the top of what stands round it, m.

    Source : P.2108-1, 3.1: the end term is added to the loss of a path reckoned to and from that top.
    """
    return max(height_m, land_m)


@register_jitable
def end_term_db(
    height_m: float, land_m: float, frequency_ghz: float, street_width_m: float = STREET_WIDTH_M
) -> float:
    """A_h: what an antenna height_m above ground loses below trees or roofs land_m high, dB, 0 at their top.

    Valid : 30 MHz to 3 GHz, height above 0. Source : P.2108-1, 3.1, eqs (2a), (2c) to (2g), in its form for
        suburban, urban and wooded places. Check : 1.5 m below 10 m at 146.52 MHz: 11.226 dB.
    """
    if height_m >= land_m:
        return 0.0
    h_dif = land_m - height_m
    theta_clut = math.degrees(math.atan(h_dif / street_width_m))
    nu = 0.342 * math.sqrt(frequency_ghz) * math.sqrt(h_dif * theta_clut)
    return 6.9 + 20.0 * math.log10(math.sqrt((nu - 0.1) ** 2 + 1.0) + nu - 0.1) - 6.03


@register_jitable
def usual_cover_at_m(from_near_end_m: float, land_m: float) -> float:
    """Height of what stands on the ground in a station's half of a path, m: its own, see the package text."""
    if land_m > 0.0:
        return land_m
    return 0.0 if from_near_end_m <= OPEN_LAND_M + _SAME_PLACE_M else USUAL_HEIGHT_M


@register_jitable
def usual_cover_m(
    distance_m: FloatArray, zone: NDArray[np.int8], tx_land_m: float, rx_land_m: float
) -> FloatArray:
    """Height of what stands along a path between two stations, m, (n,) new; nothing over water.

    A point in the very middle takes the larger of both halves' heights. Antennas stand on bare ground, as
    P.1812 has it.
    """
    n = distance_m.size
    length_m = distance_m[n - 1]
    cover_m = np.zeros(n)
    for i in range(1, n - 1):
        if zone[i] == 1:
            continue
        from_tx_m = distance_m[i]
        from_rx_m = length_m - from_tx_m
        if abs(from_tx_m - from_rx_m) <= _SAME_PLACE_M:
            cover_m[i] = max(usual_cover_at_m(from_tx_m, tx_land_m), usual_cover_at_m(from_rx_m, rx_land_m))
        elif from_tx_m < from_rx_m:
            cover_m[i] = usual_cover_at_m(from_tx_m, tx_land_m)
        else:
            cover_m[i] = usual_cover_at_m(from_rx_m, rx_land_m)
    return cover_m


@register_jitable
def highest_cover_near_m(distance_m: FloatArray, cover_m: FloatArray, reach_m: float) -> tuple[float, float]:
    """Highest cover among a path's inner points within reach_m of the transmitter and of the receiver, m."""
    n = distance_m.size
    length_m = distance_m[n - 1]
    near_tx_m = 0.0
    near_rx_m = 0.0
    for i in range(1, n - 1):
        if distance_m[i] <= reach_m + _SAME_PLACE_M:
            near_tx_m = max(near_tx_m, cover_m[i])
        if length_m - distance_m[i] <= reach_m + _SAME_PLACE_M:
            near_rx_m = max(near_rx_m, cover_m[i])
    return near_tx_m, near_rx_m

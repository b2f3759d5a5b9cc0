"""One path over typical land, from profile to loss, with what each end pays kept apart."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.p1812.path import SHORTEST_KM, PathSettings, p1812_mechanisms, p1812_together
from reach.propagation.typical_land.rule import (
    OPEN_LAND_M,
    USUAL_HEIGHT_M,
    end_term_db,
    highest_cover_near_m,
    usual_cover_m,
    worked_height_m,
)
from reach.propagation.typical_land.scatter import low_antenna_loss_db

FloatArray = NDArray[np.float64]

BARE, USUAL, GIVEN = (
    0,
    1,
    2,
)  # what stands along the path: nothing; by the stations' own; the profile's clutter


class TypicalLandPath(NamedTuple):
    """A path over typical land, dB: loss_db = over_land_db + tx_end_db + rx_end_db.

    tx_land_m, rx_land_m : of what was taken to stand round either end. low_antenna_db : H0.
    path_angle_mrad : theta of P.1812, eq. (84), with the heights worked at.
    """

    loss_db: float
    free_space_db: float
    over_land_db: float
    tx_end_db: float
    rx_end_db: float
    tx_land_m: float
    rx_land_m: float
    low_antenna_db: float
    path_angle_mrad: float


@register_jitable
def typical_land_path(
    distance_m: FloatArray,
    ground_m: FloatArray,
    clutter_m: FloatArray,
    zone: NDArray[np.int8],
    latitude_deg: float,
    tx_height_m: float,
    rx_height_m: float,
    tx_land_m: float,
    rx_land_m: float,
    frequency_ghz: float,
    polarisation: int,
    cover: int,
    settings: PathSettings,
) -> TypicalLandPath:
    """TypicalLandPath of a profile: arrays (n,), n >= 3; heights above ground, m; cover one of BARE,
    USUAL, GIVEN.

    tx_land_m, rx_land_m : height of what stands round either station, 0 for open land; no matter when BARE.
    Where an end stands lower than what its half of the path carries within 500 m, the path is worked a second
    time with that end standing in it (USUAL: among houses), and the smaller loss counts.
    """
    lands_m = (tx_land_m, rx_land_m)
    if cover == BARE:
        lands_m = (0.0, 0.0)
    near_m = lands_m
    if cover == USUAL:
        near_m = (
            tx_land_m if tx_land_m > 0.0 else USUAL_HEIGHT_M,
            rx_land_m if rx_land_m > 0.0 else USUAL_HEIGHT_M,
        )
    elif cover == GIVEN:
        highest_m = highest_cover_near_m(distance_m, clutter_m, OPEN_LAND_M)
        near_m = (max(tx_land_m, highest_m[0]), max(rx_land_m, highest_m[1]))
    again = (near_m[0] > lands_m[0] and tx_height_m < near_m[0]) or (
        near_m[1] > lands_m[1] and rx_height_m < near_m[1]
    )
    best = TypicalLandPath(1e9, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
    for turn in range(2 if again else 1):  # one call site, so that the formulas are compiled once
        tx_m = lands_m[0] if turn == 0 else near_m[0]
        rx_m = lands_m[1] if turn == 0 else near_m[1]
        found = _taken_as(
            distance_m,
            ground_m,
            usual_cover_m(distance_m, zone, tx_m, rx_m) if cover == USUAL else clutter_m * (cover == GIVEN),
            zone,
            latitude_deg,
            tx_height_m,
            rx_height_m,
            tx_m,
            rx_m,
            frequency_ghz,
            polarisation,
            settings,
        )
        if found.loss_db < best.loss_db:
            best = found
    return best


@register_jitable
def _taken_as(
    distance_m: FloatArray,
    ground_m: FloatArray,
    cover_m: FloatArray,
    zone: NDArray[np.int8],
    latitude_deg: float,
    tx_height_m: float,
    rx_height_m: float,
    tx_land_m: float,
    rx_land_m: float,
    frequency_ghz: float,
    polarisation: int,
    settings: PathSettings,
) -> TypicalLandPath:
    d_km = distance_m[distance_m.size - 1] * 1e-3
    tx_worked_m = worked_height_m(tx_height_m, tx_land_m)
    rx_worked_m = worked_height_m(rx_height_m, rx_land_m)
    found = p1812_mechanisms(
        distance_m,
        ground_m,
        cover_m,
        zone,
        latitude_deg,
        tx_worked_m,
        rx_worked_m,
        frequency_ghz,
        polarisation,
        settings,
    )
    angle_mrad = found.horizons.path_angle_mrad
    low_db = low_antenna_loss_db(angle_mrad, tx_worked_m, rx_worked_m, frequency_ghz)
    together = p1812_together(found, d_km, found.troposcatter_db + low_db, settings.time_percent)
    if d_km < SHORTEST_KM:
        over_land_db = max(found.sight.free_space_db, together.lbd50_db)
    else:
        over_land_db = max(found.sight.time_db, together.lbc_db)  # P.1812-7, eq. (69)
    tx_end = end_term_db(tx_height_m, tx_land_m, frequency_ghz)
    rx_end = end_term_db(rx_height_m, rx_land_m, frequency_ghz)
    return TypicalLandPath(
        over_land_db + tx_end + rx_end,
        found.sight.free_space_db,
        over_land_db,
        tx_end,
        rx_end,
        tx_land_m,
        rx_land_m,
        low_db,
        angle_mrad,
    )

"""The rest of P.1812 for the owned columns of a stretch: ducting, troposcatter and how the mechanisms
combine, compiled.

The formulas are those of `reach.propagation.p1812`; here their inputs come from the sweep. All ground is
inland, time is the median.
"""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.coverage.sweep._formulas_kernel import DB, atan_f32, either_way_f32, frequency_gain_f32
from reach.coverage.sweep._log_kernel import log2_f32
from reach.coverage.sweep._tuples_kernel import apart
from reach.machinery.compiled import fresh
from reach.propagation.p1812.combine import combination
from reach.propagation.p1812.diffraction import Diffraction, DiffractionRun
from reach.propagation.p1812.ducting import ducting_loss_db, time_loss_db
from reach.propagation.p1812.geometry import Horizons, SmoothSurfaces
from reach.propagation.p1812.line_of_sight import LineOfSight
from reach.propagation.p1812.parameters import (
    NO_COAST_KM,
    PathZones,
    anomalous_time_percent,
    inland_share_tau,
)
from reach.propagation.p1812.path import SHORTEST_KM

MEDIAN_PERCENT = 50.0
DEGREES_PER_METRE = 180.0 / (math.pi * 6_371_000.0)
NO_EFFECT_DB = np.float32(0.004)  # ducting that could lower the loss by no more is left out
SCATTER_AHEAD_DB = np.float32(15.0)  # and so is ducting this far above scatter: 5 log10(1.001) = 0.002 dB

_F0 = np.float32(0.0)
_HALF = np.float32(0.5)
_TENTH = np.float32(0.1)
_THOUSAND = np.float32(1e3)
_DB_A_RADIAN = np.float32(573.0)  # eq. (44)
_LEAST_ANGLE = np.float32(1e-7)
_NO_SCATTER_DB = np.float32(1e4)


@fresh
@njit(nogil=True, error_model="numpy")
def least_ducting_db(cells, cell_m, latitude_deg):
    """(cells + 2,) float32: no A(50 %) of eq. (53) is smaller between i and i + 1 cells from the site, in
    any direction. Source : P.1812-7, eqs (2) to (5), (53).

    A falls as beta rises (checked from 1e-12 to 47 per cent, 1 to 500 km), and beta = beta0 mu2 mu3 is at
    most beta0, which is largest where the path's middle lies nearest to the equator.
    """
    table = np.empty(cells + 2, np.float32)
    near = 1e9
    for i in range(cells + 2, -1, -1):
        d_km = max(i, 1) * cell_m * 1e-3
        latitude = max(abs(latitude_deg) - 0.5e3 * d_km * DEGREES_PER_METRE, 0.0)
        beta0 = anomalous_time_percent(d_km, inland_share_tau(d_km), latitude)
        here = time_loss_db(d_km, beta0, MEDIAN_PERCENT)
        if i < cells + 2:
            table[i] = min(here, near) - 0.01
        near = here
    return table


@apart
def mechanisms_stretch(count, cell_m, column_m, tx_m, link, more, look, result):
    """Turn result.loss_db, free space plus median diffraction, into P.1812's median loss with scatter.

    Ducting is left out and the look marked doubtful where it might count; returns how many are.

    With D the loss so far, w the weights of (61) and (62) and Lba of (46), eqs (57) to (62) are for the
    median, inland, where Fi of (40a) is of the order of 1e-9,
        Lbam = D - max(D - Lminbap, 0) w,  0 <= w <= 1,  Lminbap >= Lba,
    so nothing changes where Lba >= D; and where Lba >= Lbs + 15 dB, Lbam >= min(D, Lbs + 15) changes the
    sum (63) by under 0.002 dB. Lba is at least its part without site shielding (never negative) with the
    least A(p) of `least_ducting_db`: that bound is what is compared.
    Source : P.1812-7, 4.4 to 4.6; H0, NBS Technical Note 101, section 9.
    """
    per_column = np.float32(1.0 / column_m)
    bend_column = column_m / np.float32(link.radius_m)
    column_km = column_m * np.float32(1e-3)
    cell_km = cell_m * np.float32(1e-3)
    stretch = column_m / cell_m
    shortest = np.float32(SHORTEST_KM * SHORTEST_KM)
    location_db = np.float32(more.location_db)
    gain = more.scatter_waves > _F0
    number = np.int32(0)
    for i in range(count):
        x = look.column[i]
        rx_m = look.rx_m[i]
        bend = x * bend_column
        tx_angle = atan_f32(look.tx_slope[i] * per_column)
        rx_angle = atan_f32(look.rx_slope[i] * per_column - bend)
        angle = bend + tx_angle + rx_angle
        square_km = look.square[i] * cell_km * cell_km
        scatter_db = more.scatter_db + _HALF * DB * log2_f32(square_km) + _DB_A_RADIAN * angle
        if gain:
            waves = max(angle, _LEAST_ANGLE) * more.scatter_waves
            scatter_db += frequency_gain_f32(waves * tx_m, waves * rx_m)
            scatter_db = scatter_db if angle > _F0 else _NO_SCATTER_DB
        diffracted_db = result.loss_db[i]
        tx_km = look.tx_columns[i] * column_km
        rx_km = look.rx_columns[i] * column_km
        bent_mrad = (
            _THOUSAND * bend
            + min(_THOUSAND * tx_angle, _TENTH * tx_km)
            + min(_THOUSAND * rx_angle, _TENTH * rx_km)
        )
        ducting_db = more.coupling_db + DB * log2_f32(tx_km + rx_km) + more.mrad_db * bent_mrad
        ducting_db += more.ducting_db[np.uint32(x * stretch)]
        near = square_km < shortest
        could = diffracted_db - ducting_db > NO_EFFECT_DB and ducting_db < scatter_db + SCATTER_AHEAD_DB
        doubtful = could and not near
        mark = np.int32(1) if doubtful else np.int32(0)
        result.doubtful[i] = mark
        number = np.int32(number + mark)
        loss_db = diffracted_db if near else either_way_f32(scatter_db, diffracted_db)
        loss_db = max(result.free_db[i], loss_db + location_db) + look.ends_db[i]
        result.loss_db[i] = diffracted_db if doubtful else loss_db
    return number


@njit(error_model="numpy")
def doubtful_stretch(count, tx_m, site_row, width, cell_m, column_m, link, more, scratch):
    """The whole of P.1812 for the columns marked doubtful, one at a time in double precision.

    hm is looked for on the hull only: between two of its vertices bent ground lies below the chord and the
    curvature is convex, so ground above any straight line is highest at one of them (within rounding).
    """
    owned, look, result = scratch.owned, scratch.look, scratch.result
    for i in range(count):
        if result.doubtful[i] == 0:
            continue
        north_m = float(site_row - owned.cell[look.of[i]] // width) * cell_m
        latitude_deg = more.latitude_deg + 0.5 * north_m * DEGREES_PER_METRE
        result.loss_db[i] = _whole_loss_db(
            i, float(tx_m), latitude_deg, cell_m, column_m, link, more, scratch
        )


@njit(error_model="numpy")
def _whole_loss_db(i, tx_m, latitude_deg, cell_m, column_m, link, more, scratch):
    """P.1812's median loss of look i. Source : P.1812-7, 4.2, 4.4 to 4.6, eq. (69)."""
    look, result = scratch.look, scratch.result
    k = np.int64(look.column[i])
    rx_m = float(look.rx_m[i])
    ground_m = float(look.ground[i])
    receiver_m = ground_m + rx_m
    d_m = float(k) * column_m
    d_km = math.sqrt(look.square[i]) * cell_m * 1e-3
    bend = d_m / link.radius_m
    beyond = look.rx_columns[i] > _F0
    if beyond:
        tx_point = np.int64(look.tx_columns[i])
        rx_point = k - np.int64(look.rx_columns[i])
    else:
        tx_point = _worst_point(k, tx_m, rx_m, scratch.bent.height)
        rx_point = tx_point
    tx_km = float(tx_point) * column_m * 1e-3
    rx_km = float(k - rx_point) * column_m * 1e-3
    tx_angle = 1e3 * math.atan(float(look.tx_slope[i]) / column_m)
    rx_angle = 1e3 * math.atan(float(look.rx_slope[i]) / column_m - bend)
    angle = 1e3 * bend + tx_angle + rx_angle
    horizon = Horizons(beyond, tx_km, rx_km, tx_angle, rx_angle, angle, int(tx_point), int(rx_point))
    hst = 2.0 * look.sum_one[i] - look.sum_two[i]
    hsr = look.sum_two[i] - look.sum_one[i]
    tx_end = min(hst, 0.0)
    rx_end = min(hsr, ground_m)
    rise = (rx_end - tx_end) / float(k)
    hm = -1e9
    at = np.int64(max(rx_point, tx_point))
    while at >= tx_point and at > 0:
        hm = max(hm, float(scratch.flat.height[at]) - (tx_end + rise * float(at)))
        at = np.int64(scratch.bent.previous[at])
    surfaces = SmoothSurfaces(hst, hsr, 0.0, 0.0, tx_end, rx_end, tx_m - tx_end, receiver_m - rx_end, hm)
    zones = PathZones(0.0, d_km, d_km, NO_COAST_KM, NO_COAST_KM)
    tau = inland_share_tau(d_km)
    beta0 = anomalous_time_percent(d_km, tau, latitude_deg)
    free_db = float(result.free_db[i])
    sight = LineOfSight(free_db, free_db, free_db)
    bent_db = float(result.loss_db[i]) - free_db
    run = DiffractionRun(bent_db, 0.0, 0.0, 0.0)
    found = Diffraction(run, run, 0.0, bent_db)  # for the median Fi of (40a) is of the order of 1e-9
    duct_db = ducting_loss_db(
        zones, horizon, surfaces, d_km, tx_m, receiver_m, link.radius_m * 1e-3, more.frequency_ghz, tau,
        beta0, MEDIAN_PERCENT,
    )  # fmt: skip
    scatter_db = float(more.scatter_db) + 20.0 * math.log10(d_km) + 0.573 * angle
    if more.scatter_waves > _F0:
        waves = max(1e-3 * angle, 1e-7) * float(more.scatter_waves)
        gain_db = frequency_gain_f32(np.float32(waves * tx_m), np.float32(waves * rx_m))
        scatter_db = scatter_db + gain_db if angle > 0.0 else float(_NO_SCATTER_DB)
    together = combination(d_km, angle, 0.0, sight, found, duct_db, scatter_db, MEDIAN_PERCENT, beta0)
    return max(free_db, together.lbc_db + more.location_db) + look.ends_db[i]


@njit(error_model="numpy")
def _worst_point(k, tx_m, rx_m, bent):
    """Column with the largest diffraction parameter of a path in sight to column k, over bare ground."""
    direct = (float(bent[k]) + rx_m - tx_m) / float(k)
    best = np.inf
    place = np.int64(1)
    for at in range(1, k):
        off = direct - (float(bent[at]) - tx_m) / float(at)
        value = off * off * float(at) / float(k - at)
        if value <= best:
            best = value
            place = np.int64(at)
    return place

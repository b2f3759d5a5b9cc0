# mypy: disable-error-code="no-untyped-def"
"""The rest of P.1812 for the columns of a stretch: ducting, troposcatter and how the mechanisms combine,
compiled.

The formulas are those of `reach.propagation.p1812`; here their inputs come from the sweep. All ground is
inland.
"""

from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.propagation.p1812.combine import combination
from reach.propagation.p1812.diffraction import Diffraction, DiffractionRun
from reach.propagation.p1812.ducting import ducting_loss_db
from reach.propagation.p1812.geometry import Horizons, SmoothSurfaces
from reach.propagation.p1812.line_of_sight import line_of_sight
from reach.propagation.p1812.parameters import (
    NO_COAST_KM,
    PathZones,
    anomalous_time_percent,
    inland_share_tau,
)
from reach.propagation.p1812.path import SHORTEST_KM
from reach.propagation.p1812.troposcatter import troposcatter_loss_db

MEDIAN_PERCENT = 50.0
DEGREES_PER_METRE = 180.0 / (math.pi * 6_371_000.0)


@njit(error_model="numpy")
def combine_stretch(
    count, column_of, cell_of, square_of, width, site_row, cell_m, tx_m, rx_m, column_m, radius_m,
    frequency_ghz, refractivity_n, latitude_deg, location_db, inverse, ground, bent, bent_edge, bent_previous,
    record_at, record_slope, record_count, bent_top, own_one, own_two, loss_db,
):  # fmt: skip
    """Turn loss_db[i], free space plus median diffraction, into P.1812's median loss and location_db on top.

    refractivity_n : N0; latitude_deg : of the site. In line of sight hm and the horizon point are those of
    the
    worst point. Source : Rec. ITU-R P.1812-7, sections 4.2, 4.4 to 4.6 and 4.10, eq. (69).
    """
    for i in range(count):
        k = np.int64(column_of[i])
        receiver = bent[k] + rx_m
        direct = (receiver - tx_m) * inverse[k]
        j = np.int64(bent_previous[k])
        while receiver - bent[j] >= bent_edge[j] * np.float32(k - j):
            j = np.int64(bent_previous[j])
        d_m = float(k) * column_m
        d_km = math.sqrt(square_of[i]) * cell_m * 1e-3
        bend = d_m / radius_m
        newest = np.int64(record_count[k]) - 1
        if bent_top[k] >= direct:
            back = (bent[j] - receiver) * inverse[k - j]
            tx_point = np.int64(record_at[newest])
            rx_point = j
            tx_angle = 1e3 * math.atan(bent_top[k] / column_m)
            rx_angle = 1e3 * math.atan(back / column_m - bend)
            beyond = True
        else:
            tx_point = j
            u = direct - (bent[j] - tx_m) * inverse[j]
            best = u * u * np.float32(j) * inverse[k - j]
            r = newest
            while r >= 0 and record_at[r] > j:
                at = np.int64(record_at[r])
                u = direct - record_slope[r]
                p = u * u * np.float32(at) * inverse[k - at]
                if p < best:
                    best = p
                    tx_point = at
                r -= 1
            rx_point = tx_point
            tx_angle = 1e3 * math.atan(direct / column_m)
            rx_angle = 1e3 * math.atan(-direct / column_m - bend)
            beyond = False
        dlt_km = float(tx_point) * column_m * 1e-3
        dlr_km = float(k - rx_point) * column_m * 1e-3
        angle = 1e3 * bend + tx_angle + rx_angle
        horizon = Horizons(beyond, dlt_km, dlr_km, tx_angle, rx_angle, angle, int(tx_point), int(rx_point))
        hst = 2.0 * own_one[i] - own_two[i]
        hsr = own_two[i] - own_one[i]
        tx_end = min(hst, 0.0)
        rx_end = min(hsr, float(ground[k]))
        rise = (rx_end - tx_end) / float(k)
        hm = -1e9
        for between in range(tx_point, rx_point + 1):
            hm = max(hm, ground[between] - (tx_end + rise * float(between)))
        surfaces = SmoothSurfaces(
            hst, hsr, 0.0, 0.0, tx_end, rx_end, tx_m - tx_end, ground[k] + rx_m - rx_end, hm
        )
        zones = PathZones(0.0, d_km, d_km, NO_COAST_KM, NO_COAST_KM)
        tau = inland_share_tau(d_km)
        north_m = float(site_row - cell_of[i] // width) * cell_m
        beta0 = anomalous_time_percent(d_km, tau, latitude_deg + 0.5 * north_m * DEGREES_PER_METRE)
        sight = line_of_sight(
            d_km, float(tx_m), float(ground[k] + rx_m), frequency_ghz, dlt_km, dlr_km, MEDIAN_PERCENT, beta0
        )
        bent_db = float(loss_db[i]) - sight.free_space_db
        run = DiffractionRun(bent_db, 0.0, 0.0, 0.0)
        # for the median Fi of (40a) is of the order of 1e-9
        found = Diffraction(run, run, 0.0, bent_db)
        scatter_db = troposcatter_loss_db(d_km, angle, frequency_ghz, refractivity_n, MEDIAN_PERCENT)
        duct_db = ducting_loss_db(
            zones, horizon, surfaces, d_km, float(tx_m), float(ground[k] + rx_m), radius_m * 1e-3,
            frequency_ghz, tau, beta0, MEDIAN_PERCENT,
        )  # fmt: skip
        together = combination(d_km, angle, 0.0, sight, found, duct_db, scatter_db, MEDIAN_PERCENT, beta0)
        if d_km < SHORTEST_KM:
            loss_db[i] = max(sight.free_space_db, together.lbd50_db + location_db)
        else:
            loss_db[i] = max(sight.time_db, together.lbc_db + location_db)

"""What a margin may stray by, as the fit knows it: one band, its stations, its pairs.

A direction i -> j on an evening strays from its predicted margin by

    b + c_i + c_j + s_i + h_j + p_ij + e_ij,evening

b : of the band (model, ground, season); c : of a station, sending and hearing alike (siting, antenna, feed
line); s : sending only (power, deviation, microphone); h : hearing only (noise, deaf receiver); p : of the
path, both directions alike; e : of the path and evening, both directions alike. The priors are the spreads
the planner states anyway (`reach.propagation.variability`): a station's own is split into c and s or h.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

BAND_SIGMA_DB = 4.0
GRADING_SIGMA_DB = 2.0  # how generously a listener grades
METER_SIGMA_DB, CALIBRATED_METER_SIGMA_DB = 10.0, 3.0
MOVING_EVENING_SIGMA_DB = 4.0  # of a handheld that is somewhere else every evening, each end

KINDS = 3  # of functional: plain, graded, meter
LOCALS = 11  # b, c_i, c_j, s_i, s_j, h_i, h_j, rho_i, rho_j, o_i, o_j


def functionals() -> FloatArray:
    """(6, 11): what each functional takes of a pair's local globals; row 3 * direction + kind."""
    table = np.zeros((2 * KINDS, LOCALS))
    for direction in range(2):
        sender, listener = direction, 1 - direction
        for kind in range(KINDS):
            row = table[KINDS * direction + kind]
            row[:3] = 1.0
            row[3 + sender] = 1.0
            if kind != 2:
                row[5 + listener] = 1.0
            if kind == 1:
                row[7 + listener] = 1.0
            if kind == 2:
                row[9 + listener] = 1.0
    return table


@dataclass(frozen=True)
class BandModel:
    """Predictions and prior spreads of one band. n stations (members and repeaters), p pairs.

    band_sigma_db : of b. common_sigma_db, send_sigma_db, hear_sigma_db, grading_sigma_db, meter_sigma_db
    (n,). pairs (p, 2) : station numbers, the lower first. margin_db, level_dbm (p, 2) : predicted, first the
    direction from the lower number to the higher. path_sigma_db, evening_sigma_db (p,).
    """

    call_signs: tuple[str, ...]
    common_sigma_db: FloatArray
    send_sigma_db: FloatArray
    hear_sigma_db: FloatArray
    grading_sigma_db: FloatArray
    meter_sigma_db: FloatArray
    pairs: IntArray
    margin_db: FloatArray
    level_dbm: FloatArray
    path_sigma_db: FloatArray
    evening_sigma_db: FloatArray
    band_sigma_db: float = BAND_SIGMA_DB

    @property
    def prior_sigma_db(self) -> FloatArray:
        """(1 + 5 n,) of the globals: b, then c, s, h, rho, o of every station."""
        return np.concatenate(
            [
                [self.band_sigma_db],
                self.common_sigma_db,
                self.send_sigma_db,
                self.hear_sigma_db,
                self.grading_sigma_db,
                self.meter_sigma_db,
            ]
        )

    def local_globals(self) -> IntArray:
        """(p, 11) where a pair's local globals stand among all of them."""
        n = len(self.call_signs)
        i, j = self.pairs[:, 0], self.pairs[:, 1]
        columns = [np.zeros_like(i)]
        for part in range(5):
            columns += [1 + part * n + i, 1 + part * n + j]
        return np.stack(columns, axis=1)

"""From path loss to margins and chance, cell by cell, compiled."""

# mypy: disable-error-code="no-untyped-def"
from __future__ import annotations

import math

import numpy as np
from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def serve(
    first_row, last_row, loss_db, distance_step_m, cell_m, in_db, out_db, in_sigma_db, out_sigma_db,
    weak_db, strong_db, last_step, kind, kind_sigma_db, in_margin_db, out_margin_db, chance,
):  # fmt: skip
    """Fill margins and the chance of the weaker direction, all (n, n), for some rows.

    in_db, out_db : margin of either direction where the path loses nothing; in_sigma_db, out_sigma_db :
    spread of the margin without the path's and the air's; weak_db, strong_db (2, m) : the air's spread at
    multiples of distance_step_m where the margin is above and below zero, for in and out; kind : codes of
    `PathKind`, kind_sigma_db the path's spread of each.
    """
    n = loss_db.shape[0]
    half = n // 2
    for row in range(first_row, last_row):
        for column in range(n):
            loss = loss_db[row, column]
            if math.isnan(loss):
                in_margin_db[row, column] = np.nan
                out_margin_db[row, column] = np.nan
                chance[row, column] = np.nan
                continue
            dx = float(column - half)
            dy = float(row - half)
            place = math.sqrt(dx * dx + dy * dy) * cell_m / distance_step_m
            step = min(int(place), last_step)
            part = min(place - step, 1.0)
            path = kind_sigma_db[kind[row, column]]
            least = 1.0
            for way in range(2):
                margin = (in_db if way == 0 else out_db) - loss
                table = weak_db if margin >= 0.0 else strong_db
                air = table[way, step] * (1.0 - part) + table[way, step + 1] * part
                fixed = in_sigma_db if way == 0 else out_sigma_db
                sigma = math.sqrt(fixed * fixed + air * air + path * path)
                least = min(least, 0.5 * math.erfc(-margin / sigma * math.sqrt(0.5)))
                if way == 0:
                    in_margin_db[row, column] = margin
                else:
                    out_margin_db[row, column] = margin
            chance[row, column] = least

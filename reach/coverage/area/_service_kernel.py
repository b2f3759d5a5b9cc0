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
    first_row, last_row, loss_db, cell_m, in_db, out_db, table_step_m, table_lowest_db, table_step_db, table,
    kind, in_margin_db, out_margin_db, chance,
):  # fmt: skip
    """Fill margins and the chance that both directions work, all (n, n), for some rows.

    in_db, out_db : margin of either direction where the path loses nothing. table : (kinds, distances,
    margins) the chance by code of `PathKind`, at multiples of table_step_m, and by the margin of the way in
    from table_lowest_db on in steps of table_step_db; linear between, and its ends beyond them. kind : codes.
    """
    n = loss_db.shape[0]
    half = n // 2
    last_step, last_margin = table.shape[1] - 2, table.shape[2] - 2
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
            place = math.sqrt(dx * dx + dy * dy) * cell_m / table_step_m
            step = min(int(place), last_step)
            part = min(place - step, 1.0)
            margin = in_db - loss
            in_margin_db[row, column] = margin
            out_margin_db[row, column] = out_db - loss
            at = max((margin - table_lowest_db) / table_step_db, 0.0)
            low = min(int(at), last_margin)
            share = min(at - low, 1.0)
            near, far = table[kind[row, column], step], table[kind[row, column], step + 1]
            near_chance = near[low] + share * (near[low + 1] - near[low])
            far_chance = far[low] + share * (far[low + 1] - far[low])
            chance[row, column] = near_chance + part * (far_chance - near_chance)

# mypy: allow-untyped-defs
"""Loop over cells for `overlay`: a site's raster laid over what the sites before it left."""

import math

from numba import njit

from reach.machinery.compiled import fresh


@fresh
@njit(nogil=True, error_model="numpy")
def lay_site(
    first, last, number, node_column, node_row, step, talk_in_db, talk_out_db, chance, ashore,
    best_margin_db, best_chance, best_site, served_by, land,
):  # fmt: skip
    """Rows first..last - 1 of the region; each cell takes the nearest cell of the site, none outside it.

    node_column, node_row : where every step-th cell of the region lies in the site's raster, in its cells,
    whole numbers their middles; straight between. The site with the largest margin is the best, the one
    before where they are equal.
    """
    rows, columns = talk_in_db.shape
    for r in range(first, last):
        node = r // step
        down = (r - node * step) / step
        for c in range(best_site.shape[1]):
            across_node = c // step
            across = (c - across_node * step) / step
            x = _between(node_column, node, across_node, down, across)
            y = _between(node_row, node, across_node, down, across)
            if not (-0.5 <= x < columns - 0.5 and -0.5 <= y < rows - 0.5):
                continue
            i, j = math.floor(y + 0.5), math.floor(x + 0.5)
            if ashore[i, j] > 0.5:
                land[r, c] = True
            margin_db = min(talk_in_db[i, j], talk_out_db[i, j])
            if math.isnan(talk_in_db[i, j]) or math.isnan(talk_out_db[i, j]):
                continue
            if margin_db >= 0.0:
                served_by[r, c] += 1
            if not best_margin_db[r, c] >= margin_db:
                best_margin_db[r, c] = margin_db
                best_chance[r, c] = chance[i, j]
                best_site[r, c] = number


@njit
def _between(nodes, row, column, down, across):
    """Straight between four nodes."""
    upper = nodes[row, column] + across * (nodes[row, column + 1] - nodes[row, column])
    lower = nodes[row + 1, column] + across * (nodes[row + 1, column + 1] - nodes[row + 1, column])
    return upper + down * (lower - upper)

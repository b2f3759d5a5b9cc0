"""The search for sites: which cells are told all about, and how few members are too few to go on with a cell.

Whom a relay in a cell works takes a sweep a member. Where only the best cells are asked for, a first look at
one cell in COARSER squared says what the best will be about, and cells that can no longer come near it are
left aside. What is found is checked: where it does not show that the very same answer would have come of
every cell, all of them are looked at.
"""

from __future__ import annotations

from collections.abc import Callable
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import LeftAside, MemberLayer
from reach.coverage.sweep.grid import LARGEST_CELL_M
from reach.errors import MissingTerrain, NoPlan, OutOfRange
from reach.machinery.progress import Progress, Watch
from reach.plans.sites.portable_sites import EVERY_CELL, Goal, LinkTask, SitePlan, Tie, plan_sites

COARSER = 9  # cells to a side of one of the first look
FIRST_CELLS = 2 * EVERY_CELL // COARSER**2 + 1  # of it, for twice as many as are worked path by path
MEMBERS_A_STEP = 40  # a first look sees fewer ridges: for so many members it may count one too many
WORTH_A_FIRST_LOOK = 200_000  # cells; fewer are swept in no time

Sweeps = Callable[[SearchGrid, NDArray[np.bool_], LeftAside | None, Progress | None], MemberLayer]


class CellsTold(Enum):
    """Of which cells it is told whom a relay there works."""

    EVERY = "every cell searched"
    BEST = "those that one relay may best stand in"


def best_cells(
    grid: SearchGrid,
    candidates: Candidates,
    task: LinkTask,
    sweeps: Sweeps,
    *,
    ranked: int,
    tie: Tie,
    watch: Watch,
) -> tuple[MemberLayer, SitePlan] | None:
    """The layer of the cells one relay may best stand in, and its plan; None where every cell is needed.

    sweeps : the layer of a grid's cells, but for those left aside. ranked : how many single sites.
    The plan is that of every cell: its sites all link as many as any cell left aside may, or more.
    """
    if task.goal is Goal.GROUPS or np.count_nonzero(candidates.mask) < WORTH_A_FIRST_LOOK:
        return None
    aside = _first_look(grid, candidates, task, sweeps, ranked, watch)
    if aside is None:
        return None
    with watch("sweeps, hardest to reach first") as progress:
        layer = sweeps(grid, candidates.mask, aside, progress)
    try:
        plan = plan_sites(layer, candidates, task, singles=ranked, tie=tie)
    except NoPlan:
        return None
    return (layer, plan) if plan.decided_from >= aside.at_least else None


def _first_look(
    grid: SearchGrid, candidates: Candidates, task: LinkTask, sweeps: Sweeps, ranked: int, watch: Watch
) -> LeftAside | None:
    """Which cells may be left aside, by a first look at few; None where that says nothing."""
    coarse = grid.coarser(COARSER)
    if coarse.cell_m > LARGEST_CELL_M or min(coarse.shape) < 1:
        return None
    middles = candidates.mask[COARSER // 2 :: COARSER, COARSER // 2 :: COARSER]
    mask = np.ascontiguousarray(middles[: coarse.rows, : coarse.columns])
    try:
        with watch("a first look at few cells") as progress:
            layer = sweeps(coarse, mask, None, progress)
        found = plan_sites(layer, Candidates(mask, 0.0), task, singles=ranked, worked=FIRST_CELLS)
    except (MissingTerrain, NoPlan, OutOfRange):  # of a grid too coarse for it; every cell will tell
        return None
    at_least = found.decided_from - max(1, len(task.wanted) // MEMBERS_A_STEP)
    order = sorted(layer.call_signs, key=layer.cells_reaching)
    return LeftAside(at_least, tuple(order)) if at_least > 0 else None

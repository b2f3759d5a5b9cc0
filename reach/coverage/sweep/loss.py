"""Path loss from one site to every cell round it."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.coverage.sweep.path import AreaPath
from reach.coverage.sweep.run import SweepGround, SweepResult, SweepSite, sweep_into
from reach.machinery.progress import Progress

if TYPE_CHECKING:
    pass

Raster = NDArray[np.float32]


class Clearance(Enum):
    """Whether the first-Fresnel clearance of every cell is wanted too."""

    SKIP = "skip"
    COMPUTE = "compute"


@dataclass(frozen=True)
class AreaLoss:
    """Basic transmission loss of every cell.

    loss_db : (n, n) float32 as grid.elevation_m; NaN outside the radius, in voids and behind them.
    clearance : (n, n) float32, share of the first Fresnel radius at the worst point, above zero in line of
    sight,
        below zero beyond the horizon (there that of the equivalent edge); None when not wanted.
    kind : (n, n) int8, codes of `reach.propagation.path_kind.PathKind` over bare ground with the heights
        worked at; wanted with the clearance.
    """

    grid: SiteGrid
    path: AreaPath
    loss_db: NDArray[np.float32]
    clearance: NDArray[np.float32] | None = None
    kind: NDArray[np.int8] | None = None

    @property
    def line_of_sight(self) -> NDArray[np.bool_]:
        """(n, n) True where the site is in sight over the bent Earth. Needs clearance."""
        if self.clearance is None:
            raise ValueError("the sweep was run without clearance")
        sight: NDArray[np.bool_] = self.clearance > 0.0
        return sight

    @property
    def unknown_share(self) -> float:
        """Share of the circle's cells for which nothing could be computed."""
        inside = self.grid.inside()
        return float(np.count_nonzero(inside & np.isnan(self.loss_db)) / np.count_nonzero(inside))


def area_loss(
    grid: SiteGrid,
    path: AreaPath,
    clearance: Clearance = Clearance.SKIP,
    *,
    threads: int | None = None,
    progress: Progress | None = None,
) -> AreaLoss:
    """Basic transmission loss from the site to every cell: delta-Bullington or the whole of P.1812, median
    of time.

    Every cell takes the loss at the one point where its radial passes it, within half a cell of its centre.
    Near the site radials are shared, so each path's ground is taken within half a cell of its own line.
    threads : None for every core; the result does not depend on it.
    Source : Rec. ITU-R P.526-15, 4.5; P.1812-7, all ground inland (beta of eq. (30) taken as 1, which over
    land from 30 MHz it is within 0.001). Cost : a time a cell that does not grow with the radius.
    Raises : OutOfRange.
    """
    shape = grid.elevation_m.shape
    wanted = clearance is Clearance.COMPUTE
    result = SweepResult(
        np.full(shape, np.nan, dtype=np.float32),
        np.full(shape, np.nan, dtype=np.float32) if wanted else None,
        np.zeros(shape, dtype=np.int8) if wanted else None,
    )
    site = SweepSite(grid.radius_cells, grid.radius_cells, grid.cell_m, grid.position.latitude_deg)
    ground = SweepGround(grid.elevation_m, grid.cover_m)
    sweep_into(result, ground, site, path, radius_cells=grid.radius_cells, threads=threads, progress=progress)
    return AreaLoss(grid, path, result.loss_db, result.clearance, result.kind)

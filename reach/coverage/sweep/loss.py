"""Path loss from one site to every cell round it: checks, radial layout, the compiled sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.errors import OutOfRange
from reach.machinery.tasks import Progress, over_tasks
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.p1812.model import P1812Settings
from reach.propagation.path_inputs import POLARISATION_CODE
from reach.propagation.smooth_earth import (
    LAND_CONDUCTIVITY,
    LAND_PERMITTIVITY,
    P526,
    P1812,
    surface_admittance,
)
from reach.propagation.variability import location_sigma_db, normal_quantile
from reach.stations import Polarisation

FEWEST_RADIALS = 24  # an octant starts with this many or up to twice as many
NO_LOSS_NU = 0.78  # P.526-15, eq. (31): no loss where nu is below minus this
P1812_LOWEST_MHZ, P1812_HIGHEST_MHZ = 30.0, 6000.0  # P.1812-7, scope
LOWEST_MHZ, HIGHEST_MHZ = 20.0, 10_000.0  # beta = 1 over land from 20 MHz, P.526-15, 3.1.1.1


class AreaModel(Enum):
    """Path-loss models there is a sweep for, by their names."""

    DELTA_BULLINGTON = "delta_bullington"
    P1812 = "p1812"


def area_model(name: str, frequency_mhz: float) -> AreaModel:
    """The sweep for a net's model: P.1812 for its own and for 'auto' where it is valid, delta-Bullington
    for all else."""
    suits = P1812_LOWEST_MHZ <= frequency_mhz <= P1812_HIGHEST_MHZ
    return AreaModel.P1812 if suits and name in ("auto", "p1812") else AreaModel.DELTA_BULLINGTON


class Clearance(Enum):
    """Whether the first-Fresnel clearance of every cell is wanted too."""

    SKIP = "skip"
    COMPUTE = "compute"


@dataclass(frozen=True)
class AreaPath:
    """What an area sweep needs to know besides the ground.

    site_height_m, far_height_m : antenna heights above ground at the site and in the cells, m.
    location_percent : share of places within a cell for which the loss is not exceeded; other than 50 by
    P.1812 only.
    """

    frequency_mhz: float
    site_height_m: float
    far_height_m: float
    k_factor: float = STANDARD_K_FACTOR
    polarisation: Polarisation = Polarisation.VERTICAL
    model: AreaModel = AreaModel.DELTA_BULLINGTON
    location_percent: float = 50.0

    @property
    def radius_km(self) -> float:
        """Effective Earth radius, km. P.1812 keeps its own standard atmosphere unless another k-factor is
        asked for."""
        own = math.isclose(self.k_factor, STANDARD_K_FACTOR) and self.model is AreaModel.P1812
        return P1812Settings().radius_km if own else effective_radius_km(self.k_factor)

    def check(self) -> None:
        """Raises : OutOfRange naming the value and its limits."""
        p1812 = self.model is AreaModel.P1812
        lowest_mhz = P1812_LOWEST_MHZ if p1812 else LOWEST_MHZ
        highest_mhz = P1812_HIGHEST_MHZ if p1812 else HIGHEST_MHZ
        spread = (1.0, 99.0) if p1812 else (50.0, 50.0)
        limits = (
            ("frequency", self.frequency_mhz, lowest_mhz, highest_mhz, "MHz"),
            ("antenna height at the site", self.site_height_m, 0.1, 3000.0, "m"),
            ("antenna height in the cells", self.far_height_m, 0.1, 3000.0, "m"),
            ("k-factor", self.k_factor, 0.5, 10.0, ""),
            ("location percentage", self.location_percent, *spread, "%"),
        )
        for name, value, lowest, highest, unit in limits:
            if not lowest <= value <= highest:
                raise OutOfRange(
                    f"{name} {value:g} {unit}; valid: {lowest:g} to {highest:g} {unit}".replace("  ", " ")
                )


@dataclass(frozen=True)
class AreaLoss:
    """Basic transmission loss of every cell.

    loss_db : (n, n) float32 as grid.elevation_m; NaN outside the radius, in voids and behind them.
    clearance : (n, n) float32, share of the first Fresnel radius at the worst point, above zero in line of
    sight,
        below zero beyond the horizon (there that of the equivalent edge); None when not wanted.
    """

    grid: SiteGrid
    path: AreaPath
    loss_db: NDArray[np.float32]
    clearance: NDArray[np.float32] | None = None

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


def radial_layout(radius_cells: int) -> tuple[int, int]:
    """(radials an octant starts with, splits in two): the outermost radials at most one cell apart.

    Radials are spread evenly in asinh(slope), so that each of them reaches the circle one cell from its
    neighbour.
    """
    needed = math.ceil(math.asinh(1.0) * radius_cells * 1.002) + 1
    levels = max(0, math.floor(math.log2(needed / FEWEST_RADIALS))) if needed > FEWEST_RADIALS else 0
    return -(-needed // (1 << levels)), levels


def location_loss_db(path: AreaPath, *, cell_m: float) -> float:
    """What the location percentage adds to the median, dB. Source : P.1812-7, 4.7 and 4.8, squares of a
    cell's side."""
    if path.location_percent == 50.0:
        return 0.0
    sigma_db = float(
        location_sigma_db(
            frequency_mhz=path.frequency_mhz,
            cell_m=min(max(cell_m, 50.0), 1000.0),
            antenna_height_m=path.far_height_m,
        )
    )
    return float(normal_quantile(path.location_percent / 100.0)) * sigma_db


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
    from reach.coverage.sweep._sweep_kernel import OCTANTS, sweep

    path.check()
    n = grid.elevation_m.shape[0]
    radius = grid.radius_cells
    roots, levels = radial_layout(radius)
    frequency_ghz = path.frequency_mhz * 1e-3
    complete = path.model is AreaModel.P1812
    constants = P1812 if complete else P526
    admittance = surface_admittance(
        1.0,
        frequency_ghz,
        LAND_PERMITTIVITY,
        LAND_CONDUCTIVITY,
        POLARISATION_CODE[path.polarisation],
        constants,
    )
    wavelength_m = constants.wave_m_ghz / frequency_ghz
    if complete:
        free_space_db = 92.4 + 20.0 * math.log10(frequency_ghz)  # P.1812-7, eq. (8)
    else:
        free_space_db = float(FREE_SPACE_CONSTANT_DB) + 20.0 * math.log10(path.frequency_mhz)
    size = n * n
    loss = np.full(size, np.nan, dtype=np.float32)
    wanted = clearance is Clearance.COMPUTE
    clear = np.full(size if wanted else 1, np.nan, dtype=np.float32)
    elevation = np.ascontiguousarray(grid.elevation_m, dtype=np.float32).ravel()
    over_tasks(
        sweep,
        OCTANTS * roots,
        elevation,
        n,
        radius,
        radius,
        float(radius),
        grid.cell_m,
        roots,
        levels,
        path.site_height_m,
        path.far_height_m,
        grid.site_ground_m,
        path.radius_km * 1000.0,
        wavelength_m,
        free_space_db,
        np.float32(constants.x_factor * frequency_ghz ** (1.0 / 3.0)),
        np.float32(constants.y_factor * frequency_ghz ** (2.0 / 3.0)),
        np.float32(math.log2(admittance)),
        np.float32(np.inf if wanted else NO_LOSS_NU**2),
        wanted,
        complete,
        frequency_ghz,
        P1812Settings().sea_level_refractivity_n,
        grid.position.latitude_deg,
        location_loss_db(path, cell_m=grid.cell_m),
        loss,
        clear,
        threads=threads,
        progress=progress,
    )
    middle = radius * n + radius
    near_m = math.hypot(grid.cell_m / 2.0, path.site_height_m - path.far_height_m)
    loss[middle] = free_space_db + 20.0 * math.log10(near_m * 1e-3)
    if wanted:
        clear[middle] = np.inf
    return AreaLoss(grid, path, loss.reshape(n, n), clear.reshape(n, n) if wanted else None)

"""Path loss from one site to every cell round it: checks, radial layout, the compiled sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.errors import OutOfRange
from reach.machinery.tasks import Progress, over_tasks
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.p1812.ducting import low_band_loss_db
from reach.propagation.p1812.model import P1812Settings
from reach.propagation.p1812.troposcatter import troposcatter_loss_db
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

if TYPE_CHECKING:
    from reach.coverage.sweep._tuples_kernel import Link, Mechanisms

Raster = NDArray[np.float32]

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
    n = grid.elevation_m.shape[0]
    wanted = clearance is Clearance.COMPUTE
    loss = np.full((n, n), np.nan, dtype=np.float32)
    clear = np.full((n, n), np.nan, dtype=np.float32) if wanted else None
    site = SweepSite(grid.radius_cells, grid.radius_cells, grid.cell_m, grid.position.latitude_deg)
    sweep_into(
        loss, clear, grid.elevation_m, site, path, radius_cells=grid.radius_cells, threads=threads,
        progress=progress,
    )  # fmt: skip
    return AreaLoss(grid, path, loss, clear)


@dataclass(frozen=True)
class SweepSite:
    """Where a site stands in a raster: its cell, the cells' side, and its latitude, degrees."""

    row: int
    column: int
    cell_m: float
    latitude_deg: float


def sweep_into(
    loss_db: Raster,
    clearance: Raster | None,
    elevation_m: Raster,
    site: SweepSite,
    path: AreaPath,
    *,
    radius_cells: int,
    threads: int | None = None,
    progress: Progress | None = None,
) -> None:
    """Fill loss_db (and clearance, if any) as `area_loss` does, on a raster of any shape round the site.

    loss_db, clearance, elevation_m : (rows, columns) float32, contiguous, row 0 in the north. Cells beyond
    radius_cells, in voids, behind them and within three cells of the raster's edges may keep what they held.
    Raises : OutOfRange.
    """
    from reach.coverage.sweep._sweep_kernel import OCTANTS, sweep
    from reach.coverage.sweep._tuples_kernel import Fan, Ground, Out

    path.check()
    rows, columns = elevation_m.shape
    roots, levels = radial_layout(radius_cells)
    elevation = np.ascontiguousarray(elevation_m, dtype=np.float32)
    site_m = float(elevation[site.row, site.column])
    link = _link(path, want_clearance=clearance is not None)
    over_tasks(
        sweep,
        OCTANTS * roots,
        Ground(
            elevation.ravel(), np.zeros(1, np.float32), columns, site.row, site.column,
            columns - 1 - site.column, site.row, site.column, rows - 1 - site.row, site.cell_m, site_m,
        ),
        Fan(roots, levels, radius_cells),
        link,
        _mechanisms(path, site, radius_cells),
        Out(
            loss_db.reshape(-1),
            np.empty(1, np.float32) if clearance is None else clearance.reshape(-1),
            clearance is not None,
        ),
        threads=threads,
        progress=progress,
    )  # fmt: skip
    near_m = math.hypot(site.cell_m / 2.0, path.site_height_m - path.far_height_m)
    loss_db[site.row, site.column] = float(link.free_space_db) + 20.0 * math.log10(near_m * 1e-3)
    if clearance is not None:
        clearance[site.row, site.column] = np.inf


def _link(path: AreaPath, *, want_clearance: bool) -> Link:
    """Both ends and what lies between them, as the compiled loops take it."""
    from reach.coverage.sweep._tuples_kernel import Link

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
    if complete:
        free_space_db = 92.4 + 20.0 * math.log10(frequency_ghz)  # P.1812-7, eq. (8)
    else:
        free_space_db = float(FREE_SPACE_CONSTANT_DB) + 20.0 * math.log10(path.frequency_mhz)
    return Link(
        tx_m=np.float32(path.site_height_m),
        rx_m=np.float32(path.far_height_m),
        lift_m=np.float32(0.0),
        covered=False,
        open_height_m=np.float32(0.0),
        open_m=0.0,
        radius_m=path.radius_km * 1000.0,
        wavelength_m=constants.wave_m_ghz / frequency_ghz,
        clear_limit=np.float32(np.inf if want_clearance else NO_LOSS_NU**2),
        free_space_db=np.float32(free_space_db),
        x_factor=np.float32(constants.x_factor * frequency_ghz ** (1.0 / 3.0)),
        y_factor=np.float32(constants.y_factor * frequency_ghz ** (2.0 / 3.0)),
        log_admittance=np.float32(math.log2(admittance)),
    )


def _mechanisms(path: AreaPath, site: SweepSite, radius_cells: int) -> Mechanisms:
    """What P.1812 adds to diffraction, as the compiled loops take it."""
    from reach.coverage.sweep._mechanisms_kernel import least_ducting_db
    from reach.coverage.sweep._tuples_kernel import Mechanisms

    wanted = path.model is AreaModel.P1812
    frequency_ghz = path.frequency_mhz * 1e-3
    refractivity_n = P1812Settings().sea_level_refractivity_n
    table = np.zeros(1, np.float32)
    if wanted:
        table = least_ducting_db(radius_cells, float(site.cell_m), float(site.latitude_deg))
    return Mechanisms(
        wanted=wanted,
        frequency_ghz=frequency_ghz,
        latitude_deg=site.latitude_deg,
        ducting_db=table,
        coupling_db=np.float32(102.45 + 20.0 * math.log10(frequency_ghz) + low_band_loss_db(frequency_ghz)),
        mrad_db=np.float32(5e-5 * path.radius_km * frequency_ghz ** (1.0 / 3.0)),
        scatter_db=np.float32(troposcatter_loss_db(1.0, 0.0, frequency_ghz, refractivity_n, 50.0)),
        scatter_waves=np.float32(0.0),
        location_db=location_loss_db(path, cell_m=site.cell_m),
        ends_db=0.0,
    )

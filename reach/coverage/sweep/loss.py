"""Path loss from one site to every cell round it: checks, radial layout, the compiled sweep."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.errors import OutOfRange
from reach.machinery.parallel import over_tasks
from reach.machinery.progress import Progress
from reach.propagation.choose import AUTO, choose_model
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.models import LandSight, PathLossModel
from reach.propagation.p1812.ducting import low_band_loss_db
from reach.propagation.p1812.model import P1812Settings
from reach.propagation.p1812.troposcatter import troposcatter_loss_db
from reach.propagation.path_inputs import POLARISATION_CODE
from reach.propagation.path_kind import CLEAR_SHARE, PathKind
from reach.propagation.smooth_earth import (
    BETA_BY_FORMULA,
    LAND_CONDUCTIVITY,
    LAND_PERMITTIVITY,
    P526,
    P1812,
    surface_admittance,
)
from reach.propagation.typical_land.model import HIGHEST_LAND_M, Cover, TypicalLandModel
from reach.propagation.typical_land.rule import OPEN_LAND_M, USUAL_HEIGHT_M
from reach.propagation.variability import location_sigma_db, normal_quantile
from reach.stations import Polarisation
from reach.units import SPEED_OF_LIGHT_M_PER_S

if TYPE_CHECKING:
    from reach.coverage.sweep._tuples_kernel import Link, Mechanisms

Raster = NDArray[np.float32]

FEWEST_RADIALS = 24  # an octant starts with this many or up to twice as many
NO_LOSS_NU = 0.78  # P.526-15, eq. (31): no loss where nu is below minus this


class AreaModel(Enum):
    """Path-loss models there is a sweep for, by their names."""

    DELTA_BULLINGTON = "delta_bullington"
    P1812 = "p1812"
    TYPICAL_LAND = "typical_land"


def area_model(name: str) -> AreaModel:
    """The sweep for a net's model, the same model as on single paths.

    Raises : OutOfRange for a model there is no sweep for.
    """
    found = AreaModel.TYPICAL_LAND if name == AUTO else AREA_MODELS.get(name)
    if found is None:
        raise OutOfRange(
            f"areas cannot be computed by {name}, and by another model they would not say what its paths say; "
            f"set model in net.toml to {AUTO} or {' or '.join(AREA_MODELS)}."
        )
    return found


AREA_MODELS = {model.value: model for model in AreaModel}


LIMITS_MHZ = {
    AreaModel.DELTA_BULLINGTON: (20.0, 10_000.0),  # beta = 1 over land from 20 MHz, P.526-15, 3.1.1.1
    AreaModel.P1812: (30.0, 6000.0),  # P.1812-7, scope
    AreaModel.TYPICAL_LAND: TypicalLandModel().valid_mhz,
}


class Clearance(Enum):
    """Whether the first-Fresnel clearance of every cell is wanted too."""

    SKIP = "skip"
    COMPUTE = "compute"


@dataclass(frozen=True)
class AreaPath:
    """What an area sweep needs to know besides the ground.

    site_height_m, far_height_m : antenna heights above ground at the site and in the cells, m.
    location_percent : share of places within a cell for which the loss is not exceeded; other than 50 by
    P.1812 only. cover : what stands along the paths (typical land; the others see the raster's alone);
    site_land_m, far_land_m : height of what stands round the site and in the cells, m, 0 for open land;
    None, where nobody said: the usual, or, with a raster, what it has there.
    """

    frequency_mhz: float
    site_height_m: float
    far_height_m: float
    k_factor: float = STANDARD_K_FACTOR
    polarisation: Polarisation = Polarisation.VERTICAL
    model: AreaModel = AreaModel.DELTA_BULLINGTON
    location_percent: float = 50.0
    cover: Cover = Cover.USUAL
    site_land_m: float | None = None
    far_land_m: float | None = None

    @property
    def complete(self) -> bool:
        """Whether more than diffraction is computed."""
        return self.model is not AreaModel.DELTA_BULLINGTON

    @property
    def sees(self) -> LandSight:
        """What the model makes of trees and houses, as its namesake for single paths."""
        return path_model(self).sees

    @property
    def radius_km(self) -> float:
        """Effective Earth radius, km. P.1812 and typical land keep their own standard atmosphere unless
        another k-factor is asked for."""
        own = math.isclose(self.k_factor, STANDARD_K_FACTOR) and self.complete
        return P1812Settings().radius_km if own else effective_radius_km(self.k_factor)

    def check(self) -> None:
        """Raises : OutOfRange naming the value and its limits."""
        lowest_mhz, highest_mhz = LIMITS_MHZ[self.model]
        spread = (1.0, 99.0) if self.model is AreaModel.P1812 else (50.0, 50.0)
        limits = (
            ("frequency", self.frequency_mhz, lowest_mhz, highest_mhz, "MHz"),
            ("antenna height at the site", self.site_height_m, 0.1, 3000.0, "m"),
            ("antenna height in the cells", self.far_height_m, 0.1, 3000.0, "m"),
            ("k-factor", self.k_factor, 0.5, 10.0, ""),
            ("location percentage", self.location_percent, *spread, "%"),
            ("height of what stands round the site", self.site_land_m or 0.0, 0.0, HIGHEST_LAND_M, "m"),
            ("height of what stands in the cells", self.far_land_m or 0.0, 0.0, HIGHEST_LAND_M, "m"),
        )
        for name, value, lowest, highest, unit in limits:
            if not lowest <= value <= highest:
                raise OutOfRange(
                    f"{name} {value:g} {unit}; valid: {lowest:g} to {highest:g} {unit}".replace("  ", " ")
                )


def path_model(path: AreaPath) -> PathLossModel:
    """The same model for single paths."""
    own = math.isclose(path.k_factor, STANDARD_K_FACTOR)
    return choose_model(
        path.model.value, path.frequency_mhz, k_factor=None if own else path.k_factor, cover=path.cover
    )


@dataclass(frozen=True)
class AreaLoss:
    """Basic transmission loss of every cell.

    loss_db : (n, n) float32 as grid.elevation_m; NaN outside the radius, in voids and behind them.
    clearance : (n, n) float32, share of the first Fresnel radius at the worst point, above zero in line of
    sight,
        below zero beyond the horizon (there that of the equivalent edge); None when not wanted.
    kind : (n, n) int8, codes of `reach.propagation.path_kind.PathKind` over bare ground with the heights worked
        at; wanted with the clearance.
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


@dataclass(frozen=True)
class SweepGround:
    """Ground of any shape to sweep over, (rows, columns) float32, contiguous, row 0 in the north.

    cover_m : height of what stands on it, from a land-cover raster; None where there is none.
    """

    elevation_m: Raster
    cover_m: Raster | None = None


@dataclass(frozen=True)
class SweepSite:
    """Where a site stands in a raster: its cell, the cells' side, and its latitude, degrees."""

    row: int
    column: int
    cell_m: float
    latitude_deg: float


@dataclass(frozen=True)
class SweepResult:
    """Rasters of the ground's shape to be filled; None for what is not wanted.

    loss_db : dB, float32; clearance : of the first Fresnel zone, float32, as in `AreaLoss`; kind : code of
    `PathKind`, int8. Cells beyond the radius, in voids, behind them and within three cells of the raster's
    edges may keep what they held.
    """

    loss_db: Raster
    clearance: Raster | None = None
    kind: NDArray[np.int8] | None = None


def sweep_into(
    result: SweepResult,
    ground: SweepGround,
    site: SweepSite,
    path: AreaPath,
    *,
    radius_cells: int,
    threads: int | None = None,
    progress: Progress | None = None,
) -> None:
    """Fill what is wanted of a result as `area_loss` does, on a raster of any shape round the site.

    An open end lower than the usual cover is also taken to stand among houses, and the smaller loss counts,
    as on single paths: that takes twice the time. Raises : OutOfRange.
    """
    path.check()
    turns = _taken_as(_with_site_land(path, ground, site))
    for number, turn in enumerate(turns):
        into = result if number == 0 else SweepResult(np.full_like(result.loss_db, np.nan))
        told = None if progress is None else _part(progress, number, len(turns))
        _sweep_once(into, ground, site, turn, radius_cells, threads, told)
        if number > 0:
            np.fmin(result.loss_db, into.loss_db, out=result.loss_db)


def _part(progress: Progress, number: int, parts: int) -> Progress:
    return lambda done, of: progress(number * of + done, parts * of)


def _with_site_land(path: AreaPath, ground: SweepGround, site: SweepSite) -> AreaPath:
    """The path with what stands round the site, and in the cells where that is the same in all of them."""
    if path.cover is Cover.BARE:
        return replace(path, site_land_m=0.0, far_land_m=0.0)
    if path.cover is Cover.GIVEN and ground.cover_m is not None:
        here_m = path.site_land_m
        if here_m is None:
            here_m = float(ground.cover_m[site.row, site.column])
        return replace(path, site_land_m=here_m)
    return replace(
        path,
        site_land_m=USUAL_HEIGHT_M if path.site_land_m is None else path.site_land_m,
        far_land_m=USUAL_HEIGHT_M if path.far_land_m is None else path.far_land_m,
    )


def _taken_as(path: AreaPath) -> tuple[AreaPath, ...]:
    """The path as it was said, and, where an open end stands below the usual cover, among houses."""
    if path.model is not AreaModel.TYPICAL_LAND or path.cover is not Cover.USUAL:
        return (path,)
    low = (path.site_land_m == 0.0 and path.site_height_m < USUAL_HEIGHT_M) or (
        path.far_land_m == 0.0 and path.far_height_m < USUAL_HEIGHT_M
    )
    if not low:
        return (path,)
    among = replace(
        path,
        site_land_m=path.site_land_m or USUAL_HEIGHT_M,
        far_land_m=path.far_land_m or USUAL_HEIGHT_M,
    )
    return path, among


def _sweep_once(
    result: SweepResult,
    ground: SweepGround,
    site: SweepSite,
    path: AreaPath,
    radius_cells: int,
    threads: int | None,
    progress: Progress | None,
) -> None:
    from reach.coverage.sweep._sweep_kernel import OCTANTS, sweep
    from reach.coverage.sweep._tuples_kernel import Fan, Ground, Out, Site

    rows, columns = ground.elevation_m.shape
    roots, levels = radial_layout(radius_cells)
    elevation = np.ascontiguousarray(ground.elevation_m, dtype=np.float32)
    given = ground.cover_m is not None and _sees_raster(path)
    cover = np.zeros(1, np.float32)
    if given:
        cover = np.ascontiguousarray(ground.cover_m, dtype=np.float32).ravel()
    site_m = float(elevation[site.row, site.column])
    loss_db, clearance, kind = result.loss_db, result.clearance, result.kind
    link = _link(path, given=given, clear_nu=_clear_nu(result))
    worked = path.model is AreaModel.TYPICAL_LAND
    over_tasks(
        sweep,
        OCTANTS * roots,
        Ground(
            elevation.ravel(), cover, columns, site.row, site.column, columns - 1 - site.column, site.row,
            site.column, rows - 1 - site.row, float(site.cell_m), site_m,
        ),
        Fan(roots, levels, radius_cells),
        Site(float(path.site_height_m), path.site_land_m or 0.0, OPEN_LAND_M if given and worked else 0.0),
        link,
        _mechanisms(path, site, radius_cells),
        Out(
            loss_db.reshape(-1),
            np.empty(1, np.float32) if clearance is None else clearance.reshape(-1),
            np.empty(1, np.int8) if kind is None else kind.reshape(-1),
            clearance is not None,
            kind is not None,
        ),
        threads=threads,
        progress=progress,
    )  # fmt: skip
    near_m = math.hypot(site.cell_m / 2.0, path.site_height_m - path.far_height_m)
    loss_db[site.row, site.column] = float(link.free_space_db) + 20.0 * math.log10(near_m * 1e-3)
    if clearance is not None:
        clearance[site.row, site.column] = np.inf
    if kind is not None:
        kind[site.row, site.column] = PathKind.CLEAR.value


def _clear_nu(result: SweepResult) -> float:
    """Minus the nu from which on nothing of a path in sight changes what is wanted of it."""
    if result.clearance is not None:
        return math.inf
    return NO_LOSS_NU if result.kind is None else max(NO_LOSS_NU, CLEAR_SHARE * math.sqrt(2.0))


def _sees_raster(path: AreaPath) -> bool:
    """Whether the paths of a sweep feel a land-cover raster."""
    return path.model is not AreaModel.TYPICAL_LAND or path.cover is Cover.GIVEN


def _link(path: AreaPath, *, given: bool, clear_nu: float) -> Link:
    """Both ends and what lies between them, as the compiled loops take it. given : a raster counts."""
    from reach.coverage.sweep._tuples_kernel import COVERED, EVEN, MIXED, Link

    frequency_ghz = path.frequency_mhz * 1e-3
    constants = P1812 if path.complete else P526
    admittance = surface_admittance(
        1.0,
        frequency_ghz,
        LAND_PERMITTIVITY,
        LAND_CONDUCTIVITY,
        POLARISATION_CODE[path.polarisation],
        constants,
    )
    if path.complete:
        free_space_db = 92.4 + 20.0 * math.log10(frequency_ghz)  # P.1812-7, eq. (8)
    else:
        free_space_db = float(FREE_SPACE_CONSTANT_DB) + 20.0 * math.log10(path.frequency_mhz)
    look, lift_m, far_land_m = (COVERED if given else EVEN), 0.0, path.far_land_m
    worked = path.model is AreaModel.TYPICAL_LAND
    if worked and path.cover is Cover.USUAL:
        lift_m = far_land_m or 0.0
        if path.site_land_m == 0.0 and far_land_m == USUAL_HEIGHT_M:
            look = COVERED
        elif path.site_land_m != far_land_m or far_land_m == 0.0:
            look = MIXED
    if far_land_m is None:
        far_land_m = -1.0 if given else 0.0
    return Link(
        far_height_m=float(path.far_height_m),
        far_land_m=float(far_land_m),
        worked=worked,
        look=look,
        lift_m=np.float32(lift_m),
        open_m=OPEN_LAND_M + 1e-3,
        near_land_m=path.site_land_m or 0.0,
        frequency_ghz=frequency_ghz,
        radius_m=path.radius_km * 1000.0,
        wavelength_m=constants.wave_m_ghz / frequency_ghz,
        clear_limit=np.float32(clear_nu**2),
        free_space_db=np.float32(free_space_db),
        x_factor=np.float32(constants.x_factor * frequency_ghz ** (1.0 / 3.0)),
        y_factor=np.float32(constants.y_factor * frequency_ghz ** (2.0 / 3.0)),
        log_admittance=np.float32(math.log2(admittance)),
        beta_by_formula=constants.beta_rule == BETA_BY_FORMULA,
    )


def _mechanisms(path: AreaPath, site: SweepSite, radius_cells: int) -> Mechanisms:
    """What P.1812 adds to diffraction, as the compiled loops take it."""
    from reach.coverage.sweep._mechanisms_kernel import least_ducting_db
    from reach.coverage.sweep._tuples_kernel import Mechanisms

    wanted = path.complete
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
        scatter_waves=np.float32(
            4.0e9 * math.pi * frequency_ghz / SPEED_OF_LIGHT_M_PER_S
            if path.model is AreaModel.TYPICAL_LAND
            else 0.0
        ),
        location_db=location_loss_db(path, cell_m=site.cell_m),
    )

"""From ground and path to the compiled sweep and its rasters."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.coverage.sweep.path import AreaModel, AreaPath
from reach.machinery.parallel import over_tasks
from reach.machinery.progress import Progress
from reach.propagation.free_space import FREE_SPACE_CONSTANT_DB
from reach.propagation.horizon_kind import CLEAR_SHARE
from reach.propagation.p1812.ducting import low_band_loss_db
from reach.propagation.p1812.model import P1812Settings
from reach.propagation.p1812.troposcatter import troposcatter_loss_db
from reach.propagation.path_inputs import POLARISATION_CODE
from reach.propagation.path_kind import PathKind
from reach.propagation.smooth_earth import (
    BETA_BY_FORMULA,
    LAND_CONDUCTIVITY,
    LAND_PERMITTIVITY,
    P526,
    P1812,
    surface_admittance,
)
from reach.propagation.typical_land.model import Cover
from reach.propagation.typical_land.rule import OPEN_LAND_M, USUAL_HEIGHT_M
from reach.propagation.variability import location_sigma_db, normal_quantile
from reach.units import SPEED_OF_LIGHT_M_PER_S

if TYPE_CHECKING:
    from reach.coverage.sweep._tuples_kernel import Link, Mechanisms

Raster = NDArray[np.float32]


FEW_WANTED = 8  # one cell in so many: with fewer wanted, sectors without any are left out
FEWEST_RADIALS = 24  # an octant starts with this many or up to twice as many
NO_LOSS_NU = 0.78  # P.526-15, eq. (31): no loss where nu is below minus this


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


@dataclass(frozen=True)
class SweepGround:
    """Ground of any shape to sweep over, (rows, columns) float32, contiguous, row 0 in the north.

    cover_m : height of what stands on it, from a land-cover raster, negative where elevation_m holds it
    already (`grid.cover_window_m`); None where there is none. wanted : cells to be looked at; None for all.
    """

    elevation_m: Raster
    cover_m: Raster | None = None
    wanted: NDArray[np.bool_] | None = None


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
    edges, and those that are not wanted, may keep what they held.
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
            here_m = abs(float(ground.cover_m[site.row, site.column]))
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
    from reach.coverage.sweep._wanted_kernel import columns_wanted

    rows, columns = ground.elevation_m.shape
    roots, levels = radial_layout(radius_cells)
    elevation = np.ascontiguousarray(ground.elevation_m, dtype=np.float32)
    given = ground.cover_m is not None and _sees_raster(path)
    cover = np.zeros(1, np.float32)
    if given:
        cover = np.ascontiguousarray(ground.cover_m, dtype=np.float32).ravel()
    wanted = np.ones(1, np.uint8)
    if ground.wanted is not None:
        wanted = np.ascontiguousarray(ground.wanted).view(np.uint8).ravel()
    until = np.full(1, radius_cells, np.int32)
    if ground.wanted is not None and FEW_WANTED * np.count_nonzero(ground.wanted) < ground.wanted.size:
        until = np.zeros(OCTANTS * roots, np.int32)
        columns_wanted(ground.wanted, site.row, site.column, roots, until)
    site_m = float(elevation[site.row, site.column])
    loss_db, clearance, kind = result.loss_db, result.clearance, result.kind
    link = _link(path, given=given, clear_nu=_clear_nu(result))
    worked = path.model is AreaModel.TYPICAL_LAND
    over_tasks(
        sweep,
        OCTANTS * roots,
        Ground(
            elevation.ravel(), cover, wanted, columns, site.row, site.column, columns - 1 - site.column,
            site.row, site.column, rows - 1 - site.row, float(site.cell_m), site_m,
        ),
        Fan(roots, levels, radius_cells, until),
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
    from reach.coverage.sweep._tuples_kernel import COVERED, EVEN, HIGHER, MIXED, Link

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
        elif far_land_m and (path.site_land_m or 0.0) > far_land_m:
            look = HIGHER
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
    waves = 0.0
    if path.model is AreaModel.TYPICAL_LAND:
        waves = 4e9 * math.pi * frequency_ghz / SPEED_OF_LIGHT_M_PER_S
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
        scatter_waves=np.float32(waves),
        location_db=location_loss_db(path, cell_m=site.cell_m),
    )

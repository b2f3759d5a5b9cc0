"""Several sites on one map: which serves a cell best, how many do, and where none does."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.coverage.area._overlay_kernel import lay_site
from reach.coverage.area.raster import Box, RasterFile, box_in, place_in, points_in
from reach.coverage.area.sites import CHANCE, LAND, TALK_IN, TALK_OUT
from reach.coverage.sweep.grid import site_crs
from reach.machinery.parallel import over_tasks
from reach.stations import Position

NO_SITE = -1
NODE_CELLS = 32  # cells between those that are projected


@dataclass(frozen=True)
class RegionCoverage:
    """Several sites over one region, arrays (rows, columns), north row first.

    call_signs : the sites, sorted; best_site : index into them, -1 where no site serves; margin_db, chance
    : of the best known site, weaker direction, NaN where no site knows anything; served_by : how many sites
    serve the cell; land : True on land, where some site's raster tells.
    """

    call_signs: tuple[str, ...]
    crs: str
    transform: Affine
    cell_m: float
    best_site: NDArray[np.int16]
    served_by: NDArray[np.uint8]
    margin_db: NDArray[np.float32]
    chance: NDArray[np.float32]
    land: NDArray[np.bool_]

    @property
    def known(self) -> NDArray[np.bool_]:
        """Cells some site knows something of."""
        known: NDArray[np.bool_] = ~np.isnan(self.margin_db)
        return known

    @property
    def gaps(self) -> NDArray[np.bool_]:
        """Known cells that no site serves."""
        gaps: NDArray[np.bool_] = self.known & (self.served_by == 0)
        return gaps

    def within(self, circles: Sequence[tuple[Position, float]]) -> NDArray[np.bool_]:
        """Cells inside one or more circles of (middle, radius in metres)."""
        rows, columns = self.chance.shape
        t = self.transform
        inside = np.zeros((rows, columns), dtype=np.bool_)
        for middle, radius_m in circles:
            east_m, north_m = place_in(self.crs, middle)
            across = (t.c + (np.arange(columns) + 0.5) * t.a - east_m).astype(np.float32)
            down = (t.f + (np.arange(rows) + 0.5) * t.e - north_m).astype(np.float32)
            inside |= across[None, :] ** 2 + down[:, None] ** 2 <= np.float32(radius_m**2)
        return inside

    def area_km2(self, cells: NDArray[np.bool_]) -> float:
        """Area of the cells marked."""
        return float(np.count_nonzero(cells)) * self.cell_m**2 / 1e6


def overlay(sites: Sequence[tuple[str, Position, RasterFile]], *, cell_m: float) -> RegionCoverage:
    """Lay site rasters over each other on one grid; each cell takes the nearest cell of every site.

    sites : (call sign, position, its raster). A cell is served where the weaker direction is workable or
    better. The best site is the one with the largest margin; ties go to the first call sign.
    """
    ordered = sorted(sites, key=lambda site: site[0])
    if len(ordered) == 1 and math.isclose(ordered[0][2].transform.a, cell_m):
        return _alone(ordered[0][0], ordered[0][2], cell_m)
    middle = Position(
        sum(position.latitude_deg for _, position, _ in ordered) / len(ordered),
        sum(position.longitude_deg for _, position, _ in ordered) / len(ordered),
    )
    crs = site_crs(middle)
    boxes = [box_in(crs, crs=raster.crs, box=_bounds(raster)) for _, _, raster in ordered]
    left = math.floor(min(box[0] for box in boxes) / cell_m) * cell_m
    bottom = math.floor(min(box[1] for box in boxes) / cell_m) * cell_m
    columns = math.ceil((max(box[2] for box in boxes) - left) / cell_m)
    rows = math.ceil((max(box[3] for box in boxes) - bottom) / cell_m)
    transform = Affine(cell_m, 0.0, left, 0.0, -cell_m, bottom + rows * cell_m)
    best_margin = np.full((rows, columns), np.nan, dtype=np.float32)
    best_chance = np.full((rows, columns), np.nan, dtype=np.float32)
    best_site = np.full((rows, columns), NO_SITE, dtype=np.int16)
    served_by = np.zeros((rows, columns), dtype=np.uint8)
    land = np.zeros((rows, columns), dtype=np.bool_)
    for number, (_, _, raster) in enumerate(ordered):
        nodes = _nodes_in(raster, crs, transform, rows=rows, columns=columns)
        layers = [raster.layer(name).values for name in (TALK_IN, TALK_OUT, CHANCE, LAND)]
        over_tasks(
            lay_site, rows, number, *nodes, NODE_CELLS, *layers, best_margin, best_chance, best_site,
            served_by, land,
        )  # fmt: skip
    best_site[served_by == 0] = NO_SITE
    return RegionCoverage(
        tuple(call for call, _, _ in ordered),
        crs,
        transform,
        cell_m,
        best_site,
        served_by,
        best_margin,
        best_chance,
        land,
    )


def _nodes_in(
    raster: RasterFile, crs: str, transform: Affine, *, rows: int, columns: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """(column, row) of a region's cells in a raster, every NODE_CELLS-th, one beyond the last included.

    Between two azimuthal systems a cell bends off the straight line between its nodes by under a thousandth
    of a cell.
    """
    across = np.arange(columns // NODE_CELLS + 2) * NODE_CELLS
    down = np.arange(rows // NODE_CELLS + 2) * NODE_CELLS
    x, y = np.meshgrid(transform.c + (across + 0.5) * transform.a, transform.f + (down + 0.5) * transform.e)
    east, north = points_in(raster.crs, crs=crs, east=x, north=y)
    t = raster.transform
    return (east - t.c) / t.a - 0.5, (north - t.f) / t.e - 0.5


def _alone(call_sign: str, raster: RasterFile, cell_m: float) -> RegionCoverage:
    """One site: its own cells."""
    margin_db = np.minimum(raster.layer(TALK_IN).values, raster.layer(TALK_OUT).values)
    served = margin_db >= 0.0
    return RegionCoverage(
        (call_sign,),
        raster.crs,
        raster.transform,
        cell_m,
        np.where(served, 0, NO_SITE).astype(np.int16),
        served.astype(np.uint8),
        margin_db,
        raster.layer(CHANCE).values,
        raster.layer(LAND).values > 0.5,
    )


def _bounds(raster: RasterFile) -> Box:
    rows, columns = raster.layers[0].values.shape
    t = raster.transform
    return t.c, t.f + rows * t.e, t.c + columns * t.a, t.f

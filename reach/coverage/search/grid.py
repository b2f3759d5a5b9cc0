"""Cells of a search area on one grid that every member shares, and which of them a site may stand in.

The grid lies in an azimuthal equidistant plane centred on the members. Within 100 km of the centre its scale
is true to 4 parts in 100,000 and a geodesic leaves its straight line by under 3 m, far below a cell: sweeps
from anywhere in it may treat the plane as flat ground with true distances.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.coverage.area.memory import SHARE_USED, available_memory_bytes, megabytes
from reach.coverage.sweep.grid import (
    LARGEST_CELL_M,
    SMALLEST_CELL_M,
    cover_window_m,
    fill_small_voids,
    site_crs,
)
from reach.errors import NoPlan, OutOfRange, ReachError
from reach.geodesy import METRES_PER_DEGREE, destination, distance_and_bearing
from reach.inputs.polygons import GeoPolygon, Ring
from reach.inputs.search_area import SiteLimits
from reach.stations import Position
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain
from reach.units import length_in_words, metres_in_words

BoolArray = NDArray[np.bool_]
FloatArray = NDArray[np.float64]

MARGIN_CELLS = 3  # ground beyond the area, so that sweeps and slopes reach its edge
BYTES_A_CELL = 250  # measured: 1.0 GB for 4 million cells, program included, tests/bench/test_bench_sites.py
FLAT_M = 0.05
STRAIGHT_M = 500.0  # a polygon's side is bent onto the plane at least this often


@dataclass(frozen=True)
class SearchGrid:
    """Ground in square cells, row 0 in the north, and the block of it that is searched.

    ground_m : (rows, columns) float32, metres above sea level, NaN where no tile knows.
    west_m, north_m : outer corner of ground_m in the plane of `crs`, m east and north of `centre`.
    first_row, first_column, rows, columns : the searched block within ground_m.
    cover_m : as ground_m and `cover_window_m`; None without a land-cover raster.
    """

    centre: Position
    crs: str
    cell_m: float
    ground_m: NDArray[np.float32]
    west_m: float
    north_m: float
    first_row: int
    first_column: int
    rows: int
    columns: int
    cover_m: NDArray[np.float32] | None = None

    @property
    def shape(self) -> tuple[int, int]:
        """(rows, columns) of the searched block."""
        return self.rows, self.columns

    @property
    def elevation_m(self) -> NDArray[np.float32]:
        """(rows, columns) ground of the searched block."""
        return self.ground_m[self.block]

    @property
    def block(self) -> tuple[slice, slice]:
        """Where the searched block lies in ground_m."""
        return (
            slice(self.first_row, self.first_row + self.rows),
            slice(self.first_column, self.first_column + self.columns),
        )

    @property
    def transform(self) -> Affine:
        """From (column, row) corners of the searched block to the plane."""
        left = self.west_m + self.first_column * self.cell_m
        top = self.north_m - self.first_row * self.cell_m
        return Affine(self.cell_m, 0.0, left, 0.0, -self.cell_m, top)

    def coarser(self, cells: int) -> SearchGrid:
        """Ground in cells of so many cells a side, an odd number, each as high as the one in its middle.

        Its searched block has the cells that lie whole in this one's; beyond what is known its ground goes on
        as at the edge.
        """
        middle, pad = cells // 2, MARGIN_CELLS
        before_rows = (self.first_row + middle) // cells
        before_columns = (self.first_column + middle) // cells
        at_row = self.first_row - before_rows * cells + middle
        at_column = self.first_column - before_columns * cells + middle

        def thinned(values: NDArray[np.float32]) -> NDArray[np.float32]:
            return np.pad(values[at_row::cells, at_column::cells], pad, mode="edge")

        cell_m = self.cell_m * cells
        return replace(
            self,
            cell_m=cell_m,
            ground_m=thinned(self.ground_m),
            west_m=self.west_m + (at_column - middle) * self.cell_m - pad * cell_m,
            north_m=self.north_m - (at_row - middle) * self.cell_m + pad * cell_m,
            first_row=before_rows + pad,
            first_column=before_columns + pad,
            rows=self.rows // cells,
            columns=self.columns // cells,
            cover_m=None if self.cover_m is None else thinned(self.cover_m),
        )

    def columns_m(self) -> FloatArray:
        """(columns,) easting of the cells' centres, m."""
        east: FloatArray = self.transform.c + (np.arange(self.columns, dtype=np.float64) + 0.5) * self.cell_m
        return east

    def rows_m(self) -> FloatArray:
        """(rows,) northing of the cells' centres, m."""
        north: FloatArray = self.transform.f - (np.arange(self.rows, dtype=np.float64) + 0.5) * self.cell_m
        return north

    def place_m(self, position: Position) -> tuple[float, float]:
        """(easting, northing) of a place in the plane, m."""
        east, north = to_plane(self.centre, [position.longitude_deg], [position.latitude_deg])
        return float(east[0]), float(north[0])

    def position(self, cell: int) -> Position:
        """Centre of a cell given by its number, row by row from the north-west."""
        row, column = divmod(int(cell), self.columns)
        east, north = float(self.columns_m()[column]), float(self.rows_m()[row])
        latitude, longitude = destination(
            latitude_deg=self.centre.latitude_deg,
            longitude_deg=self.centre.longitude_deg,
            bearing_deg=math.degrees(math.atan2(east, north)),
            distance_m=math.hypot(east, north),
        )
        return Position(float(latitude), float(longitude))

    def distance_m(self, east_m: float, north_m: float) -> NDArray[np.float32]:
        """(rows, columns) distance of the cells' centres from a point of the plane, m."""
        across = (self.columns_m() - east_m).astype(np.float32)
        down = (self.rows_m() - north_m).astype(np.float32)
        distance: NDArray[np.float32] = np.hypot(down[:, None], across[None, :])
        return distance

    def bearing_deg(self, east_m: float, north_m: float) -> NDArray[np.float32]:
        """(rows, columns) bearing of the cells' centres from a point of the plane, degrees from its north."""
        across = (self.columns_m() - east_m).astype(np.float32)
        up = (self.rows_m() - north_m).astype(np.float32)
        bearing: NDArray[np.float32] = np.degrees(np.arctan2(across[None, :], up[:, None]))
        return bearing


def to_plane(
    centre: Position, longitude_deg: Sequence[float], latitude_deg: Sequence[float]
) -> tuple[FloatArray, FloatArray]:
    """(easting, northing) in the azimuthal equidistant plane of a centre, m."""
    distance_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=centre.latitude_deg,
        from_longitude_deg=centre.longitude_deg,
        to_latitude_deg=np.asarray(latitude_deg),
        to_longitude_deg=np.asarray(longitude_deg),
    )
    azimuth = np.radians(bearing_deg)
    return distance_m * np.sin(azimuth), distance_m * np.cos(azimuth)


def search_grid(
    terrain: Terrain,
    *,
    outline: Sequence[Position],
    margin_m: float = 0.0,
    members: Sequence[Position] = (),
    cell_m: float = 30.0,
    land_cover: LandCover | None = None,
) -> SearchGrid:
    """Ground for a search: the box round `outline`, widened by margin_m, and the ground out to the members.

    The plane is centred on the members, so that areas searched for the same members share their cells: a
    larger one holds those of a smaller one.
    land_cover : what stands on it, where a raster says so.
    Raises : OutOfRange for a cell size out of range; ReachError when it would not fit into memory, naming a
        cell size that would.
    """
    if not SMALLEST_CELL_M <= cell_m <= LARGEST_CELL_M:
        raise OutOfRange(
            f"a cell of {length_in_words(cell_m)}; valid: {length_in_words(SMALLEST_CELL_M)} to "
            f"{length_in_words(LARGEST_CELL_M)}"
        )
    centre = _middle(members or outline)
    east, north = to_plane(centre, [p.longitude_deg for p in outline], [p.latitude_deg for p in outline])
    left = math.floor((float(east.min()) - margin_m) / cell_m)
    right = max(math.ceil((float(east.max()) + margin_m) / cell_m), left + 1)
    bottom = math.floor((float(north.min()) - margin_m) / cell_m)
    top = max(math.ceil((float(north.max()) + margin_m) / cell_m), bottom + 1)
    far_east, far_north = to_plane(
        centre, [p.longitude_deg for p in members], [p.latitude_deg for p in members]
    )
    outer_left = min([left, *np.floor(far_east / cell_m).astype(int)]) - MARGIN_CELLS
    outer_right = max([right, *np.ceil(far_east / cell_m).astype(int)]) + MARGIN_CELLS
    outer_bottom = min([bottom, *np.floor(far_north / cell_m).astype(int)]) - MARGIN_CELLS
    outer_top = max([top, *np.ceil(far_north / cell_m).astype(int)]) + MARGIN_CELLS
    _check_memory((outer_right - outer_left) * (outer_top - outer_bottom), cell_m)
    crs = site_crs(centre)
    box = (outer_left * cell_m, outer_bottom * cell_m, outer_right * cell_m, outer_top * cell_m)
    window = terrain.window(box, crs, cell_m)
    ground, _ = fill_small_voids(window.elevation_m, cell_m=cell_m)
    return SearchGrid(
        centre=centre,
        crs=crs,
        cell_m=cell_m,
        ground_m=ground,
        west_m=box[0],
        north_m=box[3],
        first_row=int(outer_top - top),
        first_column=int(left - outer_left),
        rows=int(top - bottom),
        columns=int(right - left),
        cover_m=None if land_cover is None else cover_window_m(land_cover, terrain, box, crs, cell_m),
    )


def _middle(places: Sequence[Position]) -> Position:
    """The middle of the smallest box round some places."""
    latitudes = [p.latitude_deg for p in places]
    longitudes = [p.longitude_deg for p in places]
    return Position((min(latitudes) + max(latitudes)) / 2.0, (min(longitudes) + max(longitudes)) / 2.0)


def _check_memory(cells: int, cell_m: float) -> None:
    needed, available = cells * BYTES_A_CELL, available_memory_bytes()
    if available is not None and needed > available * SHARE_USED:
        fits_m = math.ceil(cell_m * math.sqrt(needed / (available * SHARE_USED)))
        raise ReachError(
            f"the search area on {length_in_words(cell_m)} cells takes about {megabytes(needed)}, and "
            f"{megabytes(available)} is free; take cells of {length_in_words(fits_m)}, or a smaller area."
        )


@dataclass(frozen=True)
class Candidates:
    """Cells a site may stand in. unknown_share : part of the wanted area without elevation.

    mask : (rows, columns).
    """

    mask: BoolArray
    unknown_share: float


def candidate_cells(grid: SearchGrid, limits: SiteLimits) -> Candidates:
    """The cells that meet every limit: on known ground, not in the sea.

    Sea is ground of exactly 0 m, or below 0 and flat to 5 cm. Lakes are not known to the elevation tiles.
    Raises : NoPlan when no cell is left, naming the limits that would leave some if they were relaxed.
    """
    tests: list[tuple[str, BoolArray]] = []
    for place in limits.around:
        east, north = grid.place_m(place.position)
        words = f"within {length_in_words(place.distance_m)} of {place.name}"
        tests.append((words, grid.distance_m(east, north) <= place.distance_m))
    if limits.inside:
        tests.append(("inside the polygon", polygon_cells(grid, limits.inside)))
    if limits.outside:
        tests.append(("outside the excluded polygon", ~polygon_cells(grid, limits.outside)))
    wanted = np.ones(grid.shape, dtype=np.bool_)
    for _, passed in tests:
        wanted &= passed
    elevation = grid.elevation_m
    known = ~np.isnan(elevation)
    if not wanted.any():
        raise NoPlan(_nothing_left("in the area searched", tests, wanted))
    share = float(np.count_nonzero(wanted & ~known) / np.count_nonzero(wanted))
    if share == 1.0:
        raise NoPlan(
            "the area searched lies wholly outside the elevation tiles; add tiles that cover it, "
            "or move the polygon, the place or the distance."
        )
    tests += [("on known ground", known), ("out of the sea", ~sea_cells(elevation))]
    if limits.lowest_m is not None:
        tests.append((f"at {metres_in_words(limits.lowest_m)} or higher", elevation >= limits.lowest_m))
    if limits.highest_m is not None:
        tests.append((f"at {metres_in_words(limits.highest_m)} or lower", elevation <= limits.highest_m))
    if limits.steepest_deg is not None:
        tests.append(
            (f"no steeper than {limits.steepest_deg:g} degrees", slope_deg(grid) <= limits.steepest_deg)
        )
    mask = np.ones(grid.shape, dtype=np.bool_)
    for _, passed in tests:
        mask &= passed
    if not mask.any():
        raise NoPlan(_nothing_left("to put a site in", tests, wanted & known & ~sea_cells(elevation)))
    return Candidates(mask, share)


def _nothing_left(what: str, tests: Sequence[tuple[str, BoolArray]], land: BoolArray) -> str:
    """Which single limit to relax, with how many cells that would leave; else the limits that leave none.

    land : known ground of the area searched; where there is none, no limit is to blame.
    """
    helps = []
    for skipped in range(len(tests)):
        left = np.ones(tests[0][1].shape, dtype=np.bool_)
        for number, (_, passed) in enumerate(tests):
            if number != skipped:
                left &= passed
        count = int(np.count_nonzero(left))
        if count and tests[skipped][0] not in ("on known ground", "out of the sea"):
            helps.append(f'"{tests[skipped][0]}" ({count:,} cells without it)')
    asked = "; ".join(words for words, _ in tests)
    if helps:
        return f"no cell is left {what} ({asked}); relax {' or '.join(helps)}."
    empty = [f'"{words}"' for words, passed in tests if not passed.any()]
    tested = dict(tests)
    if "out of the sea" in tested and not land.any():
        rest = ", and ground beyond the elevation tiles" if not tested["on known ground"].all() else ""
        return f"no cell is left {what} ({asked}); there is only sea{rest}: search somewhere else."
    if empty:
        return f"no cell is left {what} ({asked}); nothing at all is {' or '.join(empty)}: relax that first."
    return f"no cell is left {what} ({asked}); no single one of these helps: relax two or more."


def slope_deg(grid: SearchGrid) -> NDArray[np.float32]:
    """(rows, columns) steepness of the ground over two cells, degrees; NaN beside unknown ground."""
    rows, columns = grid.block
    z = grid.ground_m[rows.start - 1 : rows.stop + 1, columns.start - 1 : columns.stop + 1]
    east = (z[1:-1, 2:] - z[1:-1, :-2]) / np.float32(2.0 * grid.cell_m)
    north = (z[:-2, 1:-1] - z[2:, 1:-1]) / np.float32(2.0 * grid.cell_m)
    slope: NDArray[np.float32] = np.degrees(np.arctan(np.hypot(east, north)))
    return slope


def sea_cells(elevation_m: NDArray[np.floating]) -> BoolArray:
    """Cells of open sea: exactly 0 m, or below 0 m and within 5 cm of the neighbours on all four sides."""
    sea: BoolArray = elevation_m == 0.0
    below = elevation_m < 0.0
    if below.any():
        level_east = np.abs(elevation_m[:, 1:] - elevation_m[:, :-1]) < FLAT_M
        level_south = np.abs(elevation_m[1:] - elevation_m[:-1]) < FLAT_M
        below[:, :-1] &= level_east
        below[:, 1:] &= level_east
        below[:-1] &= level_south
        below[1:] &= level_south
        sea |= below
    return sea


def polygon_cells(grid: SearchGrid, polygons: Sequence[GeoPolygon]) -> BoolArray:
    """(rows, columns): cells whose centre lies in any of the polygons."""
    from shapely import MultiPolygon, Polygon, box, contains_xy, prepare
    from shapely.ops import unary_union

    t = grid.transform
    edges = box(t.c, t.f - grid.rows * grid.cell_m, t.c + grid.columns * grid.cell_m, t.f)
    shapes = [
        Polygon(_bent(grid.centre, polygon.outer), [_bent(grid.centre, hole) for hole in polygon.holes])
        for polygon in polygons
    ]
    whole = unary_union(MultiPolygon([s for s in shapes]) if len(shapes) == 1 else shapes).intersection(edges)
    inside = np.zeros(grid.shape, dtype=np.bool_)
    if whole.is_empty:
        return inside
    prepare(whole)
    east, north = grid.columns_m(), grid.rows_m()
    left, bottom, right, top = whole.bounds
    columns = np.flatnonzero((east >= left) & (east <= right))
    for row in np.flatnonzero((north >= bottom) & (north <= top)):
        inside[row, columns] = contains_xy(whole, east[columns], np.full(columns.size, north[row]))
    return inside


def _bent(centre: Position, ring: Ring) -> list[tuple[float, float]]:
    """A ring of longitudes and latitudes in the plane, its straight sides followed."""
    longitudes: list[float] = []
    latitudes: list[float] = []
    for (lon0, lat0), (lon1, lat1) in itertools.pairwise(ring):
        length_m = METRES_PER_DEGREE * math.hypot(lat1 - lat0, (lon1 - lon0) * math.cos(math.radians(lat0)))
        steps = min(2000, max(1, math.ceil(length_m / STRAIGHT_M)))
        share = np.arange(steps) / steps
        longitudes += list(lon0 + (lon1 - lon0) * share)
        latitudes += list(lat0 + (lat1 - lat0) * share)
    east, north = to_plane(centre, longitudes, latitudes)
    return list(zip(east.tolist(), north.tolist()))

"""The ground round a site on square cells: a grid with the site in the middle, radials straight, distances
true."""

from __future__ import annotations

import math
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.errors import Fault, InputProblem, MissingTerrain, OutOfRange
from reach.stations import Position
from reach.terrain.clutter import LandCover
from reach.terrain.tiles import Terrain
from reach.units import length_in_words

LONGEST_GAP_M = 200.0  # voids up to this across are filled, as along single paths
SHORTEST_RADIUS_CELLS = 3
LARGEST_RADIUS_M = 500_000.0
SMALLEST_CELL_M, LARGEST_CELL_M = 1.0, 1000.0


@dataclass(frozen=True)
class SiteGrid:
    """Elevation round a site: an odd square of cells, the site at the centre of the middle one.

    elevation_m : (n, n) float32, n = 2 radius_cells + 1, row 0 in the north, NaN where unknown.
    cell_m : side of a cell, m; crs : its coordinate system, as text; transform : (column, row) corners to it.
    position : the site; filled_cells : cells of small voids filled from their rims.
    cover_m : (n, n) float32 as `cover_window_m`; None without a land-cover raster.
    """

    position: Position
    elevation_m: NDArray[np.float32]
    cell_m: float
    crs: str
    transform: Affine
    filled_cells: int = 0
    cover_m: NDArray[np.float32] | None = None

    @property
    def radius_cells(self) -> int:
        """Cells from the middle one to the edge."""
        return int(self.elevation_m.shape[0] - 1) // 2

    @property
    def radius_m(self) -> float:
        """The same in metres."""
        return self.radius_cells * self.cell_m

    @property
    def site_ground_m(self) -> float:
        """Ground at the site, m above sea level."""
        return float(self.elevation_m[self.radius_cells, self.radius_cells])

    def inside(self) -> NDArray[np.bool_]:
        """(n, n): cells whose centres lie within the radius."""
        offset = np.arange(-self.radius_cells, self.radius_cells + 1)
        half = [math.isqrt(square) for square in (self.radius_cells**2 - offset**2).tolist()]
        inside: NDArray[np.bool_] = abs(offset).astype(np.int32) <= np.array(half, dtype=np.int32)[:, None]
        return inside

    def distance_m(self) -> NDArray[np.float32]:
        """(n, n) distance of every cell's centre from the site, m."""
        offset = np.arange(-self.radius_cells, self.radius_cells + 1, dtype=np.float32) * np.float32(
            self.cell_m
        )
        distance: NDArray[np.float32] = np.hypot(offset[:, None], offset[None, :])
        return distance

    def bearing_deg(self) -> NDArray[np.float32]:
        """(n, n) bearing of every cell's centre from the site, degrees clockwise from true north, 0 at the
        site."""
        offset = np.arange(-self.radius_cells, self.radius_cells + 1, dtype=np.float32)
        bearing: NDArray[np.float32] = np.mod(
            np.degrees(np.arctan2(offset[None, :], -offset[:, None])), np.float32(360.0)
        )
        return bearing


def site_crs(position: Position) -> str:
    """Azimuthal equidistant system centred on a place: radials are geodesics, distances from the centre
    true."""
    return (
        f"+proj=aeqd +lat_0={position.latitude_deg:.9f} +lon_0={position.longitude_deg:.9f}"
        " +datum=WGS84 +units=m +no_defs"
    )


def radius_in_cells(*, radius_m: float, cell_m: float) -> int:
    """Whole cells that hold the radius.

    Raises : OutOfRange for a radius or cell out of range, or a radius of only a few cells.
    """
    if not SMALLEST_CELL_M <= cell_m <= LARGEST_CELL_M:
        raise OutOfRange(
            f"a cell of {length_in_words(cell_m)}; valid: {length_in_words(SMALLEST_CELL_M)} to "
            f"{length_in_words(LARGEST_CELL_M)}"
        )
    if not 0.0 < radius_m <= LARGEST_RADIUS_M:
        raise OutOfRange(
            f"a radius of {length_in_words(radius_m)}; valid: above 0, up to "
            f"{length_in_words(LARGEST_RADIUS_M)}"
        )
    cells = math.ceil(radius_m / cell_m - 1e-9)
    if cells < SHORTEST_RADIUS_CELLS:
        raise OutOfRange(
            f"a radius of {length_in_words(radius_m)} is only {cells} cells of {length_in_words(cell_m)}; "
            "widen it or take smaller cells"
        )
    return cells


def site_grid(terrain: Terrain, position: Position, *, radius_m: float, cell_m: float, who: str) -> SiteGrid:
    """Cut the ground round a site out of the user's tiles.

    who : what stands there, for messages. Voids up to 200 m across are filled from their rims; larger ones
    and ground beyond the tiles stay NaN.
    Raises : OutOfRange as `radius_in_cells`; MissingTerrain when the site itself lies outside the tiles.
    """
    cells = radius_in_cells(radius_m=radius_m, cell_m=cell_m)
    terrain.elevation_at(position, who)
    edge = (cells + 0.5) * cell_m
    crs = site_crs(position)
    window = terrain.window((-edge, -edge, edge, edge), crs, cell_m)
    elevation, filled = fill_small_voids(window.elevation_m, cell_m=cell_m)
    if math.isnan(float(elevation[cells, cells])):
        raise MissingTerrain(
            f"{who}: the site lies in a void of the elevation tiles; add a tile that covers it."
        )
    return SiteGrid(position, elevation, cell_m, crs, window.transform, filled)


def opened_land_cover(
    path: str | None, heights_m: Sequence[tuple[str, float]]
) -> AbstractContextManager[LandCover | None]:
    """A net's land-cover raster for `with`; None where it names none. Raises : InputProblem."""
    return nullcontext() if path is None else LandCover(path, overrides=heights_m)


def with_cover(grid: SiteGrid, land_cover: LandCover, terrain: Terrain) -> SiteGrid:
    """The grid with the height of what stands on its ground, from a land-cover raster."""
    side_m = grid.elevation_m.shape[0] * grid.cell_m
    t = grid.transform
    box = (t.c, t.f - side_m, t.c + side_m, t.f)
    return replace(grid, cover_m=cover_window_m(land_cover, terrain, box, grid.crs, grid.cell_m))


def cover_window_m(
    land_cover: LandCover,
    terrain: Terrain,
    box: tuple[float, float, float, float],
    crs: str,
    cell_m: float,
) -> NDArray[np.float32]:
    """(rows, columns) height of what stands on the cells of a box, m, from a land-cover raster.

    Negative where the elevation, of a surface model, holds it already: as on single paths it then stands
    round stations there and adds nothing along the way.
    """
    cover_m = land_cover.window_m(box, crs, cell_m)
    if terrain.is_surface_model:
        rows = terrain.surface_window(box, crs, cell_m)
        np.negative(cover_m, out=cover_m, where=rows & (cover_m > 0.0))
    return cover_m


def fill_small_voids(elevation_m: NDArray[np.float32], *, cell_m: float) -> tuple[NDArray[np.float32], int]:
    """Elevation with small voids filled from their rims, and how many cells that were.

    A void is small when it has no more cells than a square of 200 m.
    """
    void = np.isnan(elevation_m)
    if not void.any():
        return elevation_m, 0
    from rasterio.features import sieve
    from rasterio.fill import fillnodata

    across = max(1, int(LONGEST_GAP_M // cell_m))
    marks = void.astype(np.uint8)
    small = void & (sieve(marks, across * across + 1, connectivity=8) == 0)
    if not small.any():
        return elevation_m, 0
    patched = fillnodata(
        np.where(void, np.float32(0.0), elevation_m), mask=~void, max_search_distance=float(across + 1)
    )
    return np.where(small, patched, elevation_m).astype(np.float32), int(small.sum())


def sea_cells(elevation_m: NDArray[np.float32]) -> NDArray[np.bool_]:
    """Cells taken for sea, as the shaded relief tints them: at exactly 0 m, or flat (5 cm) below it."""
    sea: NDArray[np.bool_] = elevation_m == 0.0
    below = elevation_m < 0.0  # NaN compares false, here and above
    if not below.any():
        return sea
    for axis in (0, 1):
        level = np.abs(np.diff(elevation_m, axis=axis)) < 0.05
        before: list[slice] = [slice(None), slice(None)]
        after: list[slice] = [slice(None), slice(None)]
        before[axis], after[axis] = slice(None, -1), slice(1, None)
        below[tuple(before)] &= level
        below[tuple(after)] &= level
    return sea | below


def grid_from_raster(path: Path, *, easting_m: float, northing_m: float, radius_m: float) -> SiteGrid:
    """Read the ground round a site from one raster of square metric cells, cell for cell, nothing resampled.

    The site moves to the centre of its cell. Raises : InputProblem when the raster is not of that kind or
    does not hold the whole circle.
    """
    import rasterio
    from rasterio.warp import transform as to_lonlat
    from rasterio.windows import Window

    with rasterio.open(path) as raster:
        across, down = raster.transform.a, -raster.transform.e
        if raster.crs is None or not raster.crs.is_projected or not math.isclose(across, down, rel_tol=1e-9):
            raise InputProblem(
                Fault("the raster has no square cells in metres", "warp it first", file=path.name)
            )
        cells = radius_in_cells(radius_m=radius_m, cell_m=across)
        column = math.floor((easting_m - raster.transform.c) / across)
        row = math.floor((raster.transform.f - northing_m) / down)
        window = Window(column - cells, row - cells, 2 * cells + 1, 2 * cells + 1)
        if column < cells or row < cells or column + cells >= raster.width or row + cells >= raster.height:
            raise InputProblem(
                Fault("the raster does not hold the whole circle", "take a smaller radius", file=path.name)
            )
        elevation = raster.read(1, window=window)
        if elevation.dtype != np.float32:
            elevation = elevation.astype(np.float32)
        if raster.nodata is not None and not math.isnan(raster.nodata):
            elevation[elevation == raster.nodata] = np.nan
        transform = raster.window_transform(window)
        middle = (cells + 0.5) * across
        longitude, latitude = to_lonlat(
            raster.crs, "EPSG:4326", [transform.c + middle], [transform.f - middle]
        )
        crs = raster.crs.to_wkt()
    return SiteGrid(Position(latitude[0], longitude[0]), elevation, float(across), crs, transform)

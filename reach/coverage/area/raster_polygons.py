"""Coverage as polygons, one (many-part) outline a grade, for maps elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.links.grade import GRADES, Grade

SMALLEST_PATCH_CELLS = 30  # smaller specks join what surrounds them

Rings = list[list[list[float]]]  # rings of [longitude, latitude], outer first


@dataclass(frozen=True)
class GradePolygon:
    """Where a grade holds. polygons : GeoJSON MultiPolygon coordinates, WGS 84; area_km2 : of the cells
    themselves; land_km2 : of those of them that are land, None where that was not asked."""

    grade: Grade
    area_km2: float
    polygons: list[Rings]
    land_km2: float | None = None

    @property
    def sea_km2(self) -> float:
        """Area that is not land; NaN where that was not asked."""
        return float("nan") if self.land_km2 is None else self.area_km2 - self.land_km2


def grade_polygons(
    readability: NDArray[np.integer[Any]],
    *,
    cell_m: float,
    crs: str,
    transform: Affine,
    known: NDArray[np.bool_],
    land: NDArray[np.bool_] | None = None,
) -> tuple[GradePolygon, ...]:
    """Outlines of the grades workable and up and weak, best first; a grade that holds nowhere is left out.

    readability : (rows, columns) 1 to 5; known : where anything could be computed; land : True on
    land. Specks under 30 cells are
    smoothed away in the outlines, not in the areas. Outer rings run counter-clockwise (RFC 7946).
    """
    from rasterio.features import shapes, sieve
    from rasterio.warp import transform_geom

    classes = np.where(known, readability, 0).astype(np.uint8)
    smooth = sieve(classes, SMALLEST_PATCH_CELLS)
    found: dict[int, list[Rings]] = {grade.readability: [] for grade in GRADES}
    mask = smooth > Grade.NONE.readability
    for geometry, value in shapes(smooth, mask=mask, transform=transform):
        lonlat = transform_geom(crs, "EPSG:4326", geometry, precision=6)
        found[int(value)].append([_wound(ring, outer=i == 0) for i, ring in enumerate(lonlat["coordinates"])])

    def km2(cells: NDArray[np.bool_]) -> float:
        return float(np.count_nonzero(cells)) * cell_m**2 / 1e6

    return tuple(
        GradePolygon(
            grade,
            km2(classes == grade.readability),
            found[grade.readability],
            None if land is None else km2(land & (classes == grade.readability)),
        )
        for grade in GRADES
        if grade is not Grade.NONE and found[grade.readability]
    )


def _wound(ring: Sequence[Sequence[float]], *, outer: bool) -> list[list[float]]:
    """The ring counter-clockwise when outer, clockwise when a hole."""
    points = np.asarray(ring, dtype=np.float64)
    x, y = points[:, 0] - points[0, 0], points[:, 1] - points[0, 1]
    counter_clockwise = float(np.sum(x[:-1] * y[1:] - x[1:] * y[:-1])) > 0.0
    listed = [[float(a), float(b)] for a, b in points]
    return listed if counter_clockwise == outer else listed[::-1]

"""Coverage as polygons, one (many-part) outline a grade, for maps elsewhere: GeoJSON and KML."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any
from xml.sax.saxutils import escape

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.links.grade import GRADES, Grade

SMALLEST_PATCH_CELLS = 30  # smaller specks join what surrounds them
CAUTION = "A prediction is not a promise: test on the air before you rely on it."

Rings = list[list[list[float]]]  # rings of [longitude, latitude], outer first


@dataclass(frozen=True)
class GradePolygon:
    """Where a grade holds. polygons : GeoJSON MultiPolygon coordinates, WGS 84; area_km2 : of the cells
    themselves; land_km2 : of those of them that are land, None where that was not asked."""

    grade: Grade
    area_km2: float
    polygons: list[Rings]
    land_km2: float | None = None


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


def geojson_text(polygons: Sequence[GradePolygon], *, title: str) -> str:
    """A FeatureCollection (RFC 7946), a feature a grade with its word, readability and area."""
    features = [
        {
            "type": "Feature",
            "properties": {
                "title": title,
                "grade": polygon.grade.word,
                "readability": polygon.grade.readability,
                "area_km2": round(polygon.area_km2, 3),
                **({} if polygon.land_km2 is None else {"land_km2": round(polygon.land_km2, 3)}),
                "caution": CAUTION,
            },
            "geometry": {"type": "MultiPolygon", "coordinates": polygon.polygons},
        }
        for polygon in polygons
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False) + "\n"


def kml_text(polygons: Sequence[GradePolygon], *, title: str, colours: dict[Grade, str]) -> str:
    """A KML 2.2 document, a placemark a grade. colours : grade to #rrggbb."""
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>',
        f"<name>{escape(title)}</name><description>{escape(CAUTION)}</description>",
    ]
    for polygon in polygons:
        colour = colours[polygon.grade].lstrip("#")
        blue_first = f"99{colour[4:6]}{colour[2:4]}{colour[0:2]}"
        words = f"{polygon.grade.word}, R{polygon.grade.readability}: {polygon.area_km2:.1f} km\u00b2"
        parts.append(
            f"<Placemark><name>{escape(words)}</name><Style><PolyStyle><color>{blue_first}</color>"
            "<outline>0</outline></PolyStyle></Style><MultiGeometry>"
        )
        for rings in polygon.polygons:
            outer, *holes = (" ".join(f"{x:.6f},{y:.6f}" for x, y in ring) for ring in rings)
            parts.append(
                "<Polygon><outerBoundaryIs><LinearRing><coordinates>"
                f"{outer}</coordinates></LinearRing></outerBoundaryIs>"
                + "".join(
                    f"<innerBoundaryIs><LinearRing><coordinates>{hole}</coordinates></LinearRing></innerBoundaryIs>"
                    for hole in holes
                )
                + "</Polygon>"
            )
        parts.append("</MultiGeometry></Placemark>")
    parts.append("</Document></kml>\n")
    return "\n".join(parts)

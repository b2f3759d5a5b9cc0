"""Coverage outlines for maps elsewhere: GeoJSON and KML, a feature a grade."""

from __future__ import annotations

import json
from collections.abc import Sequence
from xml.sax.saxutils import escape

from reach.coverage.area.raster_polygons import GradePolygon
from reach.drawings.style.palette import GRADE_LINES

CAUTION = "A prediction is not a promise: test on the air before you rely on it."


def geojson_text(polygons: Sequence[GradePolygon], *, title: str) -> str:
    """A FeatureCollection (RFC 7946), a feature a grade: its word, readability, and area of land and sea."""
    features = [
        {
            "type": "Feature",
            "properties": {
                "title": title,
                "grade": polygon.grade.word,
                "readability": polygon.grade.readability,
                "area_km2": round(polygon.area_km2, 3),
                **_ashore(polygon),
                "caution": CAUTION,
            },
            "geometry": {"type": "MultiPolygon", "coordinates": polygon.polygons},
        }
        for polygon in polygons
    ]
    return json.dumps({"type": "FeatureCollection", "features": features}, ensure_ascii=False) + "\n"


def _ashore(polygon: GradePolygon) -> dict[str, float]:
    """Land and sea apart, where that was asked."""
    if polygon.land_km2 is None:
        return {}
    return {"land_km2": round(polygon.land_km2, 3), "sea_km2": round(polygon.sea_km2, 3)}


def _area_words(polygon: GradePolygon) -> str:
    """'10.0 km2 of land and 2.3 km2 of sea'; no word of sea where there is none."""
    if polygon.land_km2 is None:
        return f"{polygon.area_km2:,.1f} km\u00b2"
    parts = {"land": polygon.land_km2, "sea": polygon.sea_km2}
    said = [
        f"{area:,.1f} km\u00b2 of {where}" for where, area in parts.items() if where == "land" or area >= 0.05
    ]
    return " and ".join(said)


def kml_text(polygons: Sequence[GradePolygon], *, title: str) -> str:
    """A KML 2.2 document, a placemark a grade in its own colour; its name says how much is land and sea."""
    parts = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<kml xmlns="http://www.opengis.net/kml/2.2"><Document>',
        f"<name>{escape(title)}</name><description>{escape(CAUTION)}</description>",
    ]
    for polygon in polygons:
        colour = GRADE_LINES[polygon.grade].colour.lstrip("#")
        blue_first = f"99{colour[4:6]}{colour[2:4]}{colour[0:2]}"
        words = f"{polygon.grade.word}, R{polygon.grade.readability}: {_area_words(polygon)}"
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

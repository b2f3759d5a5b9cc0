"""Coverage outlines as GeoJSON and KML: text stays text, areas and shapes arrive whole."""

from __future__ import annotations

import json
from xml.etree import ElementTree

import pytest
from shapely.geometry import shape

from reach.coverage.area.raster_polygons import GradePolygon
from reach.drawings.exports.outlines import CAUTION, geojson_text, kml_text
from reach.drawings.style.palette import GRADE_LINES
from reach.links.grade import Grade

KML = {"k": "http://www.opengis.net/kml/2.2"}
TITLE = '<b>&"QK3RA"</b> {{ 7 }}'


def square(west: float, side: float) -> list[list[float]]:
    """A counter-clockwise ring of (longitude, latitude) with its south-west corner at 41 N."""
    east, south, north = west + side, 41.0, 41.0 + side
    return [[west, south], [east, south], [east, north], [west, north], [west, south]]


@pytest.fixture
def outlines() -> tuple[GradePolygon, ...]:
    hole = [[-37.8, 41.2], [-37.8, 41.4], [-37.6, 41.4], [-37.6, 41.2], [-37.8, 41.2]]
    return (
        GradePolygon(Grade.CLEAR, 12.3456, [[square(-39.0, 0.25)], [square(-38.5, 0.125)]], 10.0004),
        GradePolygon(Grade.WEAK, 80.0, [[square(-38.0, 0.5), hole]]),
    )


def test_geojson_holds_shapes_grades_and_areas(outlines: tuple[GradePolygon, ...]) -> None:
    document = json.loads(geojson_text(outlines, title=TITLE))
    clear, weak = document["features"]
    assert clear["properties"] == {
        "title": TITLE, "grade": "clear", "readability": 5, "area_km2": 12.346, "land_km2": 10.0,
        "sea_km2": 2.345, "caution": CAUTION,
    }  # fmt: skip
    assert weak["properties"]["grade"] == "weak" and "land_km2" not in weak["properties"]
    assert shape(clear["geometry"]).area == pytest.approx(0.25**2 + 0.125**2)
    assert shape(weak["geometry"]).area == pytest.approx(0.5**2 - 0.2**2)


def test_kml_holds_shapes_grades_and_colours(outlines: tuple[GradePolygon, ...]) -> None:
    root = ElementTree.fromstring(kml_text(outlines, title=TITLE))
    assert root.findtext("k:Document/k:name", namespaces=KML) == TITLE
    assert root.findtext("k:Document/k:description", namespaces=KML) == CAUTION
    clear, weak = root.findall("k:Document/k:Placemark", KML)
    assert (
        clear.findtext("k:name", namespaces=KML) == "clear, R5: 10.0 km\u00b2 of land and 2.3 km\u00b2 of sea"
    )
    assert weak.findtext("k:name", namespaces=KML) == "weak, R2: 80.0 km\u00b2"
    assert len(clear.findall("k:MultiGeometry/k:Polygon", KML)) == 2
    (polygon,) = weak.findall("k:MultiGeometry/k:Polygon", KML)
    corners = polygon.findtext("k:innerBoundaryIs/k:LinearRing/k:coordinates", namespaces=KML)
    assert corners is not None and corners.split()[0] == "-37.800000,41.200000"
    for mark, grade in ((clear, Grade.CLEAR), (weak, Grade.WEAK)):
        colour = mark.findtext("k:Style/k:PolyStyle/k:color", namespaces=KML)
        red, green, blue = (GRADE_LINES[grade].colour[i : i + 2] for i in (1, 3, 5))
        assert colour == f"99{blue}{green}{red}"  # KML writes alpha, blue, green, red

"""Outlines by grade: valid shapes of the right size and winding."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from shapely.geometry import MultiPolygon, Point, shape

from reach.coverage.area.raster_polygons import GradePolygon, grade_polygons
from reach.coverage.sweep.grid import site_crs
from reach.links.grade import Grade
from tests.coverage.conftest import SEA_SITE

CELL_M = 50.0
SIDE = 200
WHERE = {"crs": site_crs(SEA_SITE), "transform": Affine(CELL_M, 0, -5000, 0, -CELL_M, 5000), "cell_m": CELL_M}


def rings() -> np.ndarray:
    """A clear disc of 2 km, solid to 3 km, a hole of nothing between 3.5 and 4 km, weak to 4.5 km; one
    speck."""
    offset = (np.arange(SIDE) + 0.5) * CELL_M - 5000.0
    distance = np.hypot(offset[:, None], offset[None, :])
    grade = np.ones((SIDE, SIDE), np.int8)
    grade[distance < 4500.0] = 2
    grade[(distance >= 3500.0) & (distance < 4000.0)] = 1
    grade[distance < 3000.0] = 4
    grade[distance < 2000.0] = 5
    grade[2:4, 2:4] = 5  # a speck of 4 cells far from everything
    return grade


def outline_of(polygon: GradePolygon) -> MultiPolygon:
    return shape({"type": "MultiPolygon", "coordinates": polygon.polygons})


def test_outlines_have_the_area_and_the_place_of_their_cells() -> None:
    known = np.ones((SIDE, SIDE), bool)
    found = grade_polygons(rings(), known=known, **WHERE)
    assert [polygon.grade for polygon in found] == [Grade.CLEAR, Grade.SOLID, Grade.WEAK]
    clear, solid, _ = found
    assert clear.area_km2 == pytest.approx(np.pi * 4.0, rel=0.01)
    assert solid.area_km2 == pytest.approx(np.pi * (9.0 - 4.0), rel=0.01)
    assert len(clear.polygons) == 1  # the speck is gone
    for polygon in found:
        outline = outline_of(polygon)
        assert outline.is_valid
        for part in outline.geoms:
            assert part.exterior.is_ccw and not any(hole.is_ccw for hole in part.interiors)
    disc = outline_of(clear)
    assert disc.contains(Point(SEA_SITE.longitude_deg, SEA_SITE.latitude_deg))
    ring = outline_of(solid)
    assert not ring.contains(Point(SEA_SITE.longitude_deg, SEA_SITE.latitude_deg))
    from pyproj import Geod

    area, _ = Geod(ellps="WGS84").geometry_area_perimeter(disc)
    assert area / 1e6 == pytest.approx(clear.area_km2, rel=0.01)


def test_unknown_cells_belong_to_no_grade() -> None:
    known = np.ones((SIDE, SIDE), bool)
    known[:, : SIDE // 2] = False
    found = grade_polygons(rings(), known=known, **WHERE)
    assert found[0].area_km2 == pytest.approx(np.pi * 2.0, rel=0.02)
    assert grade_polygons(rings(), known=np.zeros((SIDE, SIDE), bool), **WHERE) == ()


def test_land_is_counted_apart_when_asked() -> None:
    known = np.ones((SIDE, SIDE), bool)
    land = np.zeros((SIDE, SIDE), bool)
    land[: SIDE // 2] = True
    plain = grade_polygons(rings(), known=known, **WHERE)
    assert plain[0].land_km2 is None
    found = grade_polygons(rings(), known=known, land=land, **WHERE)
    assert found[0].land_km2 == pytest.approx(np.pi * 2.0, rel=0.02)

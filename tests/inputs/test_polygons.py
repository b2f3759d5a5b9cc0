"""Polygons of GeoJSON files, and every way they can be wrong."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.polygons import read_polygons

SQUARE = [[-38.2, 41.2], [-38.0, 41.2], [-38.0, 41.4], [-38.2, 41.4], [-38.2, 41.2]]
HOLE = [[-38.15, 41.25], [-38.15, 41.3], [-38.1, 41.3], [-38.15, 41.25]]


def file_of(folder: Path, value: Any) -> Path:
    path = folder / "area.geojson"
    path.write_text(value if isinstance(value, str) else json.dumps(value), encoding="utf-8")
    return path


def polygon(*rings: Any) -> dict[str, Any]:
    return {"type": "Polygon", "coordinates": list(rings)}


def test_every_kind_of_container_is_read(tmp_path: Path) -> None:
    feature = {"type": "Feature", "properties": {"name": "ridge"}, "geometry": polygon(SQUARE, HOLE)}
    many = {"type": "MultiPolygon", "coordinates": [[SQUARE], [[[x + 1, y] for x, y in SQUARE]]]}
    collection = {
        "type": "FeatureCollection",
        "features": [feature, {"type": "Feature", "properties": None, "geometry": many}],
    }
    found = read_polygons(file_of(tmp_path, collection))
    assert [p.name for p in found] == ["ridge", "", ""]
    assert found[0].outer == tuple((x, y) for x, y in SQUARE)
    assert len(found[0].holes) == 1
    nested = {
        "type": "GeometryCollection",
        "geometries": [polygon(SQUARE), {"type": "Point", "coordinates": [0, 0]}],
    }
    assert len(read_polygons(file_of(tmp_path, nested))) == 1


def test_heights_in_coordinates_are_left_aside(tmp_path: Path) -> None:
    found = read_polygons(file_of(tmp_path, polygon([[x, y, 12.5] for x, y in SQUARE])))
    assert found[0].outer[0] == (-38.2, 41.2)


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("{", "is not JSON"),
        ({"type": "Point", "coordinates": [0, 0]}, "holds no polygon"),
        ([1, 2], "holds no polygon"),
        (polygon([[0, 0], [1, 1], [0, 0]]), "fewer than three corners"),
        (polygon(SQUARE[:-1]), "not closed"),
        (polygon([[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]), "crosses or overlaps itself.*longitude 0.50000"),
        (polygon([[0, 0], ["x", 1], [1, 0], [0, 0]]), "point 2 is not a longitude and a latitude"),
        (polygon([[0, 0], [None, 1], [1, 0], [0, 0]]), "point 2 is not a longitude and a latitude"),
        (polygon([[41.2, -138.2], [41.3, -138.2], [41.3, -138.1], [41.2, -138.2]]), "exchange the two"),
        (polygon([[400, 0], [401, 0], [401, 1], [400, 0]]), "outside the globe"),
        ({"type": "Polygon"}, "no ring of coordinates"),
        ({"type": "Polygon", "coordinates": [7]}, "fewer than three corners"),
        (polygon(SQUARE) | {"crs": {"type": "name", "properties": {"name": "EPSG:32625"}}}, "EPSG:32625"),
        (polygon(SQUARE, [[-37.0, 41.2], [-36.9, 41.2], [-36.9, 41.3], [-37.0, 41.2]]), "hole lies outside"),
    ],
)  # fmt: skip
def test_what_is_wrong_is_said(tmp_path: Path, value: Any, words: str) -> None:
    with pytest.raises(InputProblem, match=words) as caught:
        read_polygons(file_of(tmp_path, value))
    assert all(fault.file == "area.geojson" for fault in caught.value.faults)


def test_all_faults_come_at_once(tmp_path: Path) -> None:
    several = {
        "type": "MultiPolygon",
        "coordinates": [[SQUARE[:-1]], [[[0, 0], [1, 1], [1, 0], [0, 1], [0, 0]]]],
    }
    with pytest.raises(InputProblem) as caught:
        read_polygons(file_of(tmp_path, several))
    assert [fault.key for fault in caught.value.faults] == ["polygon[0], ring 1", "polygon[1]"]


def test_a_crs_member_that_says_wgs_84_is_fine(tmp_path: Path) -> None:
    crs = {"type": "name", "properties": {"name": "urn:ogc:def:crs:OGC:1.3:CRS84"}}
    assert read_polygons(file_of(tmp_path, polygon(SQUARE) | {"crs": crs}))


def test_a_missing_file_and_a_very_deep_one(tmp_path: Path) -> None:
    with pytest.raises(InputProblem, match="no such file"):
        read_polygons(tmp_path / "none.geojson")
    with pytest.raises(InputProblem, match=r"nested too deeply|is not JSON|holds no polygon"):
        read_polygons(file_of(tmp_path, "[" * 100_000))


# any JSON at all is either read or refused in words
_json = st.recursive(
    st.none() | st.booleans() | st.floats(allow_nan=False) | st.text(max_size=5)
    | st.sampled_from(["Polygon", "Feature", "MultiPolygon"]),
    lambda inner: st.lists(inner, max_size=5)
    | st.dictionaries(
        st.sampled_from(["type", "coordinates", "geometry", "features", "crs"]), inner, max_size=4
    ),
    max_leaves=12,
)  # fmt: skip


@settings(max_examples=150, deadline=None)
@given(value=_json)
def test_no_json_breaks_it(value: Any, tmp_path_factory: pytest.TempPathFactory) -> None:
    path = file_of(tmp_path_factory.getbasetemp(), value)
    try:
        assert read_polygons(path)
    except InputProblem as problem:
        assert problem.faults

"""Distances, elevations and slopes as typed, and the area they make."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pytest

from reach.errors import InputProblem
from reach.inputs.search_area import (
    BEYOND_MEMBERS_M,
    Around,
    TypedArea,
    parse_distance_m,
    parse_elevation_m,
    parse_slope_deg,
    parse_span_m,
    read_area,
)
from reach.stations import Category, Net
from tests.drawings import invented_net


@pytest.fixture(scope="module")
def net() -> Net:
    return invented_net.net(6)


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("5 km", 5000.0),
        ("3mi", 3 * 1609.344),
        ("800 m", 800.0),
        ("1000 ft", 304.8),
        ("2.5 kilometres", 2500.0),
    ],
)
def test_distances(text: str, metres: float) -> None:
    assert parse_distance_m(text) == pytest.approx(metres)


@pytest.mark.parametrize("text", ["5", "far", "-3 km", "900 km", "nan km"])
def test_distances_refused(text: str) -> None:
    with pytest.raises(InputProblem):
        parse_distance_m(text)


@pytest.mark.parametrize(
    ("text", "metres"),
    [("50 km", 50_000.0), ("20 mi", 32186.88), (" 30M ", 30.0), ("656 ft", 199.9488), ("0 km", 0.0)],
)
def test_spans(text: str, metres: float) -> None:
    assert parse_span_m(text) == pytest.approx(metres)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("30", '"30" has no unit; write 30 km'),
        ("far", "is not a length"),
        ("-5 km", '"-5 km" is not a length'),
    ],
)
def test_spans_refused(text: str, words: str) -> None:
    with pytest.raises(InputProblem, match=words):
        parse_span_m(text)


def test_elevations_and_slopes() -> None:
    assert parse_elevation_m("800 ft") == pytest.approx(243.84)
    assert parse_elevation_m("-10 m") == -10.0
    assert parse_slope_deg("15") == 15.0
    assert parse_slope_deg("15 deg") == 15.0
    assert parse_slope_deg("100 %") == pytest.approx(45.0)  # rise equals run
    for text in ("steep", "0", "95 deg", "nan"):
        with pytest.raises(InputProblem):
            parse_slope_deg(text)


def test_without_a_word_the_area_is_the_members(net: Net) -> None:
    area = read_area(TypedArea(), net)
    assert area.outline == tuple(s.position for s in net.stations if s.category is not Category.INTERNET)
    assert area.margin_m == BEYOND_MEMBERS_M and area.cell_m == 30.0
    assert area.limits.around == () and area.limits.lowest_m is None


def test_round_home_unless_another_place_is_named(net: Net) -> None:
    home, other = net.stations[0], net.stations[1]
    area = read_area(TypedArea(), net, home=home)
    assert area.limits.around == (Around(home.position, 10_000.0, home.call_sign),)
    assert area.outline == (home.position,) and area.margin_m == 10_000.0
    named = TypedArea(near=f" {other.call_sign.lower()}", within="3 mi")
    (around,) = read_area(named, net, home=home).limits.around
    assert around.position == other.position and around.distance_m == pytest.approx(3 * 1609.344)
    (around,) = read_area(TypedArea(near="41.25, -38.1"), net).limits.around
    assert (around.position.latitude_deg, around.name) == (41.25, "41.25, -38.1")


def test_polygons_are_the_box_when_there_is_no_circle(net: Net, tmp_path: Path) -> None:
    ring = [[-38.2, 41.2], [-38.0, 41.2], [-38.0, 41.4], [-38.2, 41.2]]
    path = tmp_path / "area.geojson"
    path.write_text(json.dumps({"type": "Polygon", "coordinates": [ring]}), encoding="utf-8")
    area = read_area(TypedArea(inside=path, outside=path, lowest="100 ft", steepest="27 %"), net)
    assert [(p.longitude_deg, p.latitude_deg) for p in area.outline] == [tuple(point) for point in ring]
    assert area.margin_m == 0.0 and area.limits.inside == area.limits.outside
    assert area.limits.lowest_m == pytest.approx(30.48) and area.limits.steepest_deg == pytest.approx(
        15.11, abs=0.01
    )
    assert read_area(TypedArea(inside=path, near="41.3, -38.1"), net).margin_m == 10_000.0


def test_every_fault_comes_at_once_with_its_option(net: Net, tmp_path: Path) -> None:
    typed = TypedArea(
        near="nowhere",
        within="far",
        inside=tmp_path / "none.geojson",
        lowest="up",
        highest="",
        steepest="steep",
        resolution="fine",
    )
    with pytest.raises(InputProblem, match="neither a call sign") as caught:
        read_area(typed, net)
    keys = [fault.key for fault in caught.value.faults]
    assert keys == ["--near", "--within", "--resolution", "", "--lowest", "--highest", "--steepest"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (TypedArea(within="5 km"), "--within needs a place"),
        (TypedArea(within="", near="41.3, -38.1"), "--within"),
        (TypedArea(lowest="500 m", highest="1000 ft"), "--lowest 500 m is above --highest 1000 ft; exchange"),
    ],
)
def test_texts_that_do_not_go_together(net: Net, typed: TypedArea, words: str) -> None:
    with pytest.raises(InputProblem, match=words):
        read_area(typed, net)


def test_a_net_without_anyone_on_the_air_has_no_area(net: Net) -> None:
    online = tuple(s for s in net.stations if s.category is Category.INTERNET)
    with pytest.raises(InputProblem, match="no member with a radio path"):
        read_area(TypedArea(), replace(net, stations=online))

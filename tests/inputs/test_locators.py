"""Places: locators both ways, coordinates in their spellings, swapped ones found out."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem
from reach.inputs.locators import (
    locator_cell,
    locator_of,
    looks_like_locator,
    parse_latitude_deg,
    parse_longitude_deg,
    parse_position,
    position_of_coordinates,
    position_of_locator,
)
from reach.stations import Position

LATITUDES = st.floats(min_value=-90.0, max_value=90.0)
LONGITUDES = st.floats(min_value=-180.0, max_value=180.0)
LENGTHS = st.sampled_from([4, 6, 8, 10])


@settings(deadline=None)
@given(latitude=LATITUDES, longitude=LONGITUDES, characters=LENGTHS)
def test_a_place_lies_in_the_cell_of_its_locator(latitude: float, longitude: float, characters: int) -> None:
    text = locator_of(Position(latitude, longitude), characters=characters)
    cell = locator_cell(text)
    assert len(text) == characters
    assert cell.south_deg - 1e-9 <= latitude <= cell.south_deg + cell.height_deg + 1e-9
    east = (longitude + 180.0) % 360.0 - 180.0
    assert cell.west_deg - 1e-9 <= east <= cell.west_deg + cell.width_deg + 1e-9


@settings(deadline=None)
@given(latitude=LATITUDES, longitude=LONGITUDES, characters=LENGTHS)
def test_the_centre_of_a_cell_has_the_same_locator(
    latitude: float, longitude: float, characters: int
) -> None:
    text = locator_of(Position(latitude, longitude), characters=characters)
    assert locator_of(position_of_locator(text), characters=characters) == text


@settings(deadline=None)
@given(latitude=LATITUDES, longitude=LONGITUDES)
def test_longer_locators_begin_with_the_shorter_ones(latitude: float, longitude: float) -> None:
    place = Position(latitude, longitude)
    long = locator_of(place, characters=10)
    assert all(long.startswith(locator_of(place, characters=n)) for n in (4, 6, 8))


def test_edges_belong_to_the_cell_north_and_east_of_them() -> None:
    assert locator_of(Position(0.0, 0.0)) == "JJ00aa"
    assert locator_of(Position(41.25, -38.0)) == "HN11ag"
    assert locator_of(Position(41.25 - 1e-7, -38.0 - 1e-7)) == "HN01xf"


def test_pole_and_date_line_have_locators() -> None:
    assert locator_of(Position(90.0, 0.0)) == "JR09ax"
    assert locator_of(Position(-90.0, 180.0)) == "AA00aa"
    assert locator_of(Position(-90.0, -180.0)) == "AA00aa"


def test_uncertainty_is_half_the_diagonal_of_the_cell() -> None:
    # 2.5' of latitude is 4.63 km; 5' of longitude at the equator 9.28 km; half the diagonal 5.18 km
    assert position_of_locator("JJ00aa").uncertainty_m == pytest.approx(5180.0, rel=0.005)
    assert position_of_locator("JJ00aa00").uncertainty_m == pytest.approx(518.0, rel=0.005)


def test_case_and_blanks_do_not_matter() -> None:
    assert locator_cell(" jn58TD ") == locator_cell("JN58td")


@pytest.mark.parametrize(
    "text", ["", "JN5", "JN58t", "SN58td", "JN58ty", "JNA8td", "JN58td0", "JN58td00zz", "58JNtd"]
)
def test_what_is_no_locator_is_refused(text: str) -> None:
    with pytest.raises(InputProblem, match="is not a Maidenhead locator"):
        position_of_locator(text)


def test_other_lengths_are_the_programmers_fault() -> None:
    with pytest.raises(ValueError, match="4, 6, 8 or 10"):
        locator_of(Position(0.0, 0.0), characters=5)


@pytest.mark.parametrize(
    ("text", "degrees"),
    [
        ("41.2083", 41.2083),
        ("41,2083", 41.2083),
        ("-41.2083", -41.2083),
        ("−41.2083", -41.2083),
        ("41.2083 N", 41.2083),
        ("S 41.2083", -41.2083),
        ("41°12'30\"N", 41 + 12 / 60 + 30 / 3600),
        ("41° 12′ 30″ S", -(41 + 12 / 60 + 30 / 3600)),
        ("41 12 30", 41 + 12 / 60 + 30 / 3600),
        ("41:12:30.5", 41 + 12 / 60 + 30.5 / 3600),
        ("N41 12.5", 41 + 12.5 / 60),
        ("-0 30 0", -0.5),
        ("90", 90.0),
    ],
)
def test_latitudes(text: str, degrees: float) -> None:
    assert parse_latitude_deg(text) == pytest.approx(degrees, abs=1e-12)


@pytest.mark.parametrize(
    ("parse", "text", "words"),
    [
        (parse_latitude_deg, "90.01", "outside -90 to 90"),
        (parse_latitude_deg, "nan", "is not a latitude"),
        (parse_latitude_deg, "inf", "is not a latitude"),
        (parse_latitude_deg, "1e999", "is not a latitude"),
        (parse_latitude_deg, "41 60 0", "minutes or seconds of 60 or more"),
        (parse_latitude_deg, "41.5 12 0", "is not a latitude"),
        (parse_latitude_deg, "-41 N", "is not a latitude"),
        (parse_latitude_deg, "38 W", "swapped"),
        (parse_longitude_deg, "41 N", "swapped"),
        (parse_longitude_deg, "180.5", "outside -180 to 180"),
        (parse_longitude_deg, "9" * 400, "is not a longitude"),
    ],
)
def test_refused_angles(parse, text, words) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(InputProblem, match=words):
        parse(text)


def test_swapped_coordinates_are_guessed_and_said() -> None:
    with pytest.raises(InputProblem, match="look swapped; exchange the two"):
        position_of_coordinates("-138.15", "41.2")


def test_both_faults_of_a_pair_are_told() -> None:
    with pytest.raises(InputProblem) as refused:
        position_of_coordinates("x", "y")
    assert [fault.column for fault in refused.value.faults] == ["latitude", "longitude"]


@pytest.mark.parametrize(
    "text",
    [
        "41.2, -38.15",
        "41.2 -38.15",
        "41.2;-38.15",
        "41.2,-38.15",
        "41 12 0 N 38 9 0 W",
        "N41.2 W38.15",
        "41,2; -38,15",
    ],
)
def test_positions_in_one_cell(text: str) -> None:
    place = parse_position(text)
    assert (place.latitude_deg, place.longitude_deg) == pytest.approx((41.2, -38.15))
    assert place.uncertainty_m == 0.0


def test_a_locator_in_the_position_cell() -> None:
    assert parse_position("HN01wh").written == "HN01wh"
    assert looks_like_locator("HN01wh") and not looks_like_locator("41.2, -38.15")


@pytest.mark.parametrize(
    "parse", [parse_latitude_deg, parse_longitude_deg, parse_position, position_of_locator]
)
@settings(deadline=None, max_examples=150)
@given(text=st.one_of(st.text(max_size=40), st.from_regex(r"[-+NSEW0-9 .,°'\":;]{0,30}", fullmatch=True)))
def test_any_text_is_read_or_refused(parse, text: str) -> None:  # type: ignore[no-untyped-def]
    try:
        found = parse(text)
    except InputProblem:
        return
    if isinstance(found, Position):
        assert -90.0 <= found.latitude_deg <= 90.0 and -180.0 <= found.longitude_deg <= 180.0
    else:
        assert -180.0 <= found <= 180.0


@pytest.mark.parametrize("text", [" " * 10_000 + "x", "1 " * 5000, "1°" * 5000, ";" * 10_000, "N" * 10_000])
def test_hostile_lengths_are_refused_at_once(text: str) -> None:
    with pytest.raises(InputProblem):
        parse_position(text)
    with pytest.raises(InputProblem):
        parse_latitude_deg(text)

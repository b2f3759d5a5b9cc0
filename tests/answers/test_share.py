"""Answers fit to be handed round: where places go, and that nothing left could lead back to them."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.answers.open_net import OpenNet
from reach.answers.repeater import repeater
from reach.answers.share import Share, audience_words, shared, shared_place, shared_sheet
from reach.answers.sheet import Sheet
from reach.answers.simplex import simplex
from reach.errors import InputProblem
from reach.geodesy import METRES_PER_DEGREE, distance_and_bearing
from reach.stations import Position


@given(
    st.floats(-89.9, 89.9), st.floats(-180.0, 180.0), st.sampled_from([500.0, 2_000.0, 50_000.0])
)  # fmt: skip
def test_a_place_stays_in_its_square(latitude: float, longitude: float, square_m: float) -> None:
    place = shared_place(Position(latitude, longitude), call_sign="QK1A", square_m=square_m)
    assert abs(place.latitude_deg - latitude) <= square_m / METRES_PER_DEGREE + 1e-4
    assert -90.0 <= place.latitude_deg <= 90.0
    assert -180.0 <= place.longitude_deg <= 180.0
    if abs(latitude) < 80.0:
        distance_m, _ = distance_and_bearing(
            from_latitude_deg=latitude,
            from_longitude_deg=longitude,
            to_latitude_deg=place.latitude_deg,
            to_longitude_deg=place.longitude_deg,
        )
        assert distance_m <= 1.01 * square_m * math.sqrt(2.0) + 20.0


@given(st.floats(0.001, 0.999), st.floats(0.001, 0.999))
def test_where_in_its_square_someone_is_changes_nothing(up: float, along: float) -> None:
    """All places of a square go to the same one: what is shown tells the square, and no more."""
    step_deg = 2_000.0 / METRES_PER_DEGREE
    row, column = 2300, -1600
    across_deg = step_deg / math.cos(math.radians((row + 0.5) * step_deg))
    inside = Position((row + up) * step_deg, (column + along) * across_deg)
    middle = Position((row + 0.5) * step_deg, (column + 0.5) * across_deg)
    moved = shared_place(inside, call_sign="QK1A", square_m=2_000.0)
    assert moved == shared_place(middle, call_sign="QK1A", square_m=2_000.0)
    assert moved != shared_place(middle, call_sign="QK1B", square_m=2_000.0)


def test_the_plan_is_that_of_the_real_places(opened: OpenNet) -> None:
    real = simplex(opened)
    found = shared(real, Share())
    assert found.headline == real.headline
    assert found.network.call_signs == real.network.call_signs
    assert np.array_equal(found.network.margin_db, real.network.margin_db, equal_nan=True)
    real_places = {(s.position.latitude_deg, s.position.longitude_deg) for s in opened.net.stations}
    for net in (found.net, found.network.net):
        assert net.shared_square_m == 2_000.0
        assert not net.folder and not net.terrain_folders
        for station in (*net.stations, *net.repeaters):
            assert (station.position.latitude_deg, station.position.longitude_deg) not in real_places
    assert "square of 2 km" in audience_words(found.net)
    assert "For the planner only" in audience_words(real.net)


def test_lengths_are_those_between_the_places_shown(opened: OpenNet) -> None:
    found = shared(repeater(opened), Share(5_000.0))
    for network in found.networks:
        at = network.repeater.position
        for member in network.members:
            place = network.net.station(member.call_sign).position
            length_m, _ = distance_and_bearing(
                from_latitude_deg=at.latitude_deg,
                from_longitude_deg=at.longitude_deg,
                to_latitude_deg=place.latitude_deg,
                to_longitude_deg=place.longitude_deg,
            )
            assert member.talk_in.distance_m == pytest.approx(float(length_m), abs=51.0)


def test_names_go_unless_wanted(opened: OpenNet) -> None:
    real = simplex(opened)
    named = replace(real, net=replace(real.net, stations=tuple(
        replace(s, name="Ann") for s in real.net.stations)))  # fmt: skip
    assert {s.name for s in shared(named, Share()).net.stations} == {""}
    assert {s.name for s in shared(named, Share(names=True)).net.stations} == {"Ann"}


def test_columns_that_give_a_place_away_are_left_out() -> None:
    sheet = Sheet(
        ("station", "talk_in_distance_km", "path_loss_db", "margin_over_workable_db", "chance", "locator"),
        (("QK1A", 12.3456, 141.2345, -0.2, 0.81234, "HN11bi72"),),
    )
    assert shared_sheet(sheet) == Sheet(
        ("station", "margin_over_workable_db", "chance"), (("QK1A", -1.0, 0.81),)
    )


def test_squares_too_small_or_too_large_are_refused() -> None:
    for square_m in (0.0, 100.0, 1e6, math.nan):
        with pytest.raises(InputProblem, match="--square"):
            Share(square_m)

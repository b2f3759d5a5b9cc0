"""Served places: each contact is a link of the net surveyed with a station there, and nobody goes twice."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from reach.answers.open_net import OpenNet, open_net
from reach.answers.outages import case_of
from reach.answers.places import PlacesAnswer, served_places
from reach.drawings.tables.places import case_places_screen, places_screen
from reach.drawings.tables.terminal import terminal_text
from reach.errors import InputProblem
from reach.inputs.roster import parse_roster
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.plans.outages.backup import Part
from tests.answers.small_net import made_in

PLACES = "name,kind,latitude,longitude\nHall,hall,41.36,-37.93\nFar barn,,41.26,-37.77\n"


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    folder = made_in(tmp_path_factory.mktemp("small"))
    (folder / "places.csv").write_text(PLACES, encoding="utf-8")
    with open_net(folder) as net:
        yield net


@pytest.fixture(scope="module")
def found(opened: OpenNet) -> PlacesAnswer:
    return served_places(opened)


def test_each_contact_is_one_of_a_station_standing_there(opened: OpenNet, found: PlacesAnswer) -> None:
    """A handheld put on the roster at the place, and surveyed like any member."""
    (handheld,) = parse_roster("call_sign,category,latitude,longitude\nQK9H,portable,41.36,-37.93\n").stations
    handheld = replace(handheld, surroundings=())
    net = replace(opened.net, stations=(*opened.net.stations, handheld))
    simplex = survey_simplex(net, opened.terrain, net.channels[0])
    repeater = survey_repeater(net, opened.terrain, net.repeaters[0]).member("QK9H")
    for case, places in zip(found.cases, found.places, strict=True):
        expected = {
            call
            for call in case.plan.in_net
            if min(simplex.link("QK9H", call).margin_db, simplex.link(call, "QK9H").margin_db) >= 0.0
        }
        if case.plan.standing.repeaters and repeater.gets_in and repeater.hears:
            expected.add("QK0R")
        assert {contact.call_sign for contact in places[0].handheld} == expected
        chances = [contact.chance for contact in places[0].handheld]
        assert chances == sorted(chances, reverse=True)


def test_nobody_with_a_duty_goes_and_nobody_goes_twice(found: PlacesAnswer) -> None:
    for case, places in zip(found.cases, found.places, strict=True):
        going = [own.goes for own in places if own.goes]
        assert len(going) == len(set(going))
        for call in going:
            assert case.plan.way(call).part not in (Part.CONTROL, Part.RELAY, Part.LINKED)


def test_the_headline_counts_the_places(found: PlacesAnswer) -> None:
    usually = found.places[0]
    assert found.headline.startswith(
        f"2 places: a handheld there gets into the net from {sum(p.handheld_in for p in usually)} "
        f"({sum(p.mobile_in for p in usually)} by car) with nothing lost"
    )
    assert len(found.rows.rows) == 2 * len(found.cases)
    text = terminal_text(
        *places_screen(found), *case_places_screen(found, case_of(found.cases, "b")), width=140
    )
    assert "Hall (hall)" in text and "Case B." in text


def test_places_that_cannot_be(opened: OpenNet, tmp_path: Path) -> None:
    (Path(opened.net.folder) / "places.csv").write_text("name,latitude,longitude\nSea,20,-38\n", "utf-8")
    with pytest.raises(InputProblem, match=r"Sea lies where there is no elevation; add a tile"):
        served_places(opened)
    (Path(opened.net.folder) / "places.csv").unlink()
    with pytest.raises(InputProblem, match=r"places.csv: is not there; write one beside roster.csv"):
        served_places(opened)

"""What the map pages are told to draw: layers, directions, marks. The pages themselves: tests/browser."""

from __future__ import annotations

import itertools
import json
import re
from dataclasses import replace

import numpy as np
import pytest

from reach.drawings.maps.net_map import repeater_map, simplex_map
from reach.drawings.maps.plan_marks import CutOff, PlanMarks
from reach.drawings.style.symbols import Mark, Symbol, symbol_svg
from reach.links.outcome import RepeaterOutcome, repeater_outcome
from reach.stations import Category


def data_of(page: str) -> dict:
    """The data in a page's last script."""
    literal = re.search(r"drawNet\(map_net, \{.*?\}, (\{.*\})\);", page, re.DOTALL)[1]
    return json.loads(literal)


@pytest.fixture(scope="module")
def network(invented):
    return invented.simplex_network()


def test_each_pair_is_drawn_once_in_the_layer_of_its_weaker_direction(network) -> None:
    data = data_of(simplex_map(network, headline="One."))
    drawn = {}
    for link in data["links"]:
        pair = frozenset((link["a"], link["b"]))
        assert pair not in drawn
        drawn[pair] = link
    edges = [13.0, 8.0, 5.0]  # dB over 12 dB SINAD for clear, solid, workable; workable is margin 0
    for i in range(len(network.call_signs)):
        for j in range(i + 1, len(network.call_signs)):
            margins = network.margin_db[i, j] + 5.0, network.margin_db[j, i] + 5.0
            link = drawn.pop(frozenset((i, j)), None)
            if np.isnan(margins[0]):
                assert link is None
                continue
            low, high = min(margins), max(margins)
            if low >= 5.0:
                assert link["k"] == ("clear", "solid", "workable")[sum(low < edge for edge in edges)]
            elif high >= 5.0:
                assert link["k"] == "one_way"
            elif high >= 0.0:
                assert link["k"] == "weak"
            else:
                assert link is None
    assert not drawn


def test_one_way_lines_point_at_the_station_that_hears(network) -> None:
    data = data_of(simplex_map(network, headline="One."))
    one_way = [link for link in data["links"] if link["k"] == "one_way"]
    assert one_way and data["styles"]["one_way"]["arrow"]
    for link in one_way:
        assert network.margin_db[link["a"], link["b"]] >= 0.0 > network.margin_db[link["b"], link["a"]]


def test_each_direction_is_said_with_its_own_figures(network) -> None:
    data = data_of(simplex_map(network, headline="One."))
    for link in data["links"]:
        there, back = data["qualities"][link["f"]], data["qualities"][link["r"]]
        for said, tx, rx in ((there, link["a"], link["b"]), (back, link["b"], link["a"])):
            level = round(float(network.received_dbm[tx, rx]))
            assert f"{abs(level)} dBm" in said


def test_plan_marks_control_relays_and_cut_off(network) -> None:
    a, b, c, d = network.call_signs[:4]
    marks = PlanMarks(a, (b,), {b: (c,)}, (CutOff(d, "QK3ZZZ hears it 4 dB under workable."),), ("Because.",))
    page = simplex_map(network, headline="One.", marks=marks)
    data = data_of(page)
    kinds = {s["call"]: s["symbol"].split("-")[0] for s in data["stations"]}
    assert (kinds[a], kinds[b], kinds[d]) == ("control", "relay", "cut_off")
    plan = [(link["a"], link["b"]) for link in data["links"] if link["k"] == "plan"]
    assert [set(pair) for pair in plan] == [{0, 1}, {1, 2}]
    cards = {s["call"]: s["lines"] for s in data["stations"]}
    assert cards[a][0] == "Net control." and cards[b][0] == f"Relays for {c}."
    assert cards[c][0] == f"Heard through {b}." and "4 dB under workable" in cards[d][0]
    assert "Because." in page and "4 dB under workable" in page.split("<main>")[0]


def test_a_relay_behind_a_relay_hangs_on_that_one(network) -> None:
    a, b, c, d = network.call_signs[:4]
    marks = PlanMarks(a, (b, c), {b: (c,), c: (d,)})
    data = data_of(simplex_map(network, headline="One.", marks=marks))
    plan = [{link["a"], link["b"]} for link in data["links"] if link["k"] == "plan"]
    assert plan == [{0, 1}, {1, 2}, {2, 3}]


def test_internet_members_have_a_dot_and_no_line(network) -> None:
    data = data_of(simplex_map(network, headline="One."))
    index = next(i for i, s in enumerate(network.net.stations) if s.category is Category.INTERNET)
    assert data["stations"][index]["symbol"].split("-")[1] == "i"
    assert not any(index in (link["a"], link["b"]) for link in data["links"])


def test_assumed_values_stand_on_the_station_they_touched(network) -> None:
    data = data_of(simplex_map(network, headline="One."))
    for station, shown in zip(network.net.stations, data["stations"]):
        if station.has_radio_path:
            assert any("assumed: antenna height 9 m" in line for line in shown["lines"]) == bool(
                station.assumed
            )


def test_repeater_layers_are_the_four_outcomes(invented) -> None:
    network = invented.repeater_network()
    data = data_of(repeater_map(network, headline="One."))
    layer = {}
    for link in data["links"]:
        member = data["stations"][link["b"] if link["a"] == 0 else link["a"]]["call"]
        layer[member] = (link["k"], "out" if link["a"] == 0 else "in")
    seen = set()
    for member in network.members:
        outcome = repeater_outcome(member)
        seen.add(outcome)
        drawn = layer.get(member.call_sign)
        if outcome is RepeaterOutcome.GETS_IN_AND_HEARS:
            assert drawn[0] in ("clear", "solid", "workable")
        elif outcome is RepeaterOutcome.HEARS_ONLY:
            assert drawn == ("hears_only", "out")
        elif outcome is RepeaterOutcome.GETS_IN_ONLY:
            assert drawn == ("gets_in_only", "in")
        else:
            assert drawn is None
    assert len(seen) >= 3


def test_a_crowded_map_starts_with_one_stations_links(invented) -> None:
    few = invented.simplex_network(invented.net(9))
    assert data_of(simplex_map(few, headline="One."))["focus"] == {"only": False, "start": None}
    many = invented.simplex_network(invented.net(60))
    marks = PlanMarks(control=many.call_signs[4])
    assert data_of(simplex_map(many, headline="One.", marks=marks))["focus"] == {"only": True, "start": 4}


def test_two_hundred_stations_stay_a_few_megabytes(invented) -> None:
    big = invented.simplex_network(invented.net(200, 11))
    assert len(simplex_map(big, headline="One.")) < 5_000_000


def test_one_station_alone_still_makes_a_map(invented) -> None:
    alone = invented.simplex_network(invented.net(2))
    data = data_of(simplex_map(alone, headline="One."))
    (south, west), (north, east) = data["bounds"]
    assert north > south and east > west
    empty = replace(alone, call_signs=())
    with pytest.raises(ValueError, match="at least one station"):
        simplex_map(empty, headline="None.")


def test_symbols_take_no_text_but_a_category_letter() -> None:
    for bad in ("<", "ab", "B", "1"):
        with pytest.raises(ValueError, match="category letter"):
            symbol_svg(Symbol(Mark.MEMBER, bad))
    same = {Mark.OUTSIDE: Mark.CUT_OFF, Mark.SITE: Mark.REPEATER}  # one drawing for one kind of thing
    drawings = {mark: symbol_svg(Symbol(mark, "b")) for mark in Mark}
    for one, other in itertools.combinations(Mark, 2):
        assert (drawings[one] == drawings[other]) == (same.get(one, one) is same.get(other, other))

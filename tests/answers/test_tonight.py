"""Relays, net control and run sheet of one net: three answers that may not contradict each other."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace

import pytest

from reach.answers.control import RotaWish, control
from reach.answers.open_net import OpenNet, open_net
from reach.answers.relays import Simulation, relays, what_if
from reach.answers.run_sheet import run_sheet
from reach.drawings.exports.calendar import control_calendar
from reach.drawings.exports.machine import answer_json
from reach.drawings.papers.run_sheet import written_sheet
from reach.errors import InputProblem
from tests.answers.small_net import made_in

NOW = datetime.date(2026, 11, 25)
DAY = datetime.date(2026, 12, 1)
FEW = Simulation(evenings=200)


@pytest.fixture(scope="module")
def opened(tmp_path_factory: pytest.TempPathFactory) -> Iterator[OpenNet]:
    with open_net(made_in(tmp_path_factory.mktemp("small"))) as net:
        yield net


def test_three_answers_name_the_same_net_control_and_relays(opened: OpenNet) -> None:
    plan = relays(opened, simulation=FEW).plan
    ranked = control(opened, RotaWish(start=DAY)).controls
    sheet = run_sheet(opened, today=NOW)
    assert plan.control == ranked[0].call_sign == sheet.plan.control
    assert sheet.plan.relay_calls == plan.relay_calls
    assert sheet.occasion.stand_in == ranked[1].call_sign
    assert run_sheet(opened, today=NOW, control=ranked[1].call_sign).occasion.stand_in == ranked[0].call_sign
    assert sheet.rows == relays(opened, simulation=FEW).rows


def test_a_sheet_says_when_and_what_it_was_made_from(opened: OpenNet) -> None:
    next_net = run_sheet(opened, today=NOW)
    assert next_net.occasion.date == "Tue 2026-12-01"  # the first Tuesday from NOW on
    assert next_net.occasion.time == "19:30 UTC"
    assert next_net.occasion.made_from.startswith(
        "Planned from our-net/net.toml and roster.csv (5 stations) with path-loss model "
    )
    assert next_net.occasion.made_from in written_sheet(next_net).made_from
    minute = datetime.datetime(2026, 11, 25, 12, 34, tzinfo=datetime.UTC)
    stamped = run_sheet(opened, today=NOW, stamp=minute)
    assert stamped.occasion.made_from.startswith("Planned 2026-11-25 12:34 UTC from our-net")
    named = run_sheet(opened, today=NOW, day=datetime.date(2026, 12, 3))  # a Thursday, on somebody's word
    assert (named.occasion.date, named.occasion.time) == ("Thu 2026-12-03", "19:30 UTC")
    plain = replace(opened, folder=replace(opened.folder, schedule=None))
    assert run_sheet(plain, today=NOW).occasion.date == ""


def test_without_a_repeater_nobody_is_asked_to_stay_on(opened: OpenNet) -> None:
    assert run_sheet(opened, today=NOW).evening is not None
    net = replace(opened.net, repeaters=())
    assert run_sheet(replace(opened, folder=replace(opened.folder, net=net)), today=NOW).evening is None


def test_a_rota_leaves_out_who_hears_too_little(opened: OpenNet) -> None:
    found = control(opened, RotaWish(start=DAY, nets=4, last="qk1a"))
    taking = {turn.control for turn in found.turns}
    assert (taking, found.not_in_turn) == ({"QK1A", "QK1B"}, ("QK1F",))
    assert len(found.rows.rows) == 4
    assert found.turns[0].control != "QK1A"
    assert control(opened, RotaWish(start=DAY, share=0.0)).not_in_turn == ()
    assert b"QK1A (Ann)" in control_calendar(
        found, stamp=datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC)
    )


def test_net_controls_are_ranked_though_net_toml_has_no_schedule(opened: OpenNet) -> None:
    found = control(replace(opened, folder=replace(opened.folder, schedule=None)), RotaWish(start=DAY))
    assert (len(found.controls) > 1, found.turns, found.rows.rows) == (True, (), ())
    with pytest.raises(InputProblem, match="there is no schedule"):
        control_calendar(found, stamp=datetime.datetime(2026, 11, 25, tzinfo=datetime.UTC))


def test_a_what_if_compares_with_the_plan_as_it_is(opened: OpenNet) -> None:
    plan = relays(opened, simulation=FEW).plan
    same = what_if(opened, changes=["QK1N relay no"], simulation=FEW)
    assert same.differences == ()
    assert same.headline == "Nothing changes: the plan is the same."
    less = what_if(opened, changes=["without QK1H"], simulation=FEW)
    assert less.plan.on_air == plan.on_air - 1
    assert "QK1H" not in [row[0] for row in less.rows.rows]
    assert less.net is opened.net
    assert '"differences"' in answer_json(less)
    with pytest.raises(InputProblem, match="leaves QK1B out of the net"):
        what_if(opened, changes=["without QK1B"], control="qk1b", simulation=FEW)

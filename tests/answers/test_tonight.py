"""Relays, net control and run sheet of one net: three answers that may not contradict each other."""

from __future__ import annotations

import datetime
from collections.abc import Iterator
from dataclasses import replace

import pytest

from reach.answers.control import RotaWish, control
from reach.answers.open_net import OpenNet, open_net, opened_with
from reach.answers.relays import Simulation, relays, what_if
from reach.answers.run_sheet import run_sheet
from reach.drawings.exports.calendar import control_calendar
from reach.drawings.exports.machine import answer_json
from reach.drawings.papers.run_sheet import written_sheet
from reach.errors import InputProblem
from reach.inputs.nets import MeetsOn
from reach.inputs.tonight import present
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
    free = replace(opened, folder=replace(opened.folder, schedule=None))
    sheet = run_sheet(free, today=NOW)
    assert plan.control == ranked[0].call_sign == sheet.plan.control
    assert sheet.plan.relay_calls == plan.relay_calls
    assert sheet.occasion.stand_in == ranked[1].call_sign
    assert run_sheet(free, today=NOW, control=ranked[1].call_sign).occasion.stand_in == ranked[0].call_sign
    assert sheet.rows == relays(opened, simulation=FEW).rows


def test_rota_and_sheet_of_a_date_name_the_same_people(opened: OpenNet) -> None:
    turns = control(opened, RotaWish(start=DAY, nets=4)).turns
    assert len({turn.control for turn in turns}) == 2
    for turn in turns:
        sheet = run_sheet(opened, today=NOW, day=turn.start.date())
        assert (sheet.control, sheet.occasion.stand_in) == (turn.control, turn.stand_in)
        assert "by the rota" in sheet.occasion.made_from
    later = control(opened, RotaWish(start=DAY + datetime.timedelta(days=7), nets=3)).turns
    assert [(t.start, t.control) for t in later] == [(t.start, t.control) for t in turns[1:]]


def test_whoever_the_rota_names_and_is_away_is_stood_in_for(opened: OpenNet) -> None:
    turn = control(opened, RotaWish(start=DAY, nets=1)).turns[0]
    tonight = opened_with(present(opened.folder, without=[turn.control, "QK1F"]), opened.terrain)
    sheet = run_sheet(tonight, today=NOW, day=DAY)
    assert sheet.control == turn.stand_in
    assert f"By the rota {turn.control} would be net control, but is away." in sheet.occasion.made_from
    assert sheet.headline.startswith(f"Without {turn.control}, QK1F: 3 of 5 members.")
    assert ("Away", f"{turn.control} and QK1F") in written_sheet(sheet).facts


def test_a_day_on_which_the_net_does_not_meet_is_said(opened: OpenNet) -> None:
    sheet = run_sheet(opened, today=NOW, day=datetime.date(2026, 12, 3))
    assert sheet.occasion.date.startswith("Thu 2026-12-03 (not a day of the net")
    assert "Tue 2026-12-08" in sheet.occasion.date
    assert "rota" not in sheet.occasion.made_from


def test_a_sheet_for_the_repeater_net_and_for_both(opened: OpenNet) -> None:
    alone = run_sheet(opened, today=NOW, kind=MeetsOn.REPEATER)
    assert alone.repeater_net is not None and alone.evening is None
    written = written_sheet(alone)
    called = [row.call_sign for group in written.groups for row in group.rows]
    everyone = {station.call_sign for station in opened.net.stations}
    assert sorted(called) == sorted(everyone - {alone.control})  # each once, net control itself not at all
    assert "QK0R 146.940 MHz" in written.opening
    assert "146.520 MHz" in written.opening  # where to meet when the repeater fails
    both = run_sheet(opened, today=NOW, kind=MeetsOn.BOTH)
    assert written_sheet(both).pens[:2] == ("repeater", "simplex")
    assert any("Then simplex" in line for line in written_sheet(both).before)
    assert "Then " in both.headline


def test_who_only_hears_the_repeater_is_told_things_and_not_waited_for(opened: OpenNet) -> None:
    """With a whisper of a transmitter Hal hears the repeater and does not get in."""
    quiet = tuple(
        replace(station, transmit_power_dbm=-60.0) if station.call_sign == "QK1H" else station
        for station in opened.net.stations
    )
    net = replace(opened.net, stations=quiet)
    found = run_sheet(
        opened_with(replace(opened.folder, net=net), opened.terrain), today=NOW, kind=MeetsOn.REPEATER
    )
    assert found.repeater_net is not None
    assert "QK1H" in found.repeater_net.hears_only
    assert "only hears it" in found.headline
    group = next(g for g in written_sheet(found).groups if g.heading.startswith("Only hear"))
    assert "QK1H" in [row.call_sign for row in group.rows]


def test_a_net_control_who_does_not_work_the_repeater_is_refused(opened: OpenNet) -> None:
    with pytest.raises(InputProblem, match="does not work QK0R"):
        quiet = tuple(
            replace(station, transmit_power_dbm=-60.0) if station.call_sign == "QK1A" else station
            for station in opened.net.stations
        )
        net = replace(opened.net, stations=quiet)
        run_sheet(
            opened_with(replace(opened.folder, net=net), opened.terrain),
            today=NOW,
            control="QK1A",
            kind=MeetsOn.REPEATER,
        )


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
    plain = replace(opened, folder=replace(opened.folder, schedule=None))
    assert run_sheet(plain, today=NOW).occasion.date == ""


def test_without_a_repeater_nobody_is_asked_to_stay_on(opened: OpenNet) -> None:
    assert run_sheet(opened, today=NOW).evening is not None
    net = replace(opened.net, repeaters=())
    assert run_sheet(opened_with(replace(opened.folder, net=net), opened.terrain), today=NOW).evening is None


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

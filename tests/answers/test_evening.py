"""The evening's answers: the plan of those present is that of `reach relays --only`, evidence goes before
prediction, and what is stored is what was noted."""

from __future__ import annotations

import datetime
from dataclasses import replace
from pathlib import Path

import pytest

from reach.answers.evening_closing import evening_reports, store_evening, who_came
from reach.answers.evening_heard import heard_tonight
from reach.answers.evening_people import likely_ones, who_is
from reach.answers.evening_plan import EveningNet, evening_net, evening_plan, plan_for
from reach.answers.evening_sheet import evening_sheet
from reach.answers.open_net import OpenNet, open_net
from reach.answers.relays import relays
from reach.demo.folder import make_demo_folder
from reach.drawings.exports.evening import evening_adi, evening_csv, evening_text
from reach.drawings.papers.evening_words import spoken_steps
from reach.drawings.papers.script import checked_script
from reach.evening.acts import Act, Amended, CheckedIn, Closed, HandedOver, ListComplete, Missed, Opened
from reach.evening.check_ins import CheckIn, check_in_of
from reach.evening.fold import Evening, Event, Sitting, fold
from reach.inputs.net_folder import read_net_folder
from reach.inputs.report_files import read_reports
from reach.inputs.reports import ListKind, Outcome, Report
from reach.inputs.reports_csv import Reading
from reach.inputs.tonight import present
from reach.plans.outages.failures import without_stations
from reach.plans.relays.promises import plan_faults
from reach.reports.store import standing, stored_reports
from tests.answers.conftest import write_net

START = datetime.datetime(2026, 11, 24, 18, 30, tzinfo=datetime.UTC)
CONTROL = "QK3ALD"
THERE = ("QK3ASH", "QK3CDR", "QK3HOL", "QK3GRS", "QK3OAK", "QK3PIN", "QK3THN", "QK3IVY", "QK3MPL")


def evening(*acts: Act, on: str = "two metres") -> Evening:
    every = (Opened(on=on, control=CONTROL), *acts)
    return fold([Event(k, START + datetime.timedelta(minutes=k), 0, a) for k, a in enumerate(every, 1)])


def sitting(*acts: Act, on: str = "two metres") -> Sitting:
    found = evening(*acts, on=on).sitting
    assert found is not None
    return found


def in_(call: str, **more: object) -> CheckedIn:
    return CheckedIn(call=call, kind=more.pop("kind", CheckIn.BASE), **more)  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory, land_shaped_once: None) -> Path:
    folder = tmp_path_factory.mktemp("club")
    make_demo_folder(folder)
    return folder


@pytest.fixture(scope="module")
def opened(club: Path):
    with open_net(club) as net:
        yield net


@pytest.fixture(scope="module")
def tonight(opened: OpenNet) -> EveningNet:
    return evening_net(opened, opened.net.channels[0])


@pytest.mark.parametrize("left", [(), ("QK3ASH", "QK3GRS"), ("QK3CDR", "QK3HOL", "QK3OAK", "QK3THN")])
def test_the_plan_of_those_present_is_that_of_the_command(
    club: Path, tonight: EveningNet, tmp_path: Path, left: tuple[str, ...]
) -> None:
    """Exactly the plan of `reach relays --only FILE --control CALL`, as long as nothing was heard yet."""
    there = [CONTROL, *(call for call in THERE if call not in left)]
    only = tmp_path / "there.txt"
    only.write_text("\n".join(there))
    with open_net(present(read_net_folder(club), only=only)) as net:
        wanted = relays(net, control=CONTROL).plan
    found, why = plan_for(tonight, CONTROL, tuple(call for call in there if call != "QK3IVY"))
    assert not why and found is not None
    # whoever leads has agreed, and nobody linked over the internet is asked for: all else is the same
    assert replace(found, no_radio=wanted.no_radio, rules=wanted.rules, proofs=wanted.proofs) == wanted
    assert found.proven == wanted.proven


def test_what_was_heard_tonight_goes_before_what_was_predicted(tonight: EveningNet) -> None:
    """Whom net control hears needs no relay, and a relay that heard nothing is not asked again."""
    predicted = evening_plan(tonight, sitting(*(in_(call) for call in THERE if call != "QK3OAK")), {})
    missing = {one.call_sign: one for one in predicted.missing}
    oak = missing["QK3OAK"]
    assert oak.relay and oak.through > oak.directly
    tried = evening_plan(
        tonight,
        sitting(*(in_(call) for call in THERE if call != "QK3OAK"), Missed(call="QK3OAK", by=oak.relay)),
        {},
    )
    assert {one.call_sign: one for one in tried.missing}["QK3OAK"].relay != oak.relay
    heard = evening_plan(tonight, sitting(*(in_(call, heard=5) for call in THERE)), {})
    assert heard.plan is not None and not heard.plan.relays and not heard.plan.left_out


def test_a_weak_station_gets_a_relay_where_one_was_heard(tonight: EveningNet) -> None:
    found = evening_plan(tonight, sitting(in_("QK3ASH"), in_("QK3MPL", through="QK3ASH", relay_heard=4)), {})
    assert found.plan is not None
    assert found.plan.relay_calls == ("QK3ASH",) and found.plan.relayed[0].call_sign == "QK3MPL"


def test_the_plan_keeps_its_promises_on_the_corrected_links(tonight: EveningNet) -> None:
    now = sitting(*(in_(call, heard=k % 4 + 2) for k, call in enumerate(THERE)))
    found = evening_plan(tonight, now, {})
    survey = heard_tonight(tonight.survey, now, None)
    gone = {station.call_sign for station in tonight.net.stations} - set(now.present)
    network = without_stations(survey.simplex, gone)
    assert found.plan is not None
    assert not [fault for fault in plan_faults(found.plan, network) if "no radio" not in fault]


def test_on_a_repeater_relays_call_on_simplex(opened: OpenNet) -> None:
    repeater = opened.net.repeaters[0]
    on = evening_net(opened, repeater)
    now = sitting(*(in_(call) for call in THERE if call != "QK3IVY"), on=repeater.call_sign)
    found = evening_plan(on, now, {})
    assert found.plan is not None and found.plan.control == repeater.call_sign
    assert not found.plan.left_out  # all of them were heard over it


def test_through_a_relay_into_a_repeater_says_nothing_of_the_way_in(opened: OpenNet) -> None:
    """The relay heard it on simplex; that it gets into the repeater itself nobody said."""
    repeater = opened.net.repeaters[0]
    on = evening_net(opened, repeater)
    before = on.survey.repeater(repeater.call_sign).member("QK3YEW")
    now = sitting(in_("QK3YEW", through="QK3GRS", relay_heard=5), on=repeater.call_sign)
    after = heard_tonight(on.survey, now, repeater)
    assert after.repeater(repeater.call_sign).member("QK3YEW") == before
    heard = heard_tonight(on.survey, sitting(in_("QK3YEW"), on=repeater.call_sign), repeater)
    assert heard.repeater(repeater.call_sign).member("QK3YEW").chance == 1.0


def test_a_bare_roster_has_its_plan_and_its_paper_too(tmp_path: Path) -> None:
    """Nobody said that they lead or relay: whoever leads has agreed, relays are asked whether they will."""
    places = ("41.35,-37.95", "41.40,-37.90", "41.27,-37.78", "41.46,-37.97")
    members = [f"QK1{chr(65 + k)},base,{place}" for k, place in enumerate(places)]
    with open_net(write_net(tmp_path / "bare", members=members)) as bare:
        on = evening_net(bare, bare.net.channels[0])
        now = fold(
            [
                Event(1, START, 0, Opened(on="two metres", control="QK1A")),
                Event(2, START, 0, in_("QK1B")),
                Event(3, START, 0, in_("QK1D", through="QK1B")),
            ]
        ).sitting
        assert now is not None
        found = evening_plan(on, now, {})
        assert found.plan is not None and found.plan.relay_calls == ("QK1B",) and not found.willing
        sheet = evening_sheet(on, now, zone=datetime.UTC, stamp=START, script=None)
        assert sheet.control == "QK1A" and "bare/net.toml" in sheet.occasion.made_from


def test_on_paper_a_repeater_net_stays_one(opened: OpenNet) -> None:
    repeater = opened.net.repeaters[0]
    now = sitting(in_("QK3ASH"), on=repeater.call_sign)
    found = evening_sheet(evening_net(opened, repeater), now, zone=datetime.UTC, stamp=START, script=None)
    assert found.repeater_net is not None and found.repeater_net.repeater == repeater


def test_nobody_else_and_a_stranger_as_control_are_said(tonight: EveningNet) -> None:
    assert evening_plan(tonight, sitting(), {}).why == "Nobody else is on the air yet."
    stranger = evening_plan(tonight, sitting(in_("QK3ASH"), HandedOver(to="QK9ZZZ")), {})
    assert stranger.plan is None and "QK9ZZZ" in stranger.why


def reports_of(opened: OpenNet, *acts: Act, on: str = "two metres") -> list[Report]:
    return list(evening_reports(evening(*acts, on=on), opened.net))


def test_a_check_in_is_a_report_on_net_controls_list(opened: OpenNet) -> None:
    (heard, back) = reports_of(opened, in_("QK3ASH", heard=5, given=4))
    assert (heard.listener, heard.sender, heard.readability) == (CONTROL, "QK3ASH", 5)
    assert heard.list_kind is ListKind.CONTROL
    assert (back.listener, back.sender, back.readability) == ("QK3ASH", CONTROL, 4)
    complete = reports_of(opened, in_("QK3ASH"), ListComplete(call=CONTROL, complete=True))
    assert complete[0].list_kind is ListKind.COMPLETE


def test_a_relayed_check_in_says_what_it_says_and_no_more(opened: OpenNet) -> None:
    """That net control did not hear it counts only where it was noted: it may not have listened then."""
    (by_relay,) = reports_of(opened, in_("QK3MPL", through="QK3ASH", relay_heard=3))
    assert (by_relay.listener, by_relay.sender, by_relay.readability) == ("QK3ASH", "QK3MPL", 3)
    assert by_relay.outcome is Outcome.HEARD and not by_relay.via
    tried = reports_of(
        opened, Missed(call="QK3MPL", by=CONTROL), in_("QK3MPL", through="QK3ASH", relay_heard=3)
    )
    assert [(one.listener, one.outcome, one.via) for one in tried] == [
        ("QK3ASH", Outcome.HEARD, ""),
        (CONTROL, Outcome.NOT_HEARD, ""),
    ]


def test_over_a_repeater_a_relay_heard_on_simplex(opened: OpenNet) -> None:
    call = opened.net.repeaters[0].call_sign
    direct, relayed = reports_of(opened, in_("QK3ASH"), in_("QK3MPL", through="QK3ASH"), on=call)
    assert direct.on == call and (relayed.on, relayed.listener) == ("two metres", "QK3ASH")


def test_the_internet_and_net_control_itself_say_nothing_of_radio(opened: OpenNet) -> None:
    assert not reports_of(opened, in_("QK3IVY", kind=CheckIn.INTERNET), in_(CONTROL))


def test_closing_again_after_a_change_takes_back_what_was_wrong(club: Path, opened: OpenNet) -> None:
    def stored() -> list[tuple[str, str, int | None]]:
        kept = [one.report for one in standing(stored_reports(club)) if one.source == "desk test"]
        return [(one.listener, one.sender, one.readability) for one in kept]

    def close(*acts: Act) -> None:
        store_evening(club, evening(*acts, Closed()), opened.net, name="desk test", now=START)

    try:
        first = in_("QK3ASH", heard=5)
        close(first)
        close(first)
        assert stored() == [(CONTROL, "QK3ASH", 5)]
        change = Amended(call="QK3ASH", kind=CheckIn.BASE, heard=3, of=2)
        close(first, change)
        assert stored() == [(CONTROL, "QK3ASH", 3)]
        back = Amended(call="QK3ASH", kind=CheckIn.BASE, heard=5, of=2)
        close(first, change, back)
        assert stored() == [(CONTROL, "QK3ASH", 5)]
    finally:
        (club / "reports.sqlite").unlink()


def test_the_log_is_read_back_by_our_own_reader(opened: OpenNet, tmp_path: Path) -> None:
    whole = evening(in_("QK3ASH", heard=5, given=4), in_("QK3MPL", through="QK3ASH", relay_heard=3))
    log = tmp_path / "net.adi"
    log.write_text(evening_adi(whole, opened.net, name="desk", program_version="1"))
    read, _ = read_reports(log, against=Reading(opened.net, datetime.UTC, START.replace(year=2027)))
    assert not read.faults
    assert [(r.report.listener, r.report.sender, r.report.readability) for r in read.rows] == [
        (one.listener, one.sender, one.readability) for one in evening_reports(whole, opened.net)
    ]


def test_summary_and_table_say_who_came(opened: OpenNet) -> None:
    whole = evening(
        in_("QK3ASH", heard=5, traffic=True, remark="=lost keys"),
        in_("QK3MPL", through="QK3ASH"),
        in_("QK3THN", kind=CheckIn.BATTERY),
    )
    text = evening_text(whole, opened.net, zone=datetime.UTC)
    assert "We had 3 stations: 1 on battery, 2 base." in text
    assert "Thanks for relaying: QK3ASH (1)." in text and "With traffic: QK3ASH." in text
    table = evening_csv(whole, opened.net, zone=datetime.UTC)
    assert table.splitlines()[1].startswith("2026-11-24,18:32:00,two metres,QK3ASH,Ash,base,QK3ALD,R5,")
    assert "'=lost keys" in table  # no formula
    assert who_came(whole.sitting).total == 3  # type: ignore[arg-type]


def test_the_words_follow_the_script_and_the_counts(opened: OpenNet, tonight: EveningNet) -> None:
    whole = evening(in_("QK3ASH", heard=5), in_("QK3MPL", through="QK3ASH", relay_heard=4))
    now = whole.sitting
    assert now is not None
    plan = evening_plan(tonight, now, {}).plan
    steps = spoken_steps(
        checked_script(None), opened.net, whole, now, on=opened.net.channels[0], plan=plan,
        announcements=("The hall is closed in January.",), zone=datetime.UTC,
    )  # fmt: skip
    headings = [step.heading for step in steps]
    assert headings[:3] == ["Opening", "Priority", "Announcement"] and headings[-1] == "Closing"
    assert [step.kind for step in steps if step.kind] == list(CheckIn)
    assert "Quebec Kilo Three Alfa Lima Delta" in steps[0].words
    assert "QK3ASH, please call QK3MPL" in next(s.words for s in steps if s.heading == "Relay QK3ASH")
    assert steps[-1].words.startswith("Tonight we had 2 stations: 2 base.")
    assert "QK3ASH" in steps[-1].words  # thanked


def test_who_is_this(opened: OpenNet, tonight: EveningNet) -> None:
    whole = evening(in_("QK3ASH"))
    known = dict(who_is(opened, tonight, whole, "QK3ASH").lines)
    assert known["QK3ALD hears it"] == "almost sure" and "base, " in known["Station"]
    assert dict(who_is(opened, tonight, whole, "QK9ZZZ").lines) == {"Not in the roster": "a visitor"}


def test_members_stand_first_with_their_own_kind(opened: OpenNet) -> None:
    ones = likely_ones(opened, opened.came)
    assert {one.call_sign for one in ones} == {station.call_sign for station in opened.net.stations}
    kinds = {one.call_sign: one.kind for one in ones}
    assert all(kinds[s.call_sign] is check_in_of(s) for s in opened.net.stations)

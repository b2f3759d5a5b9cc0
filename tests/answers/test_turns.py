"""A club with several nets: one rota, and every sheet with the net control the rota names."""

from __future__ import annotations

import datetime
from pathlib import Path

import pytest
from icalendar import Calendar

from reach.answers.club_rota import club_rota
from reach.answers.control import RotaWish, control
from reach.answers.open_net import open_net
from reach.answers.run_sheet import run_sheet
from reach.answers.turns import meeting_on
from reach.drawings.exports.calendar import club_calendar, control_calendar
from reach.drawings.papers.run_sheet import written_sheet
from reach.drawings.tables.control import club_rota_screen
from reach.errors import InputProblem
from reach.inputs.net_folder import NetFolder, of_net, read_net_folder
from reach.inputs.nets import MeetsOn
from reach.inputs.tonight import present
from tests.answers.conftest import write_net
from tests.answers.small_net import NET, ROSTER

NOW = datetime.date(2026, 12, 1)  # a Tuesday
NETS = """[[nets]]
name = "Tuesday net"
weekday = "tuesday"
start = "19:30"
[[nets]]
name = "Thursday net"
weekday = "thursday"
start = "20:00"
repeater = "QK0R"
"""


@pytest.fixture(scope="module")
def read(tmp_path_factory: pytest.TempPathFactory) -> NetFolder:
    folder: Path = tmp_path_factory.mktemp("club")
    schedule = NET[NET.index("[schedule]") : NET.index("[[channels]]")]
    made = write_net(folder / "our-net", members=[], settings=NET.replace(schedule, "") + NETS)
    (made / "roster.csv").write_text(ROSTER, encoding="utf-8")
    return read_net_folder(made)


def test_every_sheet_has_the_net_control_of_the_rota(read: NetFolder) -> None:
    with open_net(read) as opened:
        rota = club_rota(opened, RotaWish(start=NOW, nets=6))
    assert [one.net for one in rota.turns] == ["Tuesday net", "Thursday net"] * 3
    for one in rota.turns:
        day = one.turn.start.date()
        with open_net(meeting_on(read, day)) as opened:
            sheet = run_sheet(opened, today=NOW, day=day)
        assert (sheet.control, sheet.occasion.stand_in) == (one.turn.control, one.turn.stand_in)
        assert sheet.net.name == one.net and sheet.occasion.by_rota


def test_one_nets_rota_is_its_part_of_the_whole(read: NetFolder) -> None:
    wish = RotaWish(start=NOW, nets=8)
    with open_net(read) as opened:
        rota = club_rota(opened, wish)
    with open_net(of_net(read, "Thursday net")) as opened:
        alone = control(opened, RotaWish(start=NOW, nets=4))
    assert alone.turns == tuple(one.turn for one in rota.turns if one.net == "Thursday net")
    same = (club_calendar(rota, stamp=STAMP), control_calendar(alone, stamp=STAMP))
    whole, part = ({str(e["uid"]) for e in Calendar.from_ical(text).walk("VEVENT")} for text in same)
    assert part < whole  # the same evening is the same entry in either file


STAMP = datetime.datetime(2026, 12, 1, tzinfo=datetime.UTC)


def test_nobody_twice_in_a_week_where_two_can(read: NetFolder) -> None:
    with open_net(read) as opened:
        rota = club_rota(opened, RotaWish(start=NOW, nets=8))
    for tuesday, thursday in zip(rota.turns[::2], rota.turns[1::2]):
        assert tuesday.turn.control != thursday.turn.control
    assert "nobody has two in a week" in rota.headline


def test_a_net_on_the_repeater_is_sheeted_as_one(read: NetFolder) -> None:
    with open_net(meeting_on(read, datetime.date(2026, 12, 3))) as opened:
        sheet = run_sheet(opened, today=NOW, day=datetime.date(2026, 12, 3))
    assert sheet.kind is MeetsOn.REPEATER and sheet.repeater_net is not None
    facts = dict(written_sheet(sheet).facts)
    assert facts["Fallback"] == "146.520 MHz"  # from a repeater one may fall back to the simplex channel


def test_a_simplex_net_of_its_own_asks_nobody_to_stay_on(read: NetFolder) -> None:
    with open_net(meeting_on(read, NOW)) as opened:
        assert run_sheet(opened, today=NOW, day=NOW).evening is None


def test_who_is_away_keeps_the_rota_as_it_is(read: NetFolder) -> None:
    with open_net(read) as opened:
        (first, *_) = club_rota(opened, RotaWish(start=NOW, nets=2)).turns
    here = present(read, without=[first.turn.stand_in])
    with open_net(meeting_on(here, NOW)) as opened:
        sheet = run_sheet(opened, today=NOW, day=NOW)
    assert sheet.control == first.turn.control and first.turn.stand_in in sheet.net.away
    assert sheet.occasion.stand_in != first.turn.stand_in


def test_to_go_on_after_somebody_is_for_one_net(read: NetFolder) -> None:
    with open_net(read) as opened, pytest.raises(InputProblem, match="this club has several"):
        club_rota(opened, RotaWish(start=NOW, last="QK1A"))


def test_no_net_in_that_time(read: NetFolder) -> None:
    monday = datetime.date(2026, 11, 30)
    with open_net(read) as opened, pytest.raises(InputProblem, match="no net meets from 2026-11-30"):
        club_rota(opened, RotaWish(start=monday, until=monday))


def test_the_screen_names_every_net(read: NetFolder) -> None:
    with open_net(read) as opened:
        screen = club_rota_screen(club_rota(opened, RotaWish(start=NOW, nets=2)))
    assert len(screen) == 6


def test_a_reminder_before_each(read: NetFolder) -> None:
    with open_net(read) as opened:
        rota = club_rota(opened, RotaWish(start=NOW, nets=2))
    day = datetime.timedelta(days=1)
    events = Calendar.from_ical(club_calendar(rota, stamp=STAMP, remind=day)).walk("VEVENT")
    alarms = [event.walk("VALARM") for event in events]
    assert [[alarm.decoded("trigger") for alarm in of_one] for of_one in alarms] == [[-day], [-day]]
    assert str(events[1]["summary"]).startswith("Thursday net: net control")
    assert str(events[1]["description"]).startswith("QK0R\n")
    quiet = Calendar.from_ical(club_calendar(rota, stamp=STAMP)).walk("VALARM")
    assert not quiet


def test_a_rota_goes_on_after_somebody_who_is_away_tonight(tmp_path: Path) -> None:
    folder = write_net(tmp_path / "our-net", members=[], settings=NET)
    (folder / "roster.csv").write_text(ROSTER, encoding="utf-8")
    read = read_net_folder(folder)
    with open_net(read) as opened:
        last = control(opened, RotaWish(start=NOW, nets=1)).turns[0].control
    with open_net(present(read, without=(last,))) as opened:
        found = control(opened, RotaWish(start=NOW, nets=3, last=last))
    assert last not in {turn.control for turn in found.turns}
    with open_net(read) as opened, pytest.raises(InputProblem, match='"QK9ZZZ" is no member'):
        control(opened, RotaWish(start=NOW, nets=3, last="QK9ZZZ"))

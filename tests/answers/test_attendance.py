"""Attendance as an answer: reports and journals together; forecasts count it; who led out of turn is told."""

from __future__ import annotations

import datetime
import shutil
from pathlib import Path

import pytest

from reach.answers.attendance import attendance_notes, who_attends
from reach.answers.evening_closing import store_evening
from reach.answers.learned import Basis
from reach.answers.open_net import open_net
from reach.answers.relays import relays
from reach.evening.acts import CheckedIn, Closed, Opened
from reach.evening.check_ins import CheckIn
from reach.evening.fold import fold
from reach.evening.journal import Journal, journal_place
from reach.inputs.net_folder import of_net, read_net_folder
from tests.answers.small_net import made_in

FIRST = datetime.datetime(2026, 9, 1, 19, 30, tzinfo=datetime.UTC)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Eight Tuesdays: QK1B always, QK1H four times and then no more, QK1N over the link, QK1F never."""
    made = made_in(tmp_path_factory.mktemp("attendance"))
    net = read_net_folder(made).net
    for week in range(8):
        at = FIRST + datetime.timedelta(weeks=week)
        journal = Journal(journal_place(made, at.date()), clock=lambda at=at: at)
        journal.append(Opened(on="two metres", control="QK1A"), token=f"opened-{week}")
        for call in ("QK1B", "QK1N", *(("QK1H",) if week < 4 else ())):
            kind = CheckIn.INTERNET if call == "QK1N" else CheckIn.BASE
            journal.append(CheckedIn(call=call, kind=kind), token=f"{call}-{week}")
        journal.append(Closed(), token=f"closed-{week}")
        store_evening(made, fold(journal.events), net, name=f"desk {at:%Y-%m-%d}", now=at)
        journal.close()
    return made


def test_who_came_counts_those_on_the_link_too(folder: Path) -> None:
    with open_net(folder) as opened:
        found = who_attends(opened)
    came = {one.call_sign: len(one.came) for one in found.came.members}
    assert came == {"QK1A": 8, "QK1B": 8, "QK1F": 0, "QK1H": 4, "QK1N": 8}
    assert found.headline == "4 of 5 members came to 8 nets; expect 3 members at the next."
    assert found.remind == ("QK1H",)
    assert "Worth a call" in " ".join(attendance_notes(found))


def test_the_rota_is_set_beside_who_led(folder: Path) -> None:
    with open_net(folder) as opened:
        found = who_attends(opened)
    assert [one.control for one in found.led] == ["QK1A"] * 8
    assert {one.by_rota for one in found.led} <= {"QK1A", "QK1B"}


def test_forecasts_count_who_comes_and_say_so(folder: Path) -> None:
    with open_net(folder) as opened:
        heard = relays(opened).check_ins
    with open_net(folder, basis=Basis.PREDICTED) as opened:
        predicted = relays(opened).check_ins
    assert heard.with_attendance == heard.stations and predicted.with_attendance == 0
    assert heard.all_ways.expected < predicted.all_ways.expected
    assert "counting how often" in heard.sentence


def test_a_folder_without_nets_says_what_to_do(tmp_path: Path) -> None:
    with open_net(made_in(tmp_path)) as opened:
        found = who_attends(opened)
    assert "No net is noted yet" in found.headline and not found.led


def test_areas_say_what_reports_moved(folder: Path, tmp_path: Path) -> None:
    from reach.answers.area import area
    from reach.answers.area_work import area_work
    from reach.coverage.area.service import StationKind

    said = "QK1A by "
    with open_net(folder) as opened:
        work = area_work(opened.net, ["QK1A"], kind=StationKind.HANDHELD, radius_m=3_000.0, cell_m=300.0)
        assert any(said in text for text in area(opened, work).warnings)
    with open_net(made_in(tmp_path)) as opened:
        work = area_work(opened.net, ["QK1A"], kind=StationKind.HANDHELD, radius_m=3_000.0, cell_m=300.0)
        assert not any(said in text for text in area(opened, work).warnings)


def test_evenings_of_more_than_two_years_ago_are_left_aside(tmp_path: Path) -> None:
    made = made_in(tmp_path)
    for weeks, call in ((0, "QK1H"), (110, "QK1B")):
        at = FIRST + datetime.timedelta(weeks=weeks)
        journal = Journal(journal_place(made, at.date()), clock=lambda at=at: at)
        journal.append(Opened(on="two metres", control="QK1A"), token="token-opened")
        for other in (call, "QK1N"):
            journal.append(CheckedIn(call=other, kind=CheckIn.BASE), token=f"token-{other}")
        journal.append(Closed(), token="token-closed")
        journal.close()
    with open_net(made) as opened:
        came = {one.call_sign: len(one.came) for one in opened.came.members}
    assert came == {"QK1A": 1, "QK1B": 1, "QK1F": 0, "QK1H": 0, "QK1N": 1}


TWO_NETS = """[[nets]]
name = "Tuesday net"
weekday = "tuesday"
start = "19:30"
[[nets]]
name = "Repeater net"
weekday = "tuesday"
start = "21:00"
repeater = "QK0R"
[[nets]]
name = "Thursday net"
weekday = "thursday"
start = "20:00"
"""


@pytest.fixture(scope="module")
def club(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four weeks: QK1B on Tuesdays, QK1H on Thursdays, QK1N on the repeater; on a Sunday some try things."""
    made = made_in(tmp_path_factory.mktemp("club"))
    settings = (made / "net.toml").read_text(encoding="utf-8")
    schedule = settings[settings.index("[schedule]") : settings.index("[[channels]]")]
    (made / "net.toml").write_text(settings.replace(schedule, "") + TWO_NETS, encoding="utf-8")
    net = read_net_folder(made).net
    for week in range(4):
        for days, on, own in ((0, "two metres", "QK1B"), (0, "QK0R", "QK1N"), (2, "two metres", "QK1H"),
                              (5, "two metres", "QK1F")):  # fmt: skip
            at = FIRST + datetime.timedelta(weeks=week, days=days)
            journal = Journal(journal_place(made, at.date()), clock=lambda at=at: at)
            token = f"{week}-{days}-{on}"
            journal.append(Opened(on=on, control="QK1A"), token=f"opened-{token}")
            for call in (own, "QK9V"):
                journal.append(CheckedIn(call=call, kind=CheckIn.BASE), token=f"{call}-{token}")
            journal.append(Closed(), token=f"closed-{token}")
            store_evening(made, fold(journal.events), net, name=f"desk {token}", now=at)
            journal.close()
    return made


@pytest.mark.parametrize(
    ("name", "came"),
    [
        ("Tuesday net", {"QK1A": 4, "QK1B": 4, "QK1F": 0, "QK1H": 0, "QK1N": 0}),
        ("Repeater net", {"QK1A": 4, "QK1B": 0, "QK1F": 0, "QK1H": 0, "QK1N": 4}),
        ("Thursday net", {"QK1A": 4, "QK1B": 0, "QK1F": 0, "QK1H": 4, "QK1N": 0}),
    ],
)
def test_each_of_a_clubs_nets_has_its_own_attendance(club: Path, name: str, came: dict[str, int]) -> None:
    with open_net(of_net(read_net_folder(club), name)) as opened:
        found = who_attends(opened)
        expected = {s.call_sign: s.attendance for s in opened.net.stations}
    assert {one.call_sign: len(one.came) for one in found.came.members} == came
    assert f"came to 4 evenings of {name}" in found.headline
    own = next(call for call, times in came.items() if times and call != "QK1A")
    assert (expected[own] or 0.0) > 0.7 > 0.3 > (expected["QK1F"] or 0.0)
    assert not any("counted for both" in text for text in found.warnings)


def test_the_club_as_a_whole_counts_every_evening_and_says_so(club: Path) -> None:
    with open_net(club) as opened:
        found = who_attends(opened)
    assert len(found.came.nets) == 12  # Tuesdays, Thursdays, Sundays
    assert any("--net NAME takes one of them" in text for text in found.warnings)


def test_nets_that_cannot_be_told_apart_are_said(club: Path, tmp_path: Path) -> None:
    made = tmp_path / "alike"
    shutil.copytree(club, made)
    settings = (made / "net.toml").read_text(encoding="utf-8")
    (made / "net.toml").write_text(
        settings.replace('repeater = "QK0R"\n', 'on = "simplex"\n'), encoding="utf-8"
    )
    with open_net(of_net(read_net_folder(made), "Tuesday net")) as opened:
        found = who_attends(opened)
    assert any("On 4 evenings another net met in the same place" in text for text in found.warnings)

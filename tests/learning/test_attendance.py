"""Who came when: nets counted, shares shrunk towards what is known beforehand."""

from __future__ import annotations

import datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from reach.inputs.reports import ListKind, Outcome, Report
from reach.learning.attendance import USUAL_SHARE, WEIGHT_NETS, attendance
from reach.stations import Antenna, Category, Channel, Net, Position, Station

FIRST = datetime.datetime(2026, 1, 6, 19, 30, tzinfo=datetime.UTC)


def net(*calls: str, usually: dict[str, float] | None = None) -> Net:
    stations = tuple(
        Station(
            call, "", Position(41.0, -38.0), Category.BASE, Antenna(9.0, 2.0), 44.0,
            attendance=(usually or {}).get(call),
        )
        for call in calls
    )  # fmt: skip
    return Net("Net", (Channel("two metres", 146.52),), (), stations)


def heard(call: str, week: int, **more: object) -> Report:
    at = FIRST + datetime.timedelta(weeks=week)
    return Report(at=at, listener="QK1A", sender=call, on="two metres", **more)  # type: ignore[arg-type]


CALLS = ("QK1A", "QK1B", "QK1C", "QK1D")


def test_without_reports_everyone_is_expected_as_usual() -> None:
    found = attendance([], net(*CALLS), zone=datetime.UTC)
    assert not found.nets and found.club_share == USUAL_SHARE
    assert {one.expected for one in found.members} == {USUAL_SHARE}


def test_the_posterior_is_the_mean_of_its_beta() -> None:
    """8 of 10 nets with a roster's 50 %: (8 + 4 x 0.5) / (10 + 4), by hand."""
    reports = [heard("QK1C", week) for week in range(10)]
    reports += [heard("QK1B", week) for week in range(8)]
    found = attendance(reports, net(*CALLS, usually={"QK1B": 0.5}), zone=datetime.UTC)
    assert len(found.nets) == 8  # two evenings of two stations only were no nets
    members = {one.call_sign: one for one in found.members}
    assert members["QK1B"].expected == (8 + WEIGHT_NETS * 0.5) / (8 + WEIGHT_NETS)
    assert members["QK1D"].expected < found.club_share < members["QK1A"].expected
    assert members["QK1B"].last == (FIRST + datetime.timedelta(weeks=7)).date()


def test_two_who_try_something_out_are_no_net() -> None:
    assert not attendance([heard("QK1B", 0)], net(*CALLS), zone=datetime.UTC).nets


def test_not_heard_is_no_coming_and_a_relay_was_there() -> None:
    reports = [
        heard("QK1B", 0, via="QK1C"),
        heard("QK1D", 0, outcome=Outcome.NOT_HEARD, list_kind=ListKind.COMPLETE),
    ]
    found = attendance(reports, net(*CALLS), zone=datetime.UTC)
    came = {one.call_sign: bool(one.came) for one in found.members}
    assert came == {"QK1A": True, "QK1B": True, "QK1C": True, "QK1D": False}
    assert next(one for one in found.members if one.call_sign == "QK1B").through == {"QK1C": 1}


def test_visitors_and_net_controls_are_told() -> None:
    reports = [heard(call, 0, list_kind=ListKind.CONTROL) for call in ("QK1B", "QK9V")]
    found = attendance(reports, net(*CALLS), zone=datetime.UTC)
    assert [one.call_sign for one in found.visitors] == ["QK9V"]
    assert list(found.controls.values()) == ["QK1A"]


def test_past_midnight_belongs_to_the_evening_before() -> None:
    late = FIRST.replace(hour=23, minute=50)
    reports = [
        Report(at=late, listener="QK1A", sender="QK1B", on="two metres"),
        Report(at=late + datetime.timedelta(minutes=20), listener="QK1A", sender="QK1C", on="two metres"),
    ]
    assert len(attendance(reports, net(*CALLS), zone=datetime.UTC).nets) == 1


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sets(st.sampled_from(CALLS[1:])), min_size=1, max_size=12))
def test_shares_are_chances_and_coming_more_often_is_never_expected_less(weeks: list[set[str]]) -> None:
    reports = [heard(call, week) for week, calls in enumerate(weeks) for call in sorted(calls)]
    found = attendance(reports, net(*CALLS), zone=datetime.UTC)
    shares = {one.call_sign: (len(one.came), one.expected) for one in found.members}
    assert all(0.0 < share < 1.0 for _, share in shares.values())
    ordered = sorted(shares.values())
    assert [share for _, share in ordered] == sorted(share for _, share in ordered)

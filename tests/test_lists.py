"""Names said to people: lists cut short, and what somebody may have meant."""

from __future__ import annotations

import pytest

from reach.lists import counted, did_you_mean, did_you_mean_or, named, nearest


def test_long_lists_are_cut_short_and_say_so() -> None:
    assert named(["A", "B"], most=2) == "A, B"
    assert named(["A", "B", "C", "D"], most=2) == "A, B and 2 more"
    assert (counted(1, "net"), counted(2, "net")) == ("1 net", "2 nets")


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("QK3ABD", "QK3ABC"), ("qk3abc", "QK3ABC"), ("thursday nte", "Thursday net"), ("zzz", "")],
)
def test_the_nearest_is_found_whatever_its_case(typed: str, meant: str) -> None:
    assert nearest(typed, ["QK3ABC", "Thursday net", "QK7XYZ"]) == meant


def test_the_order_of_the_names_does_not_decide() -> None:
    assert nearest("QK3AB", ["QK3ABC", "QK3ABD"]) == nearest("QK3AB", ["QK3ABD", "QK3ABC"]) != ""


def test_what_to_do_where_something_is_near_and_where_nothing_is() -> None:
    known = ["simplex", "relays"]
    assert did_you_mean("simplx", known, otherwise="look at --help") == "did you mean simplex?"
    assert did_you_mean("zzz", known, otherwise="look at --help") == "look at --help"
    assert did_you_mean_or("relay", known, otherwise="write one", kinds=": a, b") == (
        "did you mean relays? If not, write one"
    )
    assert did_you_mean_or("zzz", known, otherwise="write one", kinds=": a, b") == "write one: a, b"

"""Plans compared: only what differs is told."""

from __future__ import annotations

from dataclasses import replace

from reach.plans.relays import plan_relays
from reach.plans.what_if import Aspect, difference_sentence, plan_differences
from tests.plans.synthetic import call, linked, station

PAIRS = [(0, 1), (0, 2), (1, 3), (2, 3), (0, 4)]


def test_nothing_changes() -> None:
    plan = plan_relays(linked(5, PAIRS), control=call(0))
    assert plan_differences(plan, plan) == ()
    assert difference_sentence((), plan) == "Nothing changes: the plan is the same."


def test_a_relay_that_stays_away() -> None:
    before = plan_relays(linked(5, PAIRS), control=call(0))
    stations = tuple(station(call(i)) for i in (0, 2, 3, 4))
    after = plan_relays(linked(4, [(0, 1), (1, 2), (0, 3)], stations), control=call(0))
    found = plan_differences(before, after)
    words = [d.words for d in found]
    assert words[0] == f"{call(1)} is not in the net."
    assert f"{call(2)} now relays." in words
    assert f"{call(2)} no longer stands by." in words
    assert f"{call(3)} is heard through {call(2)} instead of heard through {call(1)}." in words
    assert not any(d.call_sign == call(4) for d in found)
    assert difference_sentence(found, after).startswith("Nobody comes in or is left out by it")


def test_who_comes_in_and_who_is_lost() -> None:
    before = plan_relays(linked(5, [(0, 1), (0, 2), (1, 3)]), control=call(0))
    after = plan_relays(linked(5, [(0, 1), (0, 2), (2, 4)]), control=call(0))
    found = plan_differences(before, after)
    reached = {d.call_sign: (d.before, d.after) for d in found if d.aspect is Aspect.REACHED}
    assert reached == {
        call(3): (f"heard through {call(1)}", "left out"),
        call(4): ("left out", f"heard through {call(2)}"),
    }
    assert difference_sentence(found, after) == (
        f"{call(4)} comes in; {call(3)} is left out; {call(0)} reaches 3 of 4."
    )


def test_another_net_control() -> None:
    network = linked(3, [(0, 1), (1, 2), (0, 2)])
    found = plan_differences(plan_relays(network, control=call(0)), plan_relays(network, control=call(1)))
    assert [d.words for d in found if d.aspect is Aspect.CONTROL] == [
        f"Net control is {call(1)} instead of {call(0)}."
    ]
    assert replace(found[0]) == found[0]

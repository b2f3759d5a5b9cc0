"""Plans compared: only what differs is told."""

from __future__ import annotations

from dataclasses import replace

from reach.links.sayings import chance_in_words
from reach.plans.relays.plan import plan_relays
from reach.plans.relays.what_if import Aspect, difference_sentence, plan_differences
from tests.plans.synthetic import call, linked, network_of, station

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
    chance = chance_in_words(before.relayed[0].chance)
    assert (
        f"{call(3)} is heard through {call(2)} ({chance}) instead of heard through {call(1)} ({chance})."
        in words
    )
    assert f"{call(3)} has no second way any more, should {call(2)} be missing." in words
    assert not any(d.call_sign == call(4) for d in found)
    assert difference_sentence(found, after).startswith("Nobody comes in or is left out by it")


def test_who_comes_in_and_who_is_lost() -> None:
    before = plan_relays(linked(5, [(0, 1), (0, 2), (1, 3)]), control=call(0))
    after = plan_relays(linked(5, [(0, 1), (0, 2), (2, 4)]), control=call(0))
    found = plan_differences(before, after)
    reached = {d.call_sign: (d.before, d.after) for d in found if d.aspect is Aspect.REACHED}
    assert reached == {
        call(3): (f"heard through {call(1)} (even: 6 in 10)", "left out"),
        call(4): ("left out", f"heard through {call(2)} (even: 6 in 10)"),
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


def test_a_weaker_member_is_told_with_its_chance() -> None:
    network = linked(3, [(0, 1), (0, 2)])
    margin_db = network.margin_db.copy()
    margin_db[0, 2] = margin_db[2, 0] = 1.0
    before = plan_relays(network, control=call(0))
    after = plan_relays(network_of(margin_db), control=call(0))
    found = plan_differences(before, after)
    assert [d.words for d in found] == [
        f"{call(2)} is heard even: 5 in 10 instead of likely: 8 in 10.",
        "Expected to be heard, each on its first way: 1.3 instead of 1.6 (-0.3).",
    ]


def test_a_new_member_is_told_with_its_place() -> None:
    before = plan_relays(linked(2, [(0, 1)]), control=call(0))
    after = plan_relays(linked(4, [(0, 1), (0, 2)]), control=call(0))
    found = plan_differences(before, after)
    assert [d.words for d in found][:2] == [
        f"{call(2)} is new in the net: heard directly (likely: 8 in 10).",
        f"{call(3)} is new in the net: left out.",
    ]
    assert difference_sentence(found, after).startswith(f"{call(2)} comes in; {call(3)} is left out; ")


def test_a_second_way_gained() -> None:
    links = [(0, 1), (0, 2), (1, 3)]
    before = plan_relays(linked(4, links), control=call(0))
    after = plan_relays(linked(4, [*links, (2, 3)]), control=call(0))
    words = [d.words for d in plan_differences(before, after)]
    assert f"{call(3)} has a second way now: through {call(2)}." in words

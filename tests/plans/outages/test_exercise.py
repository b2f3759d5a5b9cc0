"""Rehearsals: the same seed the same rounds, and nothing in them that cannot happen."""

from __future__ import annotations

import pytest

from reach.errors import OutOfRange
from reach.plans.outages.backup import plan_outage
from reach.plans.outages.exercise import Event, exercise, exercise_sentence
from reach.plans.outages.failures import Mains, standing
from reach.plans.relays.rules import RelayRules
from tests.plans.invented_survey import invented_survey, survey_of
from tests.plans.synthetic import call, linked, station

RULES = RelayRules()


def test_the_same_seed_gives_the_same_rounds_and_more_rounds_go_on() -> None:
    survey = invented_survey(12, seed=3)
    ten = exercise(survey, RULES, seed=7, rounds=10)
    assert exercise(survey, RULES, seed=7, rounds=10) == ten
    assert exercise(survey, RULES, seed=7, rounds=4) == ten[:4]
    assert exercise(survey, RULES, seed=8, rounds=10) != ten
    assert [r.number for r in ten] == list(range(1, 11))


def test_each_round_says_what_happened_and_holds_the_plan_for_it() -> None:
    survey = invented_survey(12, seed=3)
    seen = set()
    for r in exercise(survey, RULES, seed=1, rounds=40):
        seen |= set(r.events)
        assert 1 <= len(r.events) <= 3 and len(set(r.events)) == len(r.events)
        assert (Event.MAINS in r.events) is (r.outage.mains is Mains.LOST)
        assert (Event.REPEATER in r.events) is bool(r.outage.repeaters)
        missing = {Event.CONTROL, Event.RELAY, Event.MEMBERS} & set(r.events)
        assert bool(missing) is bool(r.outage.stations)
        assert r.plan == plan_outage(survey, r.outage, RULES)
        assert r.on_air == len(r.plan.in_net) + len(r.plan.cut_off)
    assert seen == set(Event)


def test_a_missing_net_control_is_the_one_there_would_have_been() -> None:
    survey = invented_survey(12, seed=3)
    alone = [r for r in exercise(survey, RULES, seed=1, rounds=60) if r.events == (Event.CONTROL,)]
    assert alone
    usual = plan_outage(survey, alone[0].outage.__class__(), RULES)
    assert all(r.outage.stations == {usual.control} for r in alone)


def test_without_repeaters_none_fails() -> None:
    survey = invented_survey(8, seed=3, repeaters=0)
    assert all(Event.REPEATER not in r.events for r in exercise(survey, RULES, seed=1, rounds=20))


def test_a_net_that_always_holds_and_one_that_never_does() -> None:
    whole = survey_of(
        linked(8, [(i, j) for i in range(8) for j in range(i)], tuple(station(call(k)) for k in range(8))), {}
    )
    rounds = exercise(whole, RULES, seed=1, rounds=30)
    kept = [r for r in rounds if r.outage.mains is Mains.ON]
    assert kept and all(not r.plan.cut_off for r in kept)
    apart = survey_of(linked(3, []), {})
    sentence = exercise_sentence(exercise(apart, RULES, seed=1, rounds=3))
    assert sentence.startswith("0 of 3 rounds keep everyone")
    assert "No net at all in rounds 1, 2, 3." in sentence


def test_no_round_comes_twice_and_a_small_net_runs_out_of_them() -> None:
    rounds = exercise(invented_survey(12, seed=3), RULES, seed=5, rounds=150)
    assert len({r.outage for r in rounds}) == len(rounds) == 150
    two = survey_of(linked(2, [(0, 1)]), {})
    few = exercise(two, RULES, seed=5, rounds=50)
    # net control missing, the other missing, both missing, and the mains lost, which leaves nobody
    assert len({r.outage for r in few}) == len(few) == 4
    assert [r.number for r in few] == [1, 2, 3, 4]


def test_a_repeater_with_no_mains_fails_no_more_than_it_did() -> None:
    """The repeaters here have no batteries: with the mains lost, one that fails too makes no new round."""
    survey = invented_survey(12, seed=3)
    rounds = exercise(survey, RULES, seed=2, rounds=200)
    left = [standing(survey, r.outage) for r in rounds]
    met = {(one.members, one.repeaters, one.dark, one.absent) for one in left}
    assert len(met) == len(rounds) > 100
    assert any(r.outage.mains is Mains.LOST for r in rounds)


@pytest.mark.parametrize(
    ("seed", "rounds", "text"), [(1, 0, "not 0"), (1, 1001, "not 1001"), (-1, 5, "not -1")]
)
def test_rounds_and_seeds_that_cannot_be(seed: int, rounds: int, text: str) -> None:
    with pytest.raises(OutOfRange, match=text):
        exercise(invented_survey(4, seed=1), RULES, seed=seed, rounds=rounds)

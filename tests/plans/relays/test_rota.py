"""Rota: dates by the rule, turns shared evenly."""

from __future__ import annotations

import datetime
import itertools
from collections import Counter

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import InputProblem, NoPlan
from reach.inputs.planning import Schedule
from reach.plans.relays.net_control import MOST_COUNTED, ControlChoice, rank_controls
from reach.plans.relays.rota import fit_for_control, net_dates, net_number, rota
from reach.plans.relays.rules import RelayRules
from tests.plans.synthetic import call, hilly, linked, station

AT = datetime.time(19, 30)


def days(schedule: Schedule, start: str, count: int) -> list[str]:
    return [
        d.date().isoformat()
        for d in net_dates(schedule, start=datetime.date.fromisoformat(start), count=count)
    ]


def test_weekly_dates() -> None:
    # 2026-11-25 is a Wednesday (calendar fact)
    assert days(Schedule(weekday=1, start=AT), "2026-11-25", 3) == ["2026-12-01", "2026-12-08", "2026-12-15"]
    assert days(Schedule(weekday=2, start=AT), "2026-11-25", 2) == ["2026-11-25", "2026-12-02"]


def test_every_second_week_counts_from_the_first_date() -> None:
    rule = Schedule(weekday=1, start=AT, every_weeks=2, first_date=datetime.date(2026, 11, 24))
    assert days(rule, "2026-11-25", 2) == ["2026-12-08", "2026-12-22"]


def test_monthly_dates_skip_months_without_a_fifth_week() -> None:
    # Mondays: 2026-11-30 and 2027-03-29 are fifth ones
    assert days(Schedule(weekday=0, start=AT, every_weeks=0, week_of_month=5), "2026-11-01", 2) == [
        "2026-11-30",
        "2027-03-29",
    ]
    assert days(Schedule(weekday=3, start=AT, every_weeks=0, week_of_month=-1), "2026-11-25", 2) == [
        "2026-11-26",
        "2026-12-31",
    ]


def test_local_time_stays_over_a_change_of_clocks() -> None:
    rule = Schedule(weekday=1, start=AT, timezone="America/Halifax")
    found = net_dates(rule, start=datetime.date(2026, 10, 27), count=2)  # clocks go back on 2026-11-01
    assert [d.time() for d in found] == [AT, AT]
    assert [d.utcoffset() for d in found] == [datetime.timedelta(hours=-3), datetime.timedelta(hours=-4)]


def test_a_rule_without_dates_is_refused() -> None:
    rule = Schedule(weekday=0, start=AT, every_weeks=0, week_of_month=5)
    with pytest.raises(InputProblem, match="no net from 2026-12-01 to 2026-12-31"):
        net_dates(rule, start=datetime.date(2026, 12, 1), count=4, until=datetime.date(2026, 12, 31))
    with pytest.raises(InputProblem, match="a rota of 0 nets has no dates"):
        net_dates(rule, start=datetime.date(2026, 12, 1), count=0)
    late = Schedule(weekday=0, start=AT, first_date=datetime.date(2027, 6, 1))
    with pytest.raises(InputProblem, match="no net from 2027-06-01"):
        net_dates(late, start=datetime.date(2026, 12, 1), count=4, until=datetime.date(2027, 1, 31))


def choice(number: int, *, reaches: int, score: float) -> ControlChoice:
    return ControlChoice(number, call(number), reaches, 20, reaches, 0, score, score, False, "")


def test_only_those_nearly_as_good_as_the_best_take_turns() -> None:
    choices = [
        choice(1, reaches=20, score=18.0),
        choice(2, reaches=18, score=16.0),
        choice(3, reaches=20, score=9.0),
    ]
    assert [c.call_sign for c in fit_for_control(choices)] == [call(1), call(2)]


@given(st.integers(1, 7), st.integers(1, 40), st.integers(0, 8))
@settings(max_examples=60, deadline=None)
def test_turns_differ_by_at_most_one_and_nobody_comes_twice_in_a_row(fit: int, nets: int, last: int) -> None:
    choices = [choice(i, reaches=20, score=18.0 - i / 10) for i in range(fit)]
    dates = net_dates(Schedule(weekday=1, start=AT), start=datetime.date(2026, 12, 1), count=nets)
    turns = rota(choices, dates, last=call(last))
    counts = Counter(turn.control for turn in turns)
    assert max(counts.values()) - min(counts.get(call(i), 0) for i in range(fit)) <= 1
    if fit > 1:
        assert all(a.control != b.control for a, b in itertools.pairwise(turns))
        assert turns[0].control != call(last)
        assert all(turn.stand_in != turn.control for turn in turns)


def test_no_rota_without_anyone() -> None:
    with pytest.raises(NoPlan, match="nobody is fit"):
        rota((), ())


def test_ranking_by_what_is_heard() -> None:
    # 1 is the hub, 0 and 3 hang on it or on 2
    stations = tuple(station(call(i), control=i in (0, 1, 3)) for i in range(4))
    ranked = rank_controls(linked(4, [(0, 1), (1, 2), (1, 3), (2, 3)], stations))
    assert [c.call_sign for c in ranked] == [call(1), call(3), call(0)]
    assert [(c.reaches, c.direct, c.relays_needed) for c in ranked] == [(3, 3, 0), (3, 2, 1), (3, 1, 1)]
    assert ranked[0].reason.startswith(f"{call(1)} works 3 of 3 directly")


def test_nobody_willing() -> None:
    stations = tuple(station(call(i), control=False) for i in range(3))
    with pytest.raises(NoPlan, match="nobody on the air is willing to be net control"):
        rank_controls(linked(3, [(0, 1), (1, 2)], stations))


def test_only_named_candidates_are_ranked() -> None:
    network = linked(4, [(0, 1), (1, 2), (1, 3)])
    assert [c.call_sign for c in rank_controls(network, RelayRules(control_candidates=(call(2),)))] == [
        call(2)
    ]
    with pytest.raises(NoPlan, match="none of the control candidates"):
        rank_controls(network, RelayRules(control_candidates=("QK9ZZ",)))


def test_expected_numbers_grow_with_relays_and_rank_is_total() -> None:
    ranked = rank_controls(hilly(24, seed=5, willing=0.5))
    assert [c.rank for c in ranked] == list(range(1, len(ranked) + 1))
    for c in ranked:
        assert c.expected_at_most >= c.expected_direct - 1e-9
        assert c.direct <= c.reaches <= c.of == 23


def test_many_candidates_have_the_relays_of_the_best_counted() -> None:
    ranked = rank_controls(hilly(40, seed=5, area_km=50.0))
    assert all(choice.relays_needed is not None for choice in ranked[:MOST_COUNTED])
    assert all(choice.relays_needed is None for choice in ranked[MOST_COUNTED:])
    assert len(ranked) == 40


@pytest.mark.parametrize(
    "rule",
    [
        Schedule(weekday=1, start=AT),
        Schedule(weekday=1, start=AT, every_weeks=2, first_date=datetime.date(2026, 1, 6)),
        Schedule(weekday=0, start=AT, every_weeks=0, week_of_month=5),
        Schedule(weekday=3, start=AT, every_weeks=0, week_of_month=-1),
    ],
)
def test_nets_are_numbered_one_after_the_other(rule: Schedule) -> None:
    """So that a rota begun at any date goes on as one begun earlier, and gives everyone as many turns."""
    dates = net_dates(rule, start=datetime.date(2026, 11, 1), count=15)
    numbers = [net_number(rule, date.date()) for date in dates]
    assert numbers == list(range(numbers[0], numbers[0] + 15))

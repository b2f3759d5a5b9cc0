"""One rota over several nets: different net controls in a week as far as can be, turns shared evenly."""

from __future__ import annotations

import datetime
from collections import Counter
from itertools import groupby, product

import networkx as nx
import pytest
from hypothesis import given
from hypothesis import strategies as st

from reach.errors import NoPlan
from reach.plans.relays.shared_rota import Meeting, different, shared_turns, year_begins

MONDAY = datetime.date(2025, 12, 29)  # first day of the ISO year 2026 (calendar fact)
CALLS = "ABCDEFG"


def at(week: int, weekday: int, hour: int = 19) -> datetime.datetime:
    day = MONDAY + datetime.timedelta(days=7 * week + weekday)
    return datetime.datetime.combine(day, datetime.time(hour), tzinfo=datetime.UTC)


def weeks_of(nets: list[tuple[int, str]], weeks: int) -> list[Meeting]:
    """nets : (weekday, call signs fit for it, a letter each)."""
    return [
        Meeting(f"net {number}", at(week, weekday), tuple(fit))
        for week in range(weeks)
        for number, (weekday, fit) in enumerate(nets)
    ]


some_nets = st.lists(
    st.tuples(
        st.integers(0, 6), st.lists(st.sampled_from(CALLS), min_size=1, max_size=5, unique=True).map("".join)
    ),
    min_size=1,
    max_size=5,
)


@given(nets=some_nets)
def test_as_many_different_in_a_week_as_can_be(nets: list[tuple[int, str]]) -> None:
    """Against every way to give a week's nets out."""
    most = max(len(set(chosen)) for chosen in product(*(fit for _, fit in nets)))
    for week in range(3):
        turns = shared_turns(weeks_of(nets, 3))[week * len(nets) : (week + 1) * len(nets)]
        controls = [one.turn.control for one in turns]
        assert len(set(controls)) == most
        assert sum(one.again for one in turns) == len(controls) - most


@given(nets=some_nets, taken=st.sets(st.sampled_from(CALLS)))
def test_the_matching_is_a_greatest_one(nets: list[tuple[int, str]], taken: set[str]) -> None:
    """Against networkx's Hopcroft-Karp."""
    graph = nx.Graph()
    graph.add_nodes_from(range(len(nets)))
    graph.add_edges_from((n, c) for n, (_, fit) in enumerate(nets) for c in fit if c not in taken)
    matched = nx.bipartite.maximum_matching(graph, top_nodes=range(len(nets)))
    assert different(weeks_of(nets, 1), taken) == len(matched) // 2


@given(nets=some_nets)
def test_only_the_fit_and_no_stand_in_for_oneself(nets: list[tuple[int, str]]) -> None:
    fit = {f"net {number}": set(calls) for number, (_, calls) in enumerate(nets)}
    for one in shared_turns(weeks_of(nets, 4)):
        assert one.turn.control in fit[one.net]
        assert one.turn.stand_in in fit[one.net] | {""} and one.turn.stand_in != one.turn.control
        assert bool(one.turn.stand_in) == (len(fit[one.net]) > 1)


@given(count=st.integers(1, 6), weeks=st.integers(1, 20))
def test_turns_of_equals_differ_by_one_at_most(count: int, weeks: int) -> None:
    """Nets all can control: over any time from the year's first week each has had as many as any other."""
    nets = [(weekday, CALLS[:count]) for weekday in (1, 3)]
    had = Counter(one.turn.control for one in shared_turns(weeks_of(nets, weeks)))
    assert max(had.values()) - min(had[call] for call in CALLS[:count]) <= 1


def test_a_date_has_its_turn_however_far_the_rota_goes() -> None:
    nets = [(1, "ABC"), (3, "BCD"), (6, "A")]
    assert shared_turns(weeks_of(nets, 30))[:60] == shared_turns(weeks_of(nets, 20))


def test_the_only_one_of_a_later_net_is_kept_for_it() -> None:
    """A is due for Tuesday by turns and rank, but Thursday has nobody else."""
    tuesday, thursday = shared_turns(weeks_of([(1, "AB"), (3, "A")], 1))
    assert (tuesday.turn.control, thursday.turn.control) == ("B", "A")


def test_one_who_must_have_two_is_told_by_the_second() -> None:
    first, second = shared_turns(weeks_of([(1, "A"), (3, "A")], 1))
    assert (first.again, second.again) == (False, True)


def test_weeks_begin_on_monday_and_years_with_whole_weeks() -> None:
    # 2026-12-31 is in week 53 of 2026, as 2027-01-03 is; 2027-01-04 begins 2027 (calendar facts)
    assert year_begins(datetime.date(2027, 1, 3)) == MONDAY
    assert year_begins(datetime.date(2027, 1, 4)) == datetime.date(2027, 1, 4)
    one = [Meeting("n", at(52, 6), ("A", "B")), Meeting("n", at(53, 0), ("A", "B"))]
    assert [t.turn.control for t in shared_turns(one)] == ["A", "A"]  # counted anew


def test_a_week_keeps_its_order_of_time() -> None:
    late_first = [Meeting("late", at(0, 2, 21), ("A",)), Meeting("early", at(0, 2, 19), ("A",))]
    turns = shared_turns(late_first)
    assert [one.net for one in turns] == ["early", "late"]
    assert [list(g) for _, g in groupby(t.again for t in turns)] == [[False], [True]]


def test_a_net_with_nobody_is_named() -> None:
    with pytest.raises(NoPlan, match="nobody is fit for net control of net 1"):
        shared_turns(weeks_of([(1, "A"), (3, "")], 1))

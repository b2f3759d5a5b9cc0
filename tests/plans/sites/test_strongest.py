"""The strongest of the sites that link most, against every choice tried and counted anew."""

from __future__ import annotations

import itertools
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.plans.sites.portable_sites import Goal, LinkTask
from reach.plans.sites.strongest import expected_heard, rank_of, strongest_choice

CALLS = tuple(f"QK3A{k}" for k in "ABCDEF")
TASK = LinkTask(Goal.MOST, CALLS)


def a_site(chances: list[float]) -> Any:
    """A site that works those with a chance over a half."""
    links = tuple(
        SimpleNamespace(call_sign=call, chance=chance, works=chance > 0.5)
        for call, chance in zip(CALLS, chances)
    )
    return SimpleNamespace(links=links, works=tuple(link.call_sign for link in links if link.works))


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 3))
def test_nothing_tried_links_more_or_expects_more(seed: int, count: int) -> None:
    rng = np.random.default_rng(seed)
    rows = [[a_site(rng.random(len(CALLS)).round(2).tolist()) for _ in range(5)] for _ in range(count)]
    found = strongest_choice(TASK, rows, lambda choice: True)

    def by_hand(choice: Any) -> tuple[int, float]:
        best = [
            max((s.links[k].chance for s in choice if s.links[k].works), default=0.0)
            for k in range(len(CALLS))
        ]
        return sum(chance > 0.0 for chance in best), round(sum(best), 6)

    assert by_hand(found) == max(map(by_hand, itertools.product(*rows)))
    assert rank_of(TASK, found) == by_hand(found)


def test_a_pair_with_decibels_to_spare_comes_before_one_at_a_coin_toss() -> None:
    toss, sure = a_site([0.9, 0.9, 0.51, 0, 0, 0]), a_site([0.9, 0.9, 0.9, 0, 0, 0])
    assert strongest_choice(TASK, [[toss, sure]], lambda choice: True) == (sure,)
    assert strongest_choice(TASK, [[toss, sure]], lambda choice: sure not in choice) == (toss,)
    assert expected_heard(TASK, [toss]) == pytest.approx(2.31)


def test_more_linked_goes_before_more_expected() -> None:
    many, few = a_site([0.55] * 4 + [0, 0]), a_site([0.99] * 3 + [0, 0, 0])
    assert strongest_choice(TASK, [[few, many]], lambda choice: True) == (many,)

"""Who can be in a smallest cover, against every set there is."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from reach.plans.graph import smallest_covers
from reach.plans.graph.reachability import BoolArray
from reach.plans.graph.smallest_covers import in_covers
from reach.plans.relays.first_ways import MOST_HEARD
from reach.plans.relays.net_control import plan_best
from reach.plans.relays.rules import RelayRules
from tests.plans.synthetic import hilly


def by_brute_force(covers: BoolArray, size: int) -> BoolArray:
    found = np.zeros(covers.shape[1], dtype=bool)
    for count in range(size + 1):
        for chosen in itertools.combinations(range(covers.shape[1]), count):
            if covers[:, list(chosen)].any(axis=1).all():
                found[list(chosen)] = True
                if count < size:
                    return np.ones_like(found)
    return found


@given(
    covers=st.tuples(st.integers(0, 7), st.integers(1, 7)).flatmap(lambda s: arrays(np.bool_, s)),
    size=st.integers(0, 4),
)
def test_those_in_covers_are_those_of_every_set_tried(covers: BoolArray, size: int) -> None:
    assert in_covers(covers, size=size).tolist() == by_brute_force(covers, size).tolist()


def test_too_many_sets_leave_everybody_in() -> None:
    covers = np.random.default_rng(1).random((60, 60)) < 0.15
    assert in_covers(covers, size=12).all()


def test_only_those_of_smallest_covers_and_the_plan_is_as_good(monkeypatch: pytest.MonkeyPatch) -> None:
    """Held against a plan in which the search for covers gives up, so that everybody stays in the model."""
    network = hilly(40, seed=3, area_km=50.0, willing=0.6)
    rules = RelayRules(reach_at_least=0.0, time_limit_s=30.0)
    plan = plan_best(network, rules)
    monkeypatch.setattr(smallest_covers, "_MOST_TRIED", 0)
    whole = plan_best(network, rules)
    assert plan.relays and plan.proven and whole.proven
    assert (plan.relays, plan.relayed, plan.standbys) == (whole.relays, whole.relayed, whole.standbys)
    (heard,), (of_whole,) = ([p.value for p in one.proofs if p.name == MOST_HEARD] for one in (plan, whole))
    assert heard == pytest.approx(of_whole, abs=1e-9)  # a sum whose order hangs on the model's size

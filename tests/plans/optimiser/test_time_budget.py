"""The optimiser's time is one budget for a plan, and a plan cut short is whole and says what is open."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from reach.plans.optimiser.stages import StagedModel
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.net_control import rank_controls
from reach.plans.relays.plan import plan_relays
from reach.plans.relays.promises import plan_faults
from reach.plans.relays.rules import Chains, RelayRules
from tests.plans.synthetic import hilly

ANY_SHARE = RelayRules(reach_at_least=0.0)


def test_what_a_part_leaves_goes_to_the_next() -> None:
    budget = TimeBudget(10.0)
    assert budget.part_s(0.3) == pytest.approx(3.0)
    budget.spend(1.0)
    assert budget.part_s(0.7) == pytest.approx(6.3)
    budget.spend(8.5)
    assert budget.left_s == pytest.approx(0.5)
    budget.spend(2.0)
    assert (budget.left_s, budget.part_s(1.0), budget.spent_s) == (0.0, 0.0, 11.5)


def test_parts_of_a_plan_never_add_up_to_more_than_the_budget() -> None:
    budget = TimeBudget(7.0)
    for share in (0.3, 0.7, 1.0):
        budget.spend(budget.part_s(share))  # every part takes all it may
    assert budget.spent_s == pytest.approx(7.0)


def test_a_model_tells_the_budget_what_its_runs_took() -> None:
    budget = TimeBudget(5.0)
    model = StagedModel(time_limit_s=5.0, budget=budget)
    columns = [model.add_binary() for _ in range(20)]
    rng = np.random.default_rng(1)
    for _ in range(20):
        model.add_row(columns, [float(v) for v in rng.integers(1, 9, 20)], lower=30.0)
    model.minimise("fewest", columns, [1.0] * 20)
    once = budget.spent_s
    assert once > 0.0
    model.maximise("names", columns, [float(k) for k in range(20)])
    assert budget.spent_s > once


@pytest.mark.parametrize("chains", list(Chains))
@pytest.mark.parametrize("time_limit_s", [1e-6, 0.02, 0.2])
def test_a_plan_cut_short_is_whole(chains: Chains, time_limit_s: float) -> None:
    network = hilly(60, seed=2, area_km=60.0, willing=0.6)
    rules = replace(ANY_SHARE, chains=chains, time_limit_s=time_limit_s)
    control = rank_controls(network, rules)[0].call_sign
    plan = plan_relays(network, rules, control=control)
    assert plan_faults(plan, network) == ()
    whole = plan_relays(network, replace(rules, time_limit_s=20.0), control=control)
    by_name = {proof.name: proof for proof in plan.proofs}
    relays = by_name["fewest relays"]
    assert relays.value - relays.gap <= len(whole.relays) + 1e-6 <= relays.value + 2e-6


def test_a_candidate_whose_relays_were_not_counted_in_time_has_no_count() -> None:
    network = hilly(60, seed=2, area_km=60.0, willing=0.6)
    rushed = rank_controls(network, replace(ANY_SHARE, chains=Chains.FEWEST_RELAYS, time_limit_s=1e-6))
    assert rushed[-1].relays_needed is None

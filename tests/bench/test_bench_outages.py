"""What a backup plan costs, as ratios to one search for the way to go on, of the same net in the same run.

Only with --benchmark-enable; the plain suite runs each once on a small net.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from dataclasses import replace

from pytest_benchmark.fixture import BenchmarkFixture

from reach.plans.outages.backup import OutagePlan, likely_outages, plan_outage
from reach.plans.outages.failures import NetSurvey, Outage
from reach.plans.outages.gatherings import best_gathering
from reach.plans.outages.remedies import best_batteries, remedies
from reach.plans.outages.single_points import single_points
from reach.plans.relays.rules import RelayRules
from tests.plans.invented_survey import invented_survey

RULES = RelayRules(reach_at_least=0.0)
MEMBERS = 80
A_LOSS, A_BATTERY, A_REMEDY = 0.15, 0.5, 8.0  # bounds, in ways to go on of the whole net


def seconds(work: Callable[[], object]) -> float:
    best = float("inf")
    for _ in range(5):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def a_survey(benchmark: BenchmarkFixture, rules: RelayRules = RULES) -> tuple[NetSurvey, list[OutagePlan]]:
    survey = invented_survey(9 if benchmark.disabled else MEMBERS, seed=3)
    return survey, [plan_outage(survey, outage, rules) for outage in likely_outages(survey)]


def one_way_on_s(survey: NetSurvey) -> float:
    """Processor time of looking for one way to go on, the net joined anew as for a net not seen before."""
    return seconds(lambda: best_gathering(replace(survey), Outage(), RULES))


def held(benchmark: BenchmarkFixture, name: str, each_s: float, survey: NetSurvey, bound: float) -> None:
    if benchmark.stats:
        ratio = each_s / one_way_on_s(survey)
        print(f"\n{name}: {ratio:.2f}, at most {bound:g}")
        benchmark.extra_info[name] = ratio
        assert ratio <= bound


def test_every_single_loss(benchmark: BenchmarkFixture) -> None:
    """A loss asks again for the best way on; that the rest is not joined again each time is what it holds."""
    survey, plans = a_survey(benchmark)
    points = benchmark.pedantic(single_points, args=(survey, plans, RULES), rounds=3)
    assert len(points) == len(survey.call_signs) + len(survey.repeaters)
    if benchmark.stats:
        each_s = seconds(lambda: single_points(survey, plans, RULES)) / (len(points) * len(plans))
        held(benchmark, "a loss, to one way on", each_s, survey, A_LOSS)


def test_every_battery(benchmark: BenchmarkFixture) -> None:
    survey, plans = a_survey(benchmark)
    dark = next(plan for plan in plans if plan.standing.dark)
    found = benchmark.pedantic(best_batteries, args=(survey, dark, RULES), rounds=3)
    assert len(found) == len(dark.standing.dark) + len(dark.standing.dark_repeaters)
    if benchmark.stats:
        each_s = seconds(lambda: best_batteries(survey, dark, RULES)) / len(found)
        held(benchmark, "a battery, to one way on", each_s, survey, A_BATTERY)


def test_remedies_for_those_cut_off(benchmark: BenchmarkFixture) -> None:
    """A member's smallest gain and power, each by halving: a change at one works its own paths only."""
    alone = replace(RULES, chain_limit=0)  # nobody relays, so that some are cut off
    survey, plans = a_survey(benchmark, alone)
    cut = max((plan for plan in plans if plan.plan), key=lambda plan: len(plan.cut_off))
    assert cut.cut_off
    found = benchmark.pedantic(remedies, args=(survey, cut, alone), rounds=3)
    assert [remedy.call_sign for remedy in found] == list(cut.cut_off)
    if benchmark.stats:
        each_s = seconds(lambda: remedies(survey, cut, alone)) / len(found)
        held(benchmark, "a remedy, to one way on", each_s, survey, A_REMEDY)

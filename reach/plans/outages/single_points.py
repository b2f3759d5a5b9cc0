"""Every single point of failure, found by trying: take each station and repeater away, and plan anew."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from reach.machinery.progress import Progress
from reach.plans.outages.backup import OutagePlan, Part
from reach.plans.outages.failures import NetSurvey, Outage, standing
from reach.plans.outages.gatherings import (
    Gathering,
    MeetingGraph,
    asked_of,
    best_gathering,
    best_of,
    meeting_graphs,
)
from reach.plans.relays.rules import RelayRules


@dataclass(frozen=True)
class LossCost:
    """What losing one costs under one outage.

    part : what it was in that outage's plan, '' when it was not on the air. passed : stations it relayed for.
    loses : who falls out of the net besides it, even after planning anew; None when it was off the air
    anyway.
    control_after : net control of the new plan, '' when there is no net left; willing_after : False when it
    has to agree first.
    """

    outage: Outage
    part: str
    passed: tuple[str, ...]
    loses: tuple[str, ...] | None
    control_after: str
    willing_after: bool = True


@dataclass(frozen=True)
class SinglePoint:
    """One station or repeater and what its loss costs, a cost an outage, in the order they were given."""

    call_sign: str
    costs: tuple[LossCost, ...]

    @property
    def worst(self) -> int:
        """Most stations lost with it under any of the outages."""
        return max((len(cost.loses or ()) for cost in self.costs), default=0)

    @property
    def has_part(self) -> bool:
        """Whether it is a repeater in use, a relay or net control in any of the plans."""
        return any(cost.part not in ("", Part.DIRECT.value, Part.RELAYED.value) for cost in self.costs)


def single_points(
    survey: NetSurvey, plans: Sequence[OutagePlan], rules: RelayRules, *, progress: Progress | None = None
) -> tuple[SinglePoint, ...]:
    """Every repeater, then every station, worst first; ties repeaters first, then by call sign.

    plans : what is lost already, each with its plan; the one more loss comes on top of it.
    """
    repeaters = [network.repeater.call_sign for network in survey.repeaters]
    calls = [*repeaters, *survey.call_signs]
    points = []
    standings = [_Left(survey, plan.outage, rules) for plan in plans]
    for done, call in enumerate(calls, start=1):
        costs = tuple(_cost(survey, plan, call, rules, left) for plan, left in zip(plans, standings))
        points.append(SinglePoint(call, costs))
        if progress is not None:
            progress(done, len(calls))
    return tuple(sorted(points, key=lambda p: (-p.worst, p.call_sign not in repeaters, p.call_sign)))


class _Left:
    """What an outage leaves, as graphs that stand for it and for one station less."""

    def __init__(self, survey: NetSurvey, outage: Outage, rules: RelayRules) -> None:
        self.survey, self.rules = survey, rules
        self.left = standing(survey, outage)

    @cached_property
    def _graphs(self) -> tuple[MeetingGraph, ...]:
        return tuple(meeting_graphs(self.survey, self.left, self.rules))

    def without(self, call: str) -> Gathering | None:
        """As `best_gathering` when that station is lost too."""
        if len(self.left.members) < 2:
            return None
        graphs = [graph.without(call) for graph in self._graphs]
        return best_of(graphs, self.rules) or asked_of(graphs, self.survey, self.rules)


def _cost(survey: NetSurvey, plan: OutagePlan, call: str, rules: RelayRules, standing_: _Left) -> LossCost:
    left = standing_.left
    is_repeater = call in {network.repeater.call_sign for network in survey.repeaters}
    if call not in (left.repeaters if is_repeater else left.members):
        return LossCost(plan.outage, "", (), None, plan.control)
    if is_repeater:
        more = replace(plan.outage, repeaters=plan.outage.repeaters | {call})
        on_it = tuple(w.call_sign for w in plan.ways if w.over == call and w.chance > 0.0)
        part, passed = ("repeater" if on_it else "repeater, not used"), on_it
        hub = best_gathering(survey, more, rules)
    else:
        way = plan.way(call)
        part = f"{way.part.value} and relay" if way.part is Part.CONTROL and way.serves else way.part.value
        passed = way.serves
        hub = standing_.without(call)
    after = set(hub.members) if hub else set()
    loses = tuple(sorted(set(plan.in_net) - after - {call}))
    control, willing = (hub.control, hub.willing) if hub else ("", True)
    return LossCost(plan.outage, part, passed, loses, control, willing)


def points_sentence(points: Sequence[SinglePoint], plans: Sequence[OutagePlan]) -> str:
    """How many losses cost others the net, and the worst of them."""
    if not points or not points[0].worst:
        return "No single loss cuts off anybody else, in any of these cases."
    costly = [point for point in points if point.worst]
    worst = costly[0]
    cost = max(worst.costs, key=lambda c: len(c.loses or ()))
    names = ", ".join(cost.loses or ())
    when = (
        "with nothing lost before"
        if cost.outage == Outage()
        else f"with this lost already: {cost.outage.words}"
    )
    verb = "is a single point" if len(costly) == 1 else "are single points"
    start = f"{len(costly)} of {len(points)} {verb} of failure; the worst is {worst.call_sign}"
    return f"{start}: {when}, it takes {names} with it."

"""The run sheet of a net that goes on after something is lost: a case of the backup plan, to be run."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import replace

from reach.answers.backup import asked_outage
from reach.answers.made_from import sheet_words
from reach.answers.open_net import OpenNet
from reach.answers.outages import NOTHING_LOST, Case, case_rows, change_sentences, relay_sentences
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.run_sheet import Occasion, RunSheetAnswer
from reach.answers.surveys import survey_net
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.lookup import find_channel, find_station
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import SimplexNetwork
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages.backup import OutagePlan, plan_outage
from reach.plans.outages.failures import Mains, NetSurvey, Outage, joined, standing
from reach.plans.outages.timeline import battery_timeline
from reach.plans.relays.plan import RelayPlan
from reach.plans.relays.rules import RelayRules
from reach.stations import Station


def outage_sheet(
    opened: OpenNet,
    *,
    down: Sequence[str] = (),
    mains: Mains = Mains.ON,
    day: datetime.date | None = None,
    stamp: datetime.datetime | None = None,
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    watch: Watch = unwatched,
) -> RunSheetAnswer:
    """The sheet for a net without what is lost. Arguments as for `run_sheet` and `backup`; day : None for a
    line to write it on.

    Raises : InputProblem for what is not in the net, for nothing lost, and for a net control who is off the
    air; NoPlan where no net is left; MissingTerrain; OutOfRange.
    """  # fmt: skip
    net = opened.net
    on = find_channel(net, channel)
    outage = asked_outage(net, down, mains=mains)
    if outage == NOTHING_LOST:
        raise InputProblem(Fault("nothing is lost", "name what is with --down, or say --no-mains"))
    rules = chosen_rules(opened.folder, choice)
    survey = survey_net(opened, on, watch=watch)
    if control is not None:
        rules = replace(rules, control_candidates=(_on_air(survey, outage, find_station(net, control)),))
    plan = plan_outage(survey, outage, rules)
    if not plan.control:
        raise NoPlan(f"{plan.sentence} {plan.advice}".strip())
    battery = opened.folder.planning.battery
    case = Case("", plan, battery_timeline(survey, plan, rules, battery))
    stand_in = plan.stand_in.call_sign if plan.stand_in else ""
    made = sheet_words(survey.simplex, rules.threshold, stamp=stamp)
    asked = [f"{plan.lack} Ask {plan.control} to be net control."] if not plan.willing else []
    return RunSheetAnswer(
        net=net,
        headline=plan.sentence,
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, survey.warnings),
        rows=case_rows([case]),
        network=_network(survey, plan, rules),
        plan=_around_control(plan),
        occasion=Occasion(made, f"{day:%a %Y-%m-%d}" if day else "", "", stand_in),
        evening=None,
        script=opened.folder.script,
        before=(*asked, *relay_sentences(plan, on), *change_sentences(case.timeline, on)),
        lost=plan.outage.words,
        place=net.repeater(plan.hub) if plan.hub else None,
        dark=(*sorted(outage.repeaters), *plan.standing.dark_repeaters),
    )


def _on_air(survey: NetSurvey, outage: Outage, station: Station) -> str:
    """The call sign of a station that may lead. Raises : InputProblem for one that is off the air."""
    left = standing(survey, outage)
    call = station.call_sign
    if call in left.members:
        return call
    why = {call: why for calls, why in (
        (left.dark, "has no backup power"), (left.absent, "is absent"), (left.linked, "has no radio path"),
    ) for call in calls}[call]  # fmt: skip
    raise InputProblem(
        Fault(
            f"{call} {why} in this case, so it cannot be net control", "leave --control out, or name another"
        )
    )


def _network(survey: NetSurvey, plan: OutagePlan, rules: RelayRules) -> SimplexNetwork:
    """All that is left, each pair on its better way."""
    return joined(survey, plan.standing, rules, hub="").network


def _around_control(case: OutagePlan) -> RelayPlan:
    """The relay plan with net control in the place of the repeater it was made around."""
    plan = case.plan
    assert plan is not None  # a case with net control has one
    if not case.hub:
        return plan
    direct = tuple(call for call in plan.direct if call != case.control)
    chances = dict(zip(plan.direct, plan.direct_chances))
    relays = tuple(
        replace(duty, answers_to=case.control if duty.answers_to == case.hub else duty.answers_to)
        for duty in plan.relays
        if duty.call_sign != case.control
    )
    return replace(
        plan,
        control=case.control,
        direct=direct,
        direct_chances=tuple(chances[call] for call in direct),
        relays=relays,
        weak=tuple(weak for weak in plan.weak if weak.call_sign != case.control),
    )

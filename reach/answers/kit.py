"""What each operator takes along: where to go and whom to call in every case to prepare for."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.made_from import files_words, model_words, planned_words
from reach.answers.open_net import OpenNet
from reach.answers.outages import Case, case_rows, planned_cases
from reach.answers.record import Answer
from reach.answers.rules import chosen_rules
from reach.answers.sheet import Sheet
from reach.answers.surveys import survey_net
from reach.answers.tonight import tonight_headline
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.planning import BatteryRules
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages.backup import OutagePlan
from reach.plans.outages.failures import NetSurvey


@dataclass(frozen=True)
class KitFigures:
    """The go-kit for machines: a plan for each case. operators : whose pages were asked for."""

    channel: str
    headline: str
    operators: tuple[str, ...]
    cases: tuple[Case, ...]


@dataclass(frozen=True, kw_only=True)
class KitAnswer(Answer):
    """cases : nothing lost first, then what to prepare for. operators : whose pages, in their order.

    battery : what the hours of batteries were computed with. made_from : date and data of the plans.
    """

    survey: NetSurvey
    cases: tuple[Case, ...]
    operators: tuple[str, ...]
    battery: BatteryRules
    made_from: str

    @property
    def plans(self) -> tuple[OutagePlan, ...]:
        """The plan of each case."""
        return tuple(case.plan for case in self.cases)

    @property
    def figures(self) -> KitFigures:
        """As Answer.figures."""
        channel = self.survey.simplex.channel
        return KitFigures(channel.name, self.headline, self.operators, self.cases)


def kit(
    opened: OpenNet,
    *,
    operators: Sequence[str] = (),
    channel: str | None = None,
    stamp: datetime.datetime | None = None,
    watch: Watch = unwatched,
) -> KitAnswer:
    """The go-kit of these operators, by call sign; of every member unless named.

    channel : by name or frequency; the net's first unless named. stamp : the minute to be told on the pages,
    UTC; none for None.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange.
    """
    net, battery = opened.net, opened.folder.planning.battery
    rules = chosen_rules(opened.folder)
    on = find_channel(net, channel)
    named = tuple(dict.fromkeys(find_station(net, call).call_sign for call in operators))
    asked = named or tuple(station.call_sign for station in net.stations)
    survey = survey_net(opened, on, watch=watch)
    cases = planned_cases(survey, rules, battery, watch=watch)
    rows = case_rows(cases)
    return KitAnswer(
        net=net,
        headline=tonight_headline(net, cases[0].plan.sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, survey.warnings),
        rows=Sheet(rows.columns, tuple(row for row in rows.rows if row[2] in asked)),
        survey=survey,
        cases=cases,
        operators=asked,
        battery=battery,
        made_from=(
            f"{planned_words(stamp)} from {files_words(net)}, {model_words(survey.simplex, rules.threshold)}"
        ),
    )

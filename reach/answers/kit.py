"""What each operator takes along: where to go and whom to call in every case to prepare for."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.made_from import files_words, model_words
from reach.answers.open_net import OpenNet
from reach.answers.outages import case_rows, planned_cases
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
    cases: tuple[OutagePlan, ...]


@dataclass(frozen=True, kw_only=True)
class KitAnswer(Answer):
    """plans : nothing lost first, then the cases to prepare for. operators : whose pages, in their order.

    battery : what the hours of batteries were computed with. made_from : date and data of the plans.
    """

    survey: NetSurvey
    plans: tuple[OutagePlan, ...]
    operators: tuple[str, ...]
    battery: BatteryRules
    made_from: str

    @property
    def figures(self) -> KitFigures:
        """As Answer.figures."""
        channel = self.survey.simplex.channel
        return KitFigures(channel.name, self.headline, self.operators, self.plans)


def kit(
    opened: OpenNet,
    *,
    now: datetime.datetime,
    operators: Sequence[str] = (),
    channel: str | None = None,
    watch: Watch = unwatched,
) -> KitAnswer:
    """The go-kit of these operators, by call sign; of every member unless named.

    now : when the pages are made. channel : by name or frequency; the net's first unless named.
    Raises : InputProblem for what is not in the net; MissingTerrain; OutOfRange.
    """
    net, battery = opened.net, opened.folder.planning.battery
    rules = chosen_rules(opened.folder)
    on = find_channel(net, channel)
    named = tuple(dict.fromkeys(find_station(net, call).call_sign for call in operators))
    asked = named or tuple(station.call_sign for station in net.stations)
    survey = survey_net(opened, on, watch=watch)
    plans = planned_cases(survey, rules, battery)
    rows = case_rows(plans)
    return KitAnswer(
        net=net,
        headline=tonight_headline(net, plans[0].sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, survey.warnings),
        rows=Sheet(rows.columns, tuple(row for row in rows.rows if row[1] in asked)),
        survey=survey,
        plans=plans,
        operators=asked,
        battery=battery,
        made_from=(
            f"Planned {now:%Y-%m-%d} from {files_words(net)}, {model_words(survey.simplex, rules.threshold)}"
        ),
    )

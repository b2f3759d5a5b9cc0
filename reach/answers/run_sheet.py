"""What a net is run by on one evening: plan, stand-in, whom to keep on from the repeater, date and time."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from reach.answers.made_from import files_words, model_words, planned_words
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.relays import way_rows
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.surveys import repeater_paths, simplex_paths
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.planning import Schedule
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.relays.evening import Evening, plan_evening
from reach.plans.relays.net_control import rank_controls, stand_in_for
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rota import net_dates
from reach.stations import Channel, Repeater


@dataclass(frozen=True)
class Occasion:
    """When and on what the net meets, in words. date, time : '' to leave a line for the pen.

    stand_in : call sign. made_from : date and data the plan was made from.
    """

    made_from: str
    date: str = ""
    time: str = ""
    stand_in: str = ""


@dataclass(frozen=True)
class RunSheetFigures:
    """A run sheet for machines. evening : None without a repeater."""

    channel: str
    headline: str
    occasion: Occasion
    plan: RelayPlan
    evening: Evening | None


@dataclass(frozen=True, kw_only=True)
class RunSheetAnswer(Answer):
    """network : every pair, both ways. evening : whom to ask on the repeater, None without one.

    script : the net's own wording, None for the built-in one.
    lost, dark : for a net after an outage, what is lost in words, and the repeaters that are off; before :
    what net control has to know then. place : the repeater it meets on, None for simplex.
    """

    network: SimplexNetwork
    plan: RelayPlan
    occasion: Occasion
    evening: Evening | None
    script: str | None
    before: tuple[str, ...] = ()
    lost: str = ""
    dark: tuple[str, ...] = ()
    place: Repeater | None = None

    @property
    def channel(self) -> Channel:
        """The simplex channel of the net."""
        return self.network.channel

    @property
    def figures(self) -> RunSheetFigures:
        """As Answer.figures."""
        return RunSheetFigures(self.channel.name, self.headline, self.occasion, self.plan, self.evening)


def run_sheet(
    opened: OpenNet,
    *,
    today: datetime.date,
    day: datetime.date | None = None,
    stamp: datetime.datetime | None = None,
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    watch: Watch = unwatched,
) -> RunSheetAnswer:
    """The net of a day on a channel, by name or frequency; on the net's first unless named.

    day : of the net; the next one of the schedule from `today` on for None. stamp : the minute to be told
    on the sheet, UTC; none for None.
    control : this net control instead of the best one.
    Raises : InputProblem for what is not in the net, or a schedule that gives no date; MissingTerrain;
    OutOfRange; NoPlan.
    """
    net = opened.net
    on = find_channel(net, channel)
    rules = chosen_rules(opened.folder, choice)
    named = None if control is None else find_station(net, control).call_sign
    date, time = _when(opened.folder.schedule, day, today)
    network = simplex_paths(net, opened.terrain, on, watch=watch)
    controls = rank_controls(network, rules)
    plan = plan_relays(network, rules, control=named or controls[0].call_sign)
    made_from = (
        f"{planned_words(stamp)} from {files_words(net)} ({len(net.stations)} stations) with"
        f" {model_words(network, rules.threshold)}"
    )
    return sheet_of_plan(
        plan,
        network,
        Occasion(made_from, date, time, stand_in_for(plan.control, controls)),
        repeaters=repeater_paths(net, opened.terrain, net.repeaters, watch=watch),
        script=opened.folder.script,
        warnings=opened.warnings,
    )


def sheet_of_plan(
    plan: RelayPlan,
    network: SimplexNetwork,
    occasion: Occasion,
    *,
    repeaters: Sequence[RepeaterNetwork] = (),
    script: str | None = None,
    warnings: Iterable[str] = (),
) -> RunSheetAnswer:
    """The sheet of a plan already made. network : the plan's own. repeaters : for whom to ask to stay on."""
    net = network.net
    return RunSheetAnswer(
        net=net,
        headline=plan.sentence,
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(warnings, network.warnings, *(n.warnings for n in repeaters), plan.warnings),
        rows=way_rows(plan, network),
        network=network,
        plan=plan,
        occasion=occasion,
        evening=plan_evening(plan, repeaters) if repeaters else None,
        script=script,
    )


def _when(schedule: Schedule | None, day: datetime.date | None, today: datetime.date) -> tuple[str, str]:
    """Date and local start in words; '' where nothing says."""
    if schedule is None:
        return (f"{day:%a %Y-%m-%d}" if day else ""), ""
    start = net_dates(schedule, start=day or today, count=1)[0]
    return f"{day or start:%a %Y-%m-%d}", f"{start:%H:%M %Z}"

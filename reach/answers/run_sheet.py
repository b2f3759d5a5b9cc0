"""What a net is run by on one evening: plan, stand-in, whom to keep on from the repeater, date and time."""

from __future__ import annotations

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from reach.answers.made_from import sheet_words
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.relays import way_rows
from reach.answers.repeater_net import RepeaterNet, repeater_net
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.surveys import repeater_paths, simplex_paths
from reach.answers.tonight import tonight_headline
from reach.answers.turns import club_turns, fit_for_nets, turn_of
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_channel, find_repeater, find_station
from reach.inputs.net_folder import NetFolder
from reach.inputs.nets import MeetsOn
from reach.inputs.planning import Schedule
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import RepeaterNetwork, SimplexNetwork
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages.failures import NetSurvey
from reach.plans.relays.evening import Evening, plan_evening
from reach.plans.relays.net_control import ControlChoice, rank_controls, stand_in_for
from reach.plans.relays.plan import RelayPlan, plan_relays
from reach.plans.relays.rota import Turn, net_dates, net_number, rota
from reach.stations import Channel, Net, Repeater


@dataclass(frozen=True)
class Occasion:
    """When and on what the net meets, in words. date, time : '' to leave a line for the pen.

    control, stand_in : call signs; control '' for that of the plan. made_from : date and data the plan was
    made from. by_rota : net control is whose turn it is.
    """

    made_from: str
    date: str = ""
    time: str = ""
    stand_in: str = ""
    control: str = ""
    by_rota: bool = False


@dataclass(frozen=True)
class RunSheetFigures:
    """A run sheet for machines. evening : None without a repeater."""

    channel: str
    headline: str
    occasion: Occasion
    plan: RelayPlan
    evening: Evening | None
    repeater_net: RepeaterNet | None = None


@dataclass(frozen=True, kw_only=True)
class RunSheetAnswer(Answer):
    """network : every pair, both ways. evening : whom to ask on the repeater, None without one.

    kind : what the sheet is for. repeater_net : of a sheet that is for the repeater net too; for it alone
    `plan` is the one around the repeater.
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
    kind: MeetsOn = MeetsOn.SIMPLEX
    repeater_net: RepeaterNet | None = None

    @property
    def control(self) -> str:
        """Who is net control."""
        return self.occasion.control or self.plan.control

    @property
    def channel(self) -> Channel:
        """The simplex channel of the net."""
        return self.network.channel

    @property
    def figures(self) -> RunSheetFigures:
        """As Answer.figures."""
        return RunSheetFigures(
            self.channel.name, self.headline, self.occasion, self.plan, self.evening, self.repeater_net
        )


def run_sheet(
    opened: OpenNet,
    *,
    today: datetime.date,
    day: datetime.date | None = None,
    stamp: datetime.datetime | None = None,
    channel: str | None = None,
    control: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    kind: MeetsOn | None = None,
    repeater: str | None = None,
    watch: Watch = unwatched,
) -> RunSheetAnswer:
    """The net of a day on a channel, by name or frequency; on the net's first unless named.

    day : of the net; the next one of the schedule from `today` on for None. stamp : the minute to be told
    on the sheet, UTC; none for None.
    control : this net control; unless named the one whose turn it is by the rota, where net.toml says when
    the net meets, otherwise the best. kind, repeater : a sheet for that repeater's net, or for both nets;
    as the club's net meets for None, on simplex where there is only one net.
    Raises : InputProblem for what is not in the net, or a schedule that gives no date; MissingTerrain;
    OutOfRange; NoPlan.
    """
    net, folder = opened.net, opened.folder
    on = find_channel(net, channel)
    rules = chosen_rules(folder, choice)
    named = None if control is None else find_station(net, control).call_sign
    if kind is None:
        kind = MeetsOn.SIMPLEX if folder.meeting is None else folder.meeting.on
    if repeater is None and folder.meeting is not None:
        repeater = folder.meeting.repeater or None
    hub = None if kind is MeetsOn.SIMPLEX else _hub(net, repeater)
    when = _when(folder.schedule, day, today)
    network = simplex_paths(opened, on, watch=watch)
    repeaters = repeater_paths(opened, net.repeaters, watch=watch)
    survey = NetSurvey(network, repeaters)
    turn = _turn(opened, on, choice, when.net, network=network, watch=watch)
    wished, stand_in, by = turn.control, turn.stand_in, turn.words
    if named is not None:
        by = ""
    on_hub = None
    if hub is not None:
        on_hub = repeater_net(survey, hub, rules, wished=wished, named=named)
    if on_hub is not None and kind is MeetsOn.REPEATER:
        plan, leads = on_hub.plan, on_hub.control
        stand_in = on_hub.stand_in if leads != wished or stand_in not in plan.direct else stand_in
        by = by if leads == wished else ""
    else:
        leads = named or wished
        plan = plan_relays(network, rules, control=leads)
        if stand_in in ("", leads):
            stand_in = stand_in_for(leads, turn.controls)
    made_from = sheet_words(network, rules.threshold, stamp=stamp) + by
    made = sheet_of_plan(
        plan,
        network,
        Occasion(
            made_from, when.date, when.time, stand_in, leads, by_rota=turn.by_rota and leads == turn.control
        ),
        repeaters=repeaters if _comes_from_a_repeater(folder, kind) else (),
        planned_on=on_hub.network if on_hub is not None and kind is MeetsOn.REPEATER else None,
        script=folder.script,
        warnings=opened.warnings,
    )
    if on_hub is None:
        return made
    sentence = on_hub.sentence if kind is MeetsOn.REPEATER else f"{on_hub.sentence} Then {plan.sentence}"
    return replace(made, headline=tonight_headline(net, sentence), kind=kind, repeater_net=on_hub)


def _comes_from_a_repeater(folder: NetFolder, kind: MeetsOn) -> bool:
    """Whether a simplex net follows the net on a repeater, so that some have to be asked there to stay on.

    A folder of one net is taken to meet on its repeaters first; of a club's nets each says where it meets.
    """
    if folder.meeting is not None:
        return kind is MeetsOn.BOTH
    return kind is not MeetsOn.REPEATER


def _hub(net: Net, repeater: str | None) -> Repeater:
    """The repeater named; without a name the net's only one. Raises : InputProblem."""
    if repeater is None and len(net.repeaters) > 1:
        calls = ", ".join(one.call_sign for one in net.repeaters)
        raise InputProblem(Fault("there are several repeaters", f"say which with --repeater: {calls}"))
    return find_repeater(net, repeater or (net.repeaters[0].call_sign if net.repeaters else ""))


@dataclass(frozen=True)
class _SheetTurn:
    """Whose turn it is. words : said after what the plan is made from. controls : ranked, of those there."""

    control: str
    stand_in: str
    words: str
    controls: tuple[ControlChoice, ...]
    by_rota: bool = False


def _turn(
    opened: OpenNet,
    channel: Channel,
    choice: RuleChoice,
    start: datetime.datetime | None,
    *,
    network: SimplexNetwork,
    watch: Watch,
) -> _SheetTurn:
    """Net control by the rota of the whole roster, or the best of those there on a day without a turn."""
    folder = opened.folder
    controls = rank_controls(network, chosen_rules(folder, choice))
    best = controls[0].call_sign
    if start is None or folder.schedule is None:
        return _SheetTurn(best, stand_in_for(best, controls), "", controls)
    turn = _by_rota(opened, folder.schedule, channel, choice, start, ranked=controls, watch=watch)
    if turn.control not in opened.net.away:
        stand_in = turn.stand_in if turn.stand_in not in opened.net.away else ""
        return _SheetTurn(turn.control, stand_in, " Net control by the rota.", controls, by_rota=True)
    there = turn.stand_in if turn.stand_in and turn.stand_in not in opened.net.away else best
    words = f" By the rota {turn.control} would be net control, but is away."
    return _SheetTurn(there, stand_in_for(there, controls), words, controls)


def _by_rota(
    opened: OpenNet,
    schedule: Schedule,
    channel: Channel,
    choice: RuleChoice,
    start: datetime.datetime,
    *,
    ranked: tuple[ControlChoice, ...],
    watch: Watch,
) -> Turn:
    """The turn of one evening. ranked : those there; the rota is of the whole roster."""
    folder = opened.folder
    if folder.meeting is not None:
        day = start.date()
        fit = fit_for_nets(opened, choice=choice, watch=watch)
        of_club = club_turns(folder.nets, fit, start=day, until=day)
        found = turn_of(of_club, folder.meeting.name, day)
        assert found is not None  # the start is one of that net's dates
        return found.turn
    whole = folder.whole
    if whole is not None:
        everyone = simplex_paths(opened, channel, changed=whole.net, watch=watch)
        ranked = rank_controls(everyone, chosen_rules(whole, choice))
    (turn,) = rota(ranked, [start], first=net_number(schedule, start.date()))
    return turn


def sheet_of_plan(
    plan: RelayPlan,
    network: SimplexNetwork,
    occasion: Occasion,
    *,
    repeaters: Sequence[RepeaterNetwork] = (),
    planned_on: SimplexNetwork | None = None,
    script: str | None = None,
    warnings: Iterable[str] = (),
) -> RunSheetAnswer:
    """The sheet of a plan already made.

    network : of the simplex channel. repeaters : for whom to ask to stay on.
    planned_on : what the plan was made on, where that is not the network.
    """
    net = network.net
    return RunSheetAnswer(
        net=net,
        headline=tonight_headline(net, plan.sentence),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(warnings, network.warnings, *(n.warnings for n in repeaters), plan.warnings),
        rows=way_rows(plan, planned_on or network),
        network=network,
        plan=plan,
        occasion=occasion,
        evening=plan_evening(plan, repeaters) if repeaters else None,
        script=script,
    )


@dataclass(frozen=True)
class _When:
    """Date and local start in words, '' where nothing says; net : the schedule's net of that day, if any."""

    date: str
    time: str
    net: datetime.datetime | None


def _when(schedule: Schedule | None, day: datetime.date | None, today: datetime.date) -> _When:
    if schedule is None:
        return _When(f"{day:%a %Y-%m-%d}" if day else "", "", None)
    start = net_dates(schedule, start=day or today, count=1)[0]
    if day is None or day == start.date():
        return _When(f"{start:%a %Y-%m-%d}", f"{start:%H:%M %Z}", start)
    usual = f"not a day of the net by net.toml; its next is {start:%a %Y-%m-%d}"
    return _When(f"{day:%a %Y-%m-%d} ({usual})", f"{start:%H:%M %Z}", None)

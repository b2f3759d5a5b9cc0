"""Who should be net control, and a rota of the coming nets."""

from __future__ import annotations

import datetime
from dataclasses import dataclass

from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.rules import AS_WRITTEN, RuleChoice, chosen_rules
from reach.answers.sheet import Cell, Sheet
from reach.answers.surveys import simplex_paths
from reach.answers.tonight import tonight_headline
from reach.answers.turns import club_turns, fit_for_nets
from reach.errors import Fault, InputProblem
from reach.inputs.lookup import find_channel, find_station
from reach.inputs.planning import Schedule
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.relays.net_control import ControlChoice, rank_controls
from reach.plans.relays.rota import Turn, fit_for_control, net_dates, net_number, rota
from reach.stations import Channel


@dataclass(frozen=True, kw_only=True)
class RotaWish:
    """Which nets a rota is for, and who takes turns.

    start, until : first and last day, the last left to `nets` for None. nets : how many, at most.
    share : least of what the best hears that one must hear to take a turn, 0 to 1.
    last : who controlled the net before the first, '' when it does not matter.
    """

    start: datetime.date
    until: datetime.date | None = None
    nets: int = 8
    share: float = 0.8
    last: str = ""


@dataclass(frozen=True)
class ControlFigures:
    """The ranking for machines, and the rota: start, net control, stand-in."""

    channel: str
    headline: str
    controls: tuple[ControlChoice, ...]
    rota: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, kw_only=True)
class ControlAnswer(Answer):
    """controls : best first. turns : the rota, empty without a schedule. share : as RotaWish."""

    channel: Channel
    controls: tuple[ControlChoice, ...]
    turns: tuple[Turn, ...]
    schedule: Schedule | None
    share: float

    @property
    def not_in_turn(self) -> tuple[str, ...]:
        """Who is willing, but hears too little to take turns; in rank order."""
        taking_turns = {choice.call_sign for choice in fit_for_control(self.controls, share=self.share)}
        return tuple(c.call_sign for c in self.controls if c.call_sign not in taking_turns)

    @property
    def figures(self) -> ControlFigures:
        """As Answer.figures."""
        return ControlFigures(self.channel.name, self.headline, self.controls, tuple(self.rows.rows))


def control(
    opened: OpenNet,
    wish: RotaWish,
    *,
    channel: str | None = None,
    choice: RuleChoice = AS_WRITTEN,
    watch: Watch = unwatched,
) -> ControlAnswer:
    """Every willing net control by what it would hear, and the rota where net.toml says when the net meets.

    channel : by name or frequency; the net's first unless named.
    Raises : InputProblem for what is not in the net, or a schedule that gives no date; MissingTerrain;
    OutOfRange; NoPlan.
    """
    net, schedule = opened.net, opened.folder.schedule
    on = find_channel(net, channel)
    rules = chosen_rules(opened.folder, choice)
    if opened.folder.nets:
        refuse_after(wish)
    everybody = (opened.folder.whole or opened.folder).net  # whoever led last may be away tonight
    last = find_station(everybody, wish.last).call_sign if wish.last else ""
    dates: tuple[datetime.datetime, ...] = ()
    if schedule is not None:
        dates = net_dates(schedule, start=wish.start, count=wish.nets, until=wish.until)
    network = simplex_paths(opened, on, watch=watch)
    controls = rank_controls(network, rules)
    meeting = opened.folder.meeting
    if meeting is not None:
        fit = fit_for_nets(opened, share=wish.share, choice=choice, watch=watch)
        of_club = club_turns(opened.folder.nets, fit, start=wish.start, until=dates[-1].date())
        turns = tuple(one.turn for one in of_club if one.net == meeting.name)
    else:
        first = net_number(schedule, dates[0].date()) if schedule is not None and dates else 0
        turns = rota(controls, dates, share=wish.share, last=last, first=first)
    return ControlAnswer(
        net=net,
        headline=tonight_headline(net, controls[0].reason),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, network.warnings),
        rows=rota_rows(turns),
        channel=on,
        controls=controls,
        turns=turns,
        schedule=schedule,
        share=wish.share,
    )


def refuse_after(wish: RotaWish) -> None:
    """Raises : InputProblem where somebody was named to go on after, but several nets share one rota."""
    if wish.last:
        fix = "leave --after out: the rota goes on from the first week of the year"
        raise InputProblem(Fault("--after is for a folder of one net, and this club has several", fix))


def rota_rows(turns: tuple[Turn, ...]) -> Sheet:
    """One row a net, with its time zone."""
    rows = tuple((turn.start.isoformat(), turn.control, turn.stand_in) for turn in turns)
    return Sheet(("start", "net_control", "stand_in"), rows)

"""One rota over all the nets of a club, and who is fit for each."""

from __future__ import annotations

from dataclasses import dataclass

from reach.answers.control import RotaWish, refuse_after
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.rules import AS_WRITTEN, RuleChoice
from reach.answers.sheet import Cell, Sheet
from reach.answers.turns import club_turns, fit_for_nets
from reach.inputs.nets import ClubNet
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.lists import counted
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.relays.shared_rota import NetTurn


@dataclass(frozen=True)
class ClubRotaFigures:
    """The rota for machines: start, net, net control, stand-in. fit : net -> who takes its turns."""

    headline: str
    fit: dict[str, tuple[str, ...]]
    rota: tuple[tuple[Cell, ...], ...]


@dataclass(frozen=True, kw_only=True)
class ClubRotaAnswer(Answer):
    """turns : of all nets, in order of time. fit : who takes the turns of each net, best placed first."""

    nets: tuple[ClubNet, ...]
    turns: tuple[NetTurn, ...]
    fit: dict[str, tuple[str, ...]]

    def club_net(self, name: str) -> ClubNet:
        """The net of that name."""
        return next(one for one in self.nets if one.name == name)

    @property
    def figures(self) -> ClubRotaFigures:
        """As Answer.figures."""
        return ClubRotaFigures(self.headline, self.fit, tuple(self.rows.rows))


def club_rota(
    opened: OpenNet, wish: RotaWish, *, choice: RuleChoice = AS_WRITTEN, watch: Watch = unwatched
) -> ClubRotaAnswer:
    """Who controls the coming nets of a club with several, each ranked on its own channel and repeater.

    Raises : as `fit_for_nets`, `club_turns`; InputProblem for a wish to go on after somebody.
    """
    refuse_after(wish)
    net, nets = opened.net, opened.folder.nets
    fit = fit_for_nets(opened, share=wish.share, choice=choice, watch=watch)
    turns = club_turns(nets, fit, start=wish.start, until=wish.until, count=wish.nets)
    return ClubRotaAnswer(
        net=net,
        headline=_headline(turns, nets),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings),
        rows=club_rota_rows(turns),
        nets=nets,
        turns=turns,
        fit=fit,
    )


def _headline(turns: tuple[NetTurn, ...], nets: tuple[ClubNet, ...]) -> str:
    who = {one.turn.control for one in turns}
    evenings = f"{counted(len(turns), 'evening')} of {counted(len(nets), 'net')}"
    shared = f"{evenings}, shared by {counted(len(who), 'net control')}"
    again = [one for one in turns if one.again]
    if not again:
        return f"{shared}; nobody has two in a week."
    first = again[0]
    day = first.turn.start.date().isoformat()
    second = f"{first.turn.control} has a second in the week of {day}"
    return f"{shared}; {second}, as too few are fit for {first.net}."


def club_rota_rows(turns: tuple[NetTurn, ...]) -> Sheet:
    """One row a net, with its time zone."""
    rows = tuple((t.turn.start.isoformat(), t.net, t.turn.control, t.turn.stand_in) for t in turns)
    return Sheet(("start", "net", "net_control", "stand_in"), rows)

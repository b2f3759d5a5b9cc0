"""Random failures, round by round, each with how the net would go on, so that a club can rehearse."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.open_net import OpenNet
from reach.answers.outages import basis_note, net_on
from reach.answers.record import Answer
from reach.answers.rules import chosen_rules
from reach.answers.sheet import Cell, Sheet
from reach.answers.surveys import survey_net
from reach.inputs.lookup import find_channel
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.outages import exercise as rehearsal
from reach.plans.outages.exercise import ExerciseRound
from reach.plans.outages.failures import NetSurvey


@dataclass(frozen=True)
class ExerciseFigures:
    """An exercise for machines, a record a round."""

    headline: str
    seed: int
    rounds: tuple[dict[str, Cell], ...]


@dataclass(frozen=True, kw_only=True)
class ExerciseAnswer(Answer):
    """rounds : in order, no two alike nor leaving the same; a small net may have fewer than asked for.
    seed : the same gives the same rounds. basis : what the plans stand on.
    asked : how many rounds were asked for.
    """

    survey: NetSurvey
    seed: int
    rounds: tuple[ExerciseRound, ...]
    asked: int
    basis: str

    @property
    def figures(self) -> ExerciseFigures:
        """As Answer.figures."""
        return ExerciseFigures(self.headline, self.seed, self.rows.records)


def exercise(
    opened: OpenNet,
    *,
    seed: int = 1,
    rounds: int = 10,
    channel: str | None = None,
    watch: Watch = unwatched,
) -> ExerciseAnswer:
    """So many rounds of failures. channel : by name or frequency; the net's first unless named.

    Raises : InputProblem for an unknown channel; OutOfRange for rounds outside 1 to 1000, or a negative
    seed; MissingTerrain.
    """
    net = opened.net
    rules = chosen_rules(opened.folder)
    on = find_channel(net, channel)
    survey = survey_net(opened, on, watch=watch)
    with watch("rounds") as progress:
        series = rehearsal.exercise(survey, rules, seed=seed, rounds=rounds, progress=progress)
    return ExerciseAnswer(
        net=net,
        headline=rehearsal.exercise_sentence(series),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, survey.warnings),
        rows=round_rows(series),
        survey=survey,
        seed=seed,
        rounds=series,
        asked=rounds,
        basis=basis_note(rules),
    )


def round_rows(rounds: Sequence[ExerciseRound]) -> Sheet:
    """One row a round."""
    rows: list[tuple[Cell, ...]] = [
        (
            r.number,
            "; ".join(event.value for event in r.events),
            r.outage.words,
            r.on_air,
            len(r.plan.in_net),
            net_on(r.plan),
            r.plan.control,
            " ".join(r.plan.plan.relay_calls) if r.plan.plan else "",
            " ".join(r.plan.cut_off),
            r.plan.sentence,
        )
        for r in rounds
    ]
    columns = (
        "round",
        "events",
        "lost",
        "on_air",
        "in_net",
        "net_on",
        "net_control",
        "relays",
        "cut_off",
        "outcome",
    )
    return Sheet(columns, tuple(rows))

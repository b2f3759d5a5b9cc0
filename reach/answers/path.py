"""One path in full: clearance, both directions line by line, every model beside the others, keep-away."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.learned_path import LearnedLink, learned_links
from reach.answers.link_rows import path_rows
from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Cell
from reach.inputs.lookup import find_channel
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.budget import LinkBudget
from reach.links.exposure import KeepAway
from reach.links.path_study import ModelFigure, ModelSpread, PathStudy, study_path
from reach.links.sayings import path_sentence
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.propagation.choose import MODEL_NAMES
from reach.propagation.clearance import PathClearance


@dataclass(frozen=True)
class PathFigures:
    """One path for machines: the answer, clearance, a record a direction, budgets, models, spread."""

    headline: str
    clearance: PathClearance
    directions: tuple[dict[str, Cell], ...]
    budgets: tuple[LinkBudget, LinkBudget]
    models: tuple[ModelFigure, ...]
    models_spread: ModelSpread | None
    keep_away: tuple[KeepAway, KeepAway]
    learned: tuple[LearnedLink, LearnedLink] | None


@dataclass(frozen=True, kw_only=True)
class PathAnswer(Answer):
    """study : the path looked at closely, as predicted. learned : what was heard of it, there and back, and
    what that makes of it; None without reports on its band.
    """

    study: PathStudy
    learned: tuple[LearnedLink, LearnedLink] | None = None

    @property
    def figures(self) -> PathFigures:
        """As Answer.figures."""
        study = self.study
        return PathFigures(
            self.headline,
            study.clearance,
            self.rows.records,
            (study.there_budget, study.back_budget),
            study.models,
            study.models_spread,
            study.keep_away,
            self.learned,
        )


def path(
    opened: OpenNet,
    *,
    left: str,
    right: str,
    channel: str | None = None,
    models: Sequence[str] = MODEL_NAMES,
    watch: Watch = unwatched,
) -> PathAnswer:
    """The path between two members on a channel, or between a member and a repeater, by call sign.

    channel : by name or frequency; the net's first unless named. models : those to set side by side.
    Raises : InputProblem, MissingTerrain, OutOfRange.
    """
    net = opened.net
    study = study_path(
        net, opened.terrain, left=left, right=right, channel=find_channel(net, channel), models=models
    )
    ends = (study.left, study.right)
    learned = learned_links(opened, study, find_channel(net, channel), watch=watch)
    there, back = (study.there, study.back) if learned is None else (one.corrected for one in learned)
    return PathAnswer(
        net=net,
        headline=path_sentence(there, back),
        assumed=assumed_notes(net, ends),
        in_short=assumed_in_short(net, ends),
        warnings=texts(opened.warnings, study.warnings),
        rows=path_rows(there, back),
        study=study,
        learned=learned,
    )

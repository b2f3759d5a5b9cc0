"""One path on the screen: the answer, both directions, their budgets, the models side by side."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.path import PathAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import worst_point_words
from reach.drawings.tables.detail_tables import budget_table, models_table
from reach.drawings.tables.terminal import answer, notes_text, path_table
from reach.links.exposure import keep_away_words


def path_screen(found: PathAnswer) -> list[RenderableType]:
    """What `reach path` says; its tables keep their columns at any width."""
    study, blank = found.study, notes_text([""])
    worst = worst_point_words(study.clearance, start=study.left.call_sign)
    spread = study.models_spread
    agreement = [] if spread is None else [spread.sentence]
    after = ["", *agreement, *found.warnings, *found.in_short, keep_away_words(study.keep_away), SHORT]
    return [
        answer(found.headline),
        blank,
        path_table(study.there, study.back),
        notes_text([worst, ""]),
        budget_table(study.there_budget),
        blank,
        budget_table(study.back_budget),
        blank,
        models_table(study.models),
        notes_text(after),
    ]

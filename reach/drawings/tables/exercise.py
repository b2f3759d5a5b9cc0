"""An exercise on one screen: what happens in every round, and what is asked; the answers are elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.exercise import ExerciseAnswer
from reach.answers.exercise_questions import QUESTIONS
from reach.drawings.style.cautions import SHORT
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.plans.outages.exercise import ExerciseRound


def exercise_screen(found: ExerciseAnswer) -> list[RenderableType]:
    """What `reach exercise` says."""
    fewer = (
        [f"{found.asked} rounds were asked for; there are {len(found.rounds)} different ones."]
        if len(found.rounds) < found.asked
        else []
    )
    lines = [
        "",
        "In each round: " + " ".join(QUESTIONS),
        "Work it out from your kit pages, then compare: --answers answers.pdf is for the leader, --questions "
        "questions.pdf for everyone. --form form.csv is for what was heard on the air: it lists the contacts "
        "to try, so it stays with the answers until then; `reach report` reads it when it is filled in.",
        f"Seed {found.seed}: the same seed gives the same rounds as long as the net stays as it is.",
        *fewer,
        *found.warnings,
        *found.in_short,
        SHORT,
    ]
    title = f"{len(found.rounds)} round{'' if len(found.rounds) == 1 else 's'} to rehearse."
    return [answer(title), notes_text([""]), exercise_table(found.rounds), notes_text(lines)]


def exercise_table(rounds: Sequence[ExerciseRound]) -> Table:
    """One row a round: what is lost, and how many are still there with power."""
    rows = [(str(r.number), r.outage.words, str(r.on_air)) for r in rounds]
    columns = (("", "right"), ("what is lost", "left"), ("on the air", "right"))
    return quiet_table("", columns, rows)

"""An exercise on one screen: every round, and how the net goes on."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.exercise import ExerciseAnswer
from reach.answers.outages import net_on
from reach.drawings.style.cautions import SHORT
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.plans.outages.exercise import ExerciseRound


def exercise_screen(found: ExerciseAnswer) -> list[RenderableType]:
    """What `reach exercise` says."""
    lines = [
        "",
        "In each round: who calls first, where, and who passes traffic for whom? Work it out "
        "from your printouts, then compare.",
        f"Seed {found.seed}: the same seed gives the same rounds as long as the net stays as it is.",
        found.basis,
        *found.warnings,
        *found.in_short,
        SHORT,
    ]
    return [answer(found.headline), notes_text([""]), exercise_table(found.rounds), notes_text(lines)]


def exercise_table(rounds: Sequence[ExerciseRound]) -> Table:
    """One row a round: what happens, and how the net goes on."""
    rows = [
        (
            str(r.number),
            r.outage.words,
            f"{len(r.plan.in_net)} of {r.on_air}",
            net_on(r.plan),
            r.plan.control,
            ", ".join(r.plan.plan.relay_calls) if r.plan.plan else "",
            ", ".join(r.plan.cut_off),
        )
        for r in rounds
    ]
    columns = (
        ("", "right"),
        ("what is lost", "left"),
        ("in the net", "left"),
        ("net on", "left"),
        ("net control", "left"),
        ("relays", "left"),
        ("cut off", "left"),
    )
    return quiet_table("'in the net': of those who are there and have power", columns, rows)

"""The simplex net on one screen: the answer, the plan, who could control it, who hears whom."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.simplex import SimplexAnswer
from reach.drawings.maps.plan_marks import marks_of
from reach.drawings.style.cautions import SHORT
from reach.drawings.tables.control import control_table
from reach.drawings.tables.terminal import answer, matrix_text, notes_text, plan_table, station_table


def simplex_screen(found: SimplexAnswer, *, width: int) -> list[RenderableType]:
    """What `reach simplex` says. width : columns of text."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank]
    if found.plan is not None:
        parts += [plan_table(found.network, marks_of(found.plan), width=width), blank]
    if found.controls:
        parts += [control_table(found.controls, most=8, most_reasons=3), blank]
    parts += [matrix_text(found.network, width=width), blank, station_table(found.network)]
    return [*parts, notes_text(["", *found.warnings, *found.in_short, SHORT])]

"""Repeaters on one screen: each one's answer, then its members by what becomes of them."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.repeater import RepeaterAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.tables.terminal import answer, notes_text, repeater_table


def repeater_screen(found: RepeaterAnswer, *, width: int) -> list[RenderableType]:
    """What `reach repeater` says. width : columns of text."""
    blank = notes_text([""])
    parts: list[RenderableType] = []
    for network, headline in zip(found.networks, found.headlines):
        parts += [answer(headline), blank, repeater_table(network, width=width), blank]
    return [*parts, notes_text([*found.warnings, *found.in_short, SHORT])]

"""Every column and key on the screen."""

from __future__ import annotations

from rich.console import RenderableType

from reach.drawings.tables.terminal import notes_text, quiet_table
from reach.inputs.reference import Section

_HEADINGS = (("name", "left"), ("units", "left"), ("what to write", "left"), ("read too as", "left"))


def columns_screen(sections: tuple[Section, ...]) -> list[RenderableType]:
    """A table for each table of the files."""
    parts: list[RenderableType] = []
    for section in sections:
        rows = [
            (
                f"{entry.name} *" if entry.needed else entry.name,
                ", ".join(entry.units),
                entry.meaning,
                ", ".join(entry.also),
            )
            for entry in section.entries
        ]
        parts += [
            quiet_table(f"{section.file}, {section.title}: {section.about}", _HEADINGS, rows),
            notes_text([""]),
        ]
    lines = (
        "* has to be there; in the roster a position too. All others may be left out: reach check lists what"
        " is taken then.",
        "A unit stands in the name (antenna_height_m, antenna height (ft)) or with the value (35 ft).",
    )
    return [*parts, notes_text(lines)]

"""The sheet for the wall as one page of HTML that prints on A4 and Letter, with no script in it."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, StrictUndefined

from reach.drawings.papers.wall import HEADINGS, WallSheet, steps_of


def wall_page(sheet: WallSheet) -> str:
    """HTML of the sheet; every text is escaped."""
    template = (files("reach.drawings") / "templates" / "wall.html").read_text(encoding="utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(template).render(
        sheet=sheet, headings=HEADINGS, steps=steps_of(sheet.cases)
    )

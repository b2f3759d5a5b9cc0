"""The sheet for the wall as one page of HTML that prints on A4 and Letter, with no script in it."""

from __future__ import annotations

from reach.drawings.papers.page_template import drawn_page
from reach.drawings.papers.wall import HEADINGS, WallSheet, steps_of


def wall_page(sheet: WallSheet) -> str:
    """HTML of the sheet; every text is escaped."""
    return drawn_page("wall.html", sheet=sheet, headings=HEADINGS, steps=steps_of(sheet.cases))

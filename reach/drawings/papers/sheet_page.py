"""The run sheet as one page of HTML that prints on A4 and Letter, with no script and nothing to fetch."""

from __future__ import annotations

from importlib.resources import files

from jinja2 import Environment, StrictUndefined

from reach.drawings.papers.run_sheet import RunSheet

_AIRY_UP_TO_ROWS = 16  # up to here there is room for every heading and for rows as high as one likes


def sheet_page(sheet: RunSheet) -> str:
    """HTML of the sheet; every text is escaped."""
    airy = sum(len(group.rows) for group in sheet.groups) <= _AIRY_UP_TO_ROWS
    template = (files("reach.drawings") / "templates" / "run_sheet.html").read_text(encoding="utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    row_mm = 7.0 if airy else 5.5  # as high as the PDF has them at least
    return environment.from_string(template).render(sheet=sheet, headings=airy, row_mm=row_mm)

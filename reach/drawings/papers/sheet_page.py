"""The run sheet as one page of HTML that prints on A4 and Letter, with no script and nothing to fetch."""

from __future__ import annotations

from reach.drawings.papers.page_template import drawn_page
from reach.drawings.papers.run_sheet import RunSheet

_AIRY_UP_TO_ROWS = 16  # up to here there is room for every heading and for rows as high as one likes


def sheet_page(sheet: RunSheet) -> str:
    """HTML of the sheet; every text is escaped. The same sheet gives the same text."""
    airy = sum(len(group.rows) for group in sheet.groups) <= _AIRY_UP_TO_ROWS
    row_mm = 7.0 if airy else 5.5  # as high as the PDF has them at least
    return drawn_page("run_sheet.html", sheet=sheet, headings=airy, row_mm=row_mm)

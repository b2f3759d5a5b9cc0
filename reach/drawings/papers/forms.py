"""A paper in its forms: plain text, a page to print, PDF; each drawn when it is asked for.

What draws PDF is imported only then: matplotlib takes 0.4 s, a third of what `reach sheet` needs for text.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from reach.answers.backup import BackupAnswer
from reach.answers.kit import KitAnswer
from reach.answers.run_sheet import RunSheetAnswer
from reach.drawings.papers.go_kit import kit_pages
from reach.drawings.papers.go_kit_page import kit_pages_html
from reach.drawings.papers.go_kit_text import kit_pages_text
from reach.drawings.papers.run_sheet import RunSheet, sheet_text, written_sheet
from reach.drawings.papers.sheet_page import sheet_page
from reach.drawings.papers.wall import wall_sheet, wall_text
from reach.drawings.papers.wall_page import wall_page

if TYPE_CHECKING:
    from reach.drawings.papers.paper import Paper


@dataclass(frozen=True)
class PaperForms:
    """text : plain, a form feed between pages. page : HTML that prints. pdf : on a sheet size."""

    text: Callable[[], str]
    page: Callable[[], str]
    pdf: Callable[[Paper], bytes]


def run_sheet_forms(found: RunSheetAnswer) -> PaperForms:
    """The run sheet. Raises : InputProblem for a script of the net's own that does not work."""
    return forms_of_sheet(written_sheet(found))


def forms_of_sheet(sheet: RunSheet) -> PaperForms:
    """A run sheet whose words are there already."""

    def pdf(paper: Paper) -> bytes:
        from reach.drawings.papers.sheet_pdf import sheet_pdf

        return sheet_pdf(sheet, paper)

    return PaperForms(text=lambda: sheet_text(sheet), page=lambda: sheet_page(sheet), pdf=pdf)


def kit_forms(found: KitAnswer) -> PaperForms:
    """A page for each operator asked for."""
    pages = kit_pages(found)

    def pdf(paper: Paper) -> bytes:
        from reach.drawings.papers.go_kit_pdf import kit_pages_pdf

        return kit_pages_pdf(pages, paper)

    return PaperForms(text=lambda: kit_pages_text(pages), page=lambda: kit_pages_html(pages), pdf=pdf)


def wall_forms(found: BackupAnswer) -> PaperForms:
    """The sheet for the wall."""
    sheet = wall_sheet(found)

    def pdf(paper: Paper) -> bytes:
        from reach.drawings.papers.wall_pdf import wall_pdf

        return wall_pdf(sheet, paper)

    return PaperForms(text=lambda: wall_text(sheet), page=lambda: wall_page(sheet), pdf=pdf)

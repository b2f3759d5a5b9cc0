"""Go-kit sheets as HTML, one printed page an operator on A4 or Letter, with no script, nothing to fetch."""

from __future__ import annotations

from collections.abc import Sequence

from reach.drawings.papers.go_kit import FREQUENCIES, KitPage, heard_words, worked_words
from reach.drawings.papers.page_template import drawn_page


def kit_pages_html(pages: Sequence[KitPage]) -> str:
    """HTML of the sheets in the order given; every text is escaped. Raises : ValueError without any."""
    if not pages:
        raise ValueError("no sheet to draw")
    return drawn_page(
        "go_kit.html",
        pages=pages,
        title=pages[0].net,
        frequencies=FREQUENCIES,
        worked=worked_words,
        one_way=heard_words,
    )

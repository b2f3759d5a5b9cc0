"""Go-kit sheets as HTML, one printed page an operator on A4 or Letter, with no script, nothing to fetch."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.resources import files

from jinja2 import Environment, StrictUndefined

from reach.drawings.papers.go_kit import FREQUENCIES, KitPage, heard_words, worked_words


def kit_pages_html(pages: Sequence[KitPage]) -> str:
    """HTML of the sheets in the order given; every text is escaped. Raises : ValueError without any."""
    if not pages:
        raise ValueError("no sheet to draw")
    template = (files("reach.drawings") / "templates" / "go_kit.html").read_text(encoding="utf-8")
    environment = Environment(
        autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    return environment.from_string(template).render(
        pages=pages,
        title=pages[0].net,
        frequencies=FREQUENCIES,
        worked=worked_words,
        one_way=heard_words,
    )

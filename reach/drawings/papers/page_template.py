"""Pages of HTML for paper: one environment for their templates, in which every text is escaped."""

from __future__ import annotations

from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from reach.drawings.papers.typeface import PAGE_FAMILIES, with_faces
from reach.visible import visible


@lru_cache(maxsize=1)
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("reach.drawings", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )


def _shown(value: object) -> object:
    """Names from users' files show their steering characters; what is a page's own markup stays."""
    return visible(value) if isinstance(value, str) and not isinstance(value, Markup) else value


def drawn_page(template: str, **facts: object) -> str:
    """HTML of a template in reach/drawings/templates with its typefaces in it.

    The template has, besides the facts given, `faces` (CSS rules), `families` (value of font-family) and
    `borrowed` (what to say of letters it does not carry, or '').
    """
    page = _environment().get_template(template)
    families = Markup(PAGE_FAMILIES)

    def draw(rules: str, borrowed: str) -> str:
        return page.render(faces=Markup(rules), families=families, borrowed=borrowed, **facts)

    return with_faces(draw)

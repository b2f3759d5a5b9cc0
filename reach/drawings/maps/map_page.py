"""From finished parts to one self-contained page: answer first, map, legend, cautions.

The page is one template, templates/map_page.html, in which every text is escaped; the script draws from data
and sets text as text. Only the page's own scripts, named by their hash, may run, and nothing may be fetched.
"""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from functools import lru_cache

from jinja2 import Environment, PackageLoader, StrictUndefined, Template
from markupsafe import Markup

from reach.drawings.maps.legend import letter_words, symbol_rows
from reach.drawings.maps.map_data import map_data
from reach.drawings.maps.map_parts import MapContent
from reach.drawings.maps.page import (
    COVERAGE_PANE,
    OfflineMap,
    OnlineTiles,
    leaflet_css,
    leaflet_js,
    own_asset,
)
from reach.drawings.maps.picture import MapPicture
from reach.drawings.style.cautions import CAUTIONS
from reach.drawings.style.palette import LineStyle, css_variables
from reach.drawings.style.symbols import Symbol, line_svg, symbol_svg

LEGEND_SYMBOL_PX = 26


def map_page(
    content: MapContent, *, relief: MapPicture | None = None, online: OnlineTiles | None = None
) -> str:
    """One finished page. relief : the ground under the map; online : a tile service to offer on it."""
    chart = OfflineMap()
    layers = {} if relief is None else {"relief": chart.add_picture("relief", relief)}
    for number, overlay in enumerate(content.overlays):
        key = f"overlay{number}"
        layers[key] = chart.add_picture(key, overlay.picture(), pane=COVERAGE_PANE)
    if online is not None:
        layers["online"] = chart.add_online(online)
    chart.add_drawing(layers, map_data(content))
    place, script = chart.parts()
    every = (*content.stations, *(station for case in content.cases for station in case.stations))
    scripts = [leaflet_js(), own_asset("net_map.js"), script]
    return _template().render(
        content=content,
        policy=_policy(scripts, online),
        styles=[Markup(text) for text in (leaflet_css(), css_variables(), own_asset("page.css"))],
        scripts=[Markup(text) for text in scripts],
        map_place=Markup(place),
        symbols=symbol_rows(every),
        letters=letter_words(every),
        listed=sorted(enumerate(content.stations), key=lambda numbered: numbered[1].call_sign),
        background=layers.keys() & {"relief", "online"},
        cautions=CAUTIONS,
        credits=() if relief is None else relief.credits,
        drawn_line=_drawn_line,
        drawn_symbol=_drawn_symbol,
    )


def _policy(scripts: Sequence[str], online: OnlineTiles | None) -> str:
    """Content-Security-Policy of a page with these scripts.

    Raises : RuntimeError where a script would end before its end.
    """
    if any("</script" in script.lower() for script in scripts):
        raise RuntimeError("a script cannot be inlined: it holds a closing script tag")
    hashes = " ".join(f"'sha256-{_sha256(script)}'" for script in scripts)
    images = "data: blob:" + (f" {online.origin}" if online else "")
    return (
        f"default-src 'none'; img-src {images}; style-src 'unsafe-inline'; script-src {hashes}; "
        "base-uri 'none'; form-action 'none'"
    )


def _sha256(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def _drawn_line(style: LineStyle) -> Markup:
    return Markup(line_svg(style))


def _drawn_symbol(symbol: Symbol) -> Markup:
    return Markup(symbol_svg(symbol, size_px=LEGEND_SYMBOL_PX))


@lru_cache(maxsize=1)
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("reach.drawings", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    return environment.get_template("map_page.html")

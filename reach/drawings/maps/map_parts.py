"""What a map page is made of before it becomes a page: stations, links, layers, legend.

Plain records; text in them is as the user wrote it and is made safe only where the page is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from reach.drawings.maps.page import OnlineTiles, shown
from reach.drawings.maps.picture import CoverageOverlay, MapPicture, MercatorBox
from reach.drawings.style.palette import PAPER, LineStyle, Outline
from reach.drawings.style.symbols import BOX_PX, Mark, Symbol, line_svg, symbol_svg
from reach.drawings.style.words import CATEGORY_LETTERS, CATEGORY_WORDS
from reach.stations import Category

CROWDED_LINKS = 120  # with more lines a map starts with those of one station only
PRINT_SIZE_PX = (700, 560)  # fits the printable width of both A4 and Letter, upright

MARK_WORDS: dict[Mark, str] = {
    Mark.MEMBER: "member",
    Mark.RELAY: "second ring: relay",
    Mark.CONTROL: "filled square: net control",
    Mark.HEARS_ONLY: "hears only, or gets in only",
    Mark.CUT_OFF: "cut off",
    Mark.OUTSIDE: "outside the coverage",
    Mark.REPEATER: "repeater",
    Mark.SITE: "where the coverage is from",
    Mark.PROPOSED: "filled diamond: place to go",
    Mark.ALTERNATIVE: "hollow diamond: place instead",
}

_RANK = {
    Mark.MEMBER: 0,
    Mark.CUT_OFF: 1,
    Mark.HEARS_ONLY: 1,
    Mark.RELAY: 2,
    Mark.CONTROL: 3,
    Mark.REPEATER: 3,
    Mark.OUTSIDE: 0,
    Mark.SITE: 3,
    Mark.PROPOSED: 3,
    Mark.ALTERNATIVE: 0,
}


@dataclass(frozen=True)
class MapStation:
    """A dot. title and lines go to its card; status to the station list."""

    call_sign: str
    latitude_deg: float
    longitude_deg: float
    symbol: Symbol
    title: str
    lines: tuple[str, ...]
    status: str

    @property
    def attention(self) -> bool:
        """In trouble: shown in the accent."""
        return self.symbol.mark.needs_attention


@dataclass(frozen=True)
class MapLink:
    """A line between two stations (indices). forward : how `listener` hears `talker`; back : the reverse."""

    talker: int
    listener: int
    layer: str
    forward: str
    back: str
    path: str


@dataclass(frozen=True)
class LinkLayer:
    """A kind of line that can be switched. title : shown in the legend; pane : 'links' or 'plan'."""

    key: str
    title: str
    style: LineStyle
    visible: bool = True
    pane: str = "links"
    opacity: float = 0.85


def map_data(
    stations: Sequence[MapStation],
    links: Sequence[MapLink],
    layers: Sequence[LinkLayer],
    overlays: Sequence[CoverageOverlay],
    online: OnlineTiles | None,
    frame: MercatorBox | None = None,
) -> dict[str, Any]:
    """The data the page's script draws from: lists, dicts, text and numbers only.

    frame : shown besides the stations when the page opens.
    """
    qualities: dict[str, int] = {}
    drawn = [
        {
            "a": link.talker,
            "b": link.listener,
            "k": link.layer,
            "f": qualities.setdefault(link.forward, len(qualities)),
            "r": qualities.setdefault(link.back, len(qualities)),
            "t": link.path,
        }
        for link in links
    ]
    symbols = {station.symbol.key: station.symbol for station in stations}
    latitudes = [s.latitude_deg for s in stations]
    longitudes = [s.longitude_deg for s in stations]
    for latitude, longitude in () if frame is None else frame.corners_deg:
        latitudes.append(latitude)
        longitudes.append(longitude)
    south, north = min(latitudes), max(latitudes)
    west, east = min(longitudes), max(longitudes)
    pad = 0.01 if max(north - south, east - west) < 0.02 else 0.0
    shown_links = sum(1 for link in links if link.layer in {layer.key for layer in layers if layer.visible})
    crowded = shown_links > CROWDED_LINKS
    calm = min(1.0, max(0.3, (CROWDED_LINKS / max(shown_links, 1)) ** 0.5))
    leading = (Mark.CONTROL, Mark.REPEATER, Mark.SITE, Mark.PROPOSED)
    leaders = [i for i, s in enumerate(stations) if s.symbol.mark in leading]
    return {
        "focus": {"only": crowded, "start": leaders[0] if leaders else None},
        "bounds": [[south - pad, west - pad], [north + pad, east + pad]],
        "print_size": list(PRINT_SIZE_PX),
        "symbol_size": BOX_PX,
        "paper": PAPER,
        "symbols": {key: symbol_svg(symbols[key]) for key in sorted(symbols)},
        "styles": {
            layer.key: {
                "color": layer.style.colour,
                "weight": layer.style.weight,
                "dash": " ".join(f"{d:g}" for d in layer.style.dash) or None,
                "arrow": layer.style.arrow,
                "cased": layer.style.cased,
                "opacity": layer.opacity if layer.pane == "plan" else round(layer.opacity * calm, 3),
                "pane": layer.pane,
                "plan": layer.pane == "plan",
            }
            for layer in layers
        },
        "stations": [
            {
                "call": s.call_sign,
                "lat": round(s.latitude_deg, 6),
                "lon": round(s.longitude_deg, 6),
                "symbol": s.symbol.key,
                "title": s.title,
                "lines": list(s.lines),
                "rank": _RANK[s.symbol.mark],
                "attention": s.attention,
            }
            for s in stations
        ],
        "qualities": list(qualities),
        "links": drawn,
        "overlays": [
            {
                "layer": f"overlay{number}",
                "image": overlay.picture().data_uri,
                "bounds": [list(corner) for corner in overlay.box.corners_deg],
            }
            for number, overlay in enumerate(overlays)
        ],
        "online": None
        if online is None
        else {"url": online.url_template, "attribution": online.attribution, "max_zoom": online.max_zoom},
    }


def panel_html(
    stations: Sequence[MapStation],
    links: Sequence[MapLink],
    layers: Sequence[LinkLayer],
    overlays: Sequence[CoverageOverlay],
    *,
    links_title: str,
    relief: MapPicture | None,
    online: OnlineTiles | None,
) -> str:
    """The side panel: the legend, whose boxes are the layer switches, and the list of stations."""
    counts = {layer.key: sum(1 for link in links if link.layer == layer.key) for layer in layers}
    rows = "".join(
        _switch(
            layer.key,
            f"{line_svg(layer.style)}<span>{shown(layer.title)}</span>",
            layer.visible,
            counts[layer.key],
        )
        for layer in layers
    )
    rows += (
        '<li class="screen"><label><input type="checkbox" data-only-chosen>'
        "<span>only the chosen station's links</span></label></li>"
    )
    arrows = any(layer.style.arrow for layer in layers)
    note = '<p class="note">The open arrow points at the station that hears.</p>' if arrows else ""
    parts = [f"<section><h2>{shown(links_title)}</h2><ul>{rows}</ul>{note}</section>"] if layers else []
    for number, overlay in enumerate(overlays):
        swatches = "".join(
            f'<li><span class="swatch" style="background:{step.fill};opacity:{step.opacity:g}"></span>'
            f"<span>{shown(step.words)}</span></li>"
            for step in reversed(overlay.steps)
        )
        switch = _switch(f"overlay{number}", f"<span>{shown(overlay.name)}</span>", number == 0)
        parts.append(
            f'<section><h2>Coverage</h2><ul>{switch}</ul><ul class="swatches">{swatches}</ul></section>'
        )
    parts.append(f"<section><h2>Stations</h2><ul>{_symbol_rows(stations)}</ul></section>")
    under = _switch("names", "<span>Call signs</span>", True)
    if relief is not None:
        under += _switch("relief", "<span>Shaded relief</span>", True)
    if online is not None:
        under += _switch("online", "<span>Online map (needs a connection)</span>", False)
    parts.append(f'<section class="screen"><h2>Background</h2><ul>{under}</ul></section>')
    listed = sorted(range(len(stations)), key=lambda i: stations[i].call_sign)
    buttons = "".join(_station_row(i, stations[i]) for i in listed)
    parts.append(f'<section class="stations"><h2>Find a station</h2><ol>{buttons}</ol></section>')
    return "".join(parts)


def _station_row(number: int, station: MapStation) -> str:
    kind = ' class="attention"' if station.attention else ""
    return (
        f'<li><button type="button" data-station="{number}" aria-pressed="false">'
        f"<b>{shown(station.call_sign)}</b><span{kind}>{shown(station.status)}</span></button></li>"
    )


def _switch(key: str, content: str, on: bool, count: int | None = None) -> str:
    tail = "" if count is None else f'<span class="count">{count}</span>'
    checked = " checked" if on else ""
    return f'<li><label><input type="checkbox" data-layer="{key}"{checked}>{content}{tail}</label></li>'


def _symbol_rows(stations: Sequence[MapStation]) -> str:
    """Legend rows for the symbols that are on this map, and no others."""
    marks = {s.symbol.mark for s in stations}
    rows = [
        _symbol_row(Symbol(mark), MARK_WORDS[mark])
        for mark in Mark
        if mark in marks and mark is not Mark.MEMBER
    ]
    outlines = {s.symbol.outline for s in stations if s.symbol.letter}
    words = {Outline.MAINS_ONLY: "thin outline: mains only", Outline.BACKED_UP: "thick outline: backup power"}
    rows += [_symbol_row(Symbol(Mark.MEMBER, "", o), words[o]) for o in Outline if o in outlines]
    letters = {s.symbol.letter for s in stations}
    named = [f"{CATEGORY_LETTERS[c]} {_short(c)}" for c in Category if CATEGORY_LETTERS[c] in letters]
    return "".join(rows) + (f'<li class="note">{shown(", ".join(named))}</li>' if named else "")


def _symbol_row(symbol: Symbol, words: str) -> str:
    return f'<li><span class="symbol">{symbol_svg(symbol, size_px=26)}</span><span>{shown(words)}</span></li>'


def _short(category: Category) -> str:
    return CATEGORY_WORDS[category].split(",")[0].removesuffix(" station")

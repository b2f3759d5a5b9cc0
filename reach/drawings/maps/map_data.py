"""The data a page's script draws from: lists, dicts, text and numbers only."""

from __future__ import annotations

from collections.abc import Sequence

from reach.drawings.maps.map_parts import LinkLayer, MapContent, MapLink, MapStation
from reach.drawings.style.palette import PAPER
from reach.drawings.style.symbols import BOX_PX, Mark, symbol_svg

Plain = str | float | bool | None | list["Plain"] | dict[str, "Plain"]

CROWDED_LINKS = 120  # with more lines a map starts with those of one station only
PRINT_SIZE_PX = (700, 560)  # fits the printable width of both A4 and Letter, upright
_LEADING = (Mark.CONTROL, Mark.REPEATER, Mark.SITE, Mark.PROPOSED)

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
    Mark.SILENT: 0,
}


def map_data(content: MapContent) -> dict[str, Plain]:
    """Everything the script needs, by the names it has there."""
    visible = [content.links_of(layer) for layer in content.layers if layer.visible]
    calm = min(1.0, max(0.3, (CROWDED_LINKS / max(sum(visible), 1)) ** 0.5))
    leaders = [i for i, s in enumerate(content.stations) if s.symbol.mark in _LEADING]
    every = (*content.stations, *(station for case in content.cases for station in case.stations))
    symbols = {station.symbol.key: station.symbol for station in every}
    qualities: dict[str, int] = {}
    links = _links(content.links, qualities)
    cases: list[Plain] = [
        {
            "headline": case.headline,
            "reasons": " ".join(case.reasons),
            "stations": [_station(station) for station in case.stations],
            "status": [station.status for station in case.stations],
            "links": _links(case.links, qualities),
        }
        for case in content.cases
    ]
    return {
        "wavelength_m": _wavelength_m(content.frequency_mhz) if content.frequency_mhz else None,
        "focus": {"only": sum(visible) > CROWDED_LINKS, "start": leaders[0] if leaders else None},
        "bounds": _bounds(content),
        "print_size": [*PRINT_SIZE_PX],
        "symbol_size": BOX_PX,
        "paper": PAPER,
        "rims": bool(content.overlays),
        "symbols": {key: symbol_svg(symbol) for key, symbol in symbols.items()},
        "styles": {layer.key: _style(layer, calm) for layer in content.layers},
        "stations": [_station(station) for station in content.stations],
        "qualities": [*qualities],
        "links": links,
        "cases": cases,
    }


def _links(links: Sequence[MapLink], qualities: dict[str, int]) -> list[Plain]:
    """Lines, with the words on how each end hears the other by their number in `qualities`, which grows."""
    return [
        {
            "a": link.talker,
            "b": link.listener,
            "k": link.layer,
            "f": qualities.setdefault(link.forward, len(qualities)),
            "r": qualities.setdefault(link.back, len(qualities)),
            "t": link.path,
            "p": _profile(link),
        }
        for link in links
    ]


def _profile(link: MapLink) -> Plain:
    if link.profile is None:
        return None
    made = link.profile
    plain: dict[str, Plain] = {
        "km": round(made.length_km, 2), "g": [*made.ground_m], "a": made.start_m, "b": made.end_m,
    }  # fmt: skip
    if link.frequency_mhz:
        plain["w"] = _wavelength_m(link.frequency_mhz)
    return plain


def _wavelength_m(frequency_mhz: float) -> float:
    return 299.792458 / frequency_mhz


def _bounds(content: MapContent) -> Plain:
    """South-west and north-east corner of all that is shown when the page opens."""
    corners = () if content.frame is None else content.frame.corners_deg
    framing = [s for s in content.stations if s.frames] or [*content.stations]
    latitudes = [s.latitude_deg for s in framing] + [corner[0] for corner in corners]
    longitudes = [s.longitude_deg for s in framing] + [corner[1] for corner in corners]
    south, north = min(latitudes), max(latitudes)
    west, east = min(longitudes), max(longitudes)
    pad = 0.01 if max(north - south, east - west) < 0.02 else 0.0
    return [[south - pad, west - pad], [north + pad, east + pad]]


def _style(layer: LinkLayer, calm: float) -> Plain:
    of_plan = layer.pane == "plan"
    return {
        "color": layer.style.colour,
        "weight": layer.style.weight,
        "dash": " ".join(f"{d:g}" for d in layer.style.dash) or None,
        "arrow": layer.style.arrow,
        "cased": layer.style.cased,
        "opacity": layer.opacity if of_plan else round(layer.opacity * calm, 3),
        "pane": layer.pane,
        "plan": of_plan,
    }


def _station(station: MapStation) -> Plain:
    return {
        "call": station.call_sign,
        "lat": round(station.latitude_deg, 6),
        "lon": round(station.longitude_deg, 6),
        "symbol": station.symbol.key,
        "title": station.title,
        "lines": [*station.lines],
        "rank": _RANK[station.symbol.mark],
        "attention": station.attention,
    }

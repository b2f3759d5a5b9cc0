"""Waypoints for a navigator: GPX 1.1 (topografix schema), any text in them safe as XML."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree
from collections.abc import Sequence
from dataclasses import dataclass

from reach.stations import Position

GPX = "http://www.topografix.com/GPX/1/1"
_SCHEMA = f"{GPX} http://www.topografix.com/GPX/1/1/gpx.xsd"
_XSI = "http://www.w3.org/2001/XMLSchema-instance"


@dataclass(frozen=True)
class Waypoint:
    """A place to drive to. elevation_m : None where unknown; symbol : a word a navigator may know."""

    position: Position
    name: str
    description: str = ""
    elevation_m: float | None = None
    symbol: str = "Flag"


def gpx_text(waypoints: Sequence[Waypoint], *, title: str, creator: str = "reach") -> str:
    """The waypoints as a GPX 1.1 document. Characters XML cannot hold are left out."""
    root = ElementTree.Element(
        f"{{{GPX}}}gpx",
        {"version": "1.1", "creator": _printable(creator), f"{{{_XSI}}}schemaLocation": _SCHEMA},
    )
    about = ElementTree.SubElement(root, f"{{{GPX}}}metadata")
    _child(about, "name", title)
    for waypoint in waypoints:
        point = ElementTree.SubElement(
            root,
            f"{{{GPX}}}wpt",
            {"lat": f"{waypoint.position.latitude_deg:.6f}", "lon": f"{waypoint.position.longitude_deg:.6f}"},
        )
        # the schema fixes this order: ele, name, desc, sym
        if waypoint.elevation_m is not None:
            _child(point, "ele", f"{waypoint.elevation_m:.1f}")
        _child(point, "name", waypoint.name)
        if waypoint.description:
            _child(point, "desc", waypoint.description)
        if waypoint.symbol:
            _child(point, "sym", waypoint.symbol)
    ElementTree.register_namespace("", GPX)
    ElementTree.register_namespace("xsi", _XSI)
    ElementTree.indent(root)
    body = ElementTree.tostring(root, encoding="unicode")
    return f'<?xml version="1.0" encoding="UTF-8"?>\n{body}\n'


def _child(parent: ElementTree.Element, tag: str, text: str) -> None:
    ElementTree.SubElement(parent, f"{{{GPX}}}{tag}").text = _printable(text)


def _printable(text: str) -> str:
    """Text without the characters XML 1.0 forbids (production [2] Char)."""
    return "".join(c for c in text if _is_char(ord(c)))


def _is_char(code: int) -> bool:
    return code in (0x9, 0xA, 0xD) or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000

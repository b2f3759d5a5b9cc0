"""GPX as the 1.1 schema wants it, whatever the text holds."""

from __future__ import annotations

import xml.etree.ElementTree as ElementTree

from hypothesis import given, settings
from hypothesis import strategies as st

from reach.drawings.exports.waypoints import GPX, Waypoint, gpx_text
from reach.stations import Position

PLACE = Position(41.23456789, -38.5)


def test_a_waypoint_has_its_parts_in_the_order_of_the_schema() -> None:
    """GPX 1.1 schema, wptType: ele before name before desc before sym (topografix.com/GPX/1/1/gpx.xsd)."""
    text = gpx_text([Waypoint(PLACE, "site 1", "works 3", 512.34)], title="Sites")
    root = ElementTree.fromstring(text)
    assert root.tag == f"{{{GPX}}}gpx"
    assert root.get("version") == "1.1" and root.get("creator")
    (point,) = root.findall(f"{{{GPX}}}wpt")
    assert (point.get("lat"), point.get("lon")) == ("41.234568", "-38.500000")
    assert [child.tag.split("}")[1] for child in point] == ["ele", "name", "desc", "sym"]
    assert point.findtext(f"{{{GPX}}}ele") == "512.3"
    assert root[0].tag == f"{{{GPX}}}metadata"


def test_an_unknown_elevation_is_left_out() -> None:
    assert "<ele>" not in gpx_text([Waypoint(PLACE, "site 1")], title="")


@settings(max_examples=100, deadline=None)
@given(name=st.text(max_size=30), words=st.text(max_size=30))
def test_any_text_is_only_text(name: str, words: str) -> None:
    name, words = f"<wpt>&{name}\x00\ufffe", f"]]><!--{words}"
    root = ElementTree.fromstring(gpx_text([Waypoint(PLACE, name, words)], title=words))
    assert len(root.findall(f"{{{GPX}}}wpt")) == 1
    shown = root.findtext(f"{{{GPX}}}wpt/{{{GPX}}}name") or ""
    assert shown.startswith("<wpt>&") and "\x00" not in shown

"""Escaping, inlining, and the page's frame."""

from __future__ import annotations

import hashlib
import html
import json
import re
from collections import Counter
from dataclasses import replace
from html.parser import HTMLParser

import folium
import numpy as np
import pytest
from folium.raster_layers import ImageOverlay
from hypothesis import given, settings
from hypothesis import strategies as st
from markupsafe import escape

from reach.drawings.maps.net_map import repeater_map, simplex_map
from reach.drawings.maps.page import OnlineTiles, RenderedOnce, leaflet_css, leaflet_js
from reach.drawings.maps.picture import CoverageOverlay
from reach.drawings.maps.plan_marks import CutOff, PlanMarks
from reach.drawings.style.cautions import CAUTIONS

# each would end, or be run by, some language of the page: HTML, a script, a template
PIECES = (
    "<",
    ">",
    "&",
    '"',
    "'",
    "`",
    "${",
    "{{",
    "}}",
    "{%",
    "{#",
    "</script>",
    "<!--",
    "&lt;",
    "\\",
    "\u2028",
    "x",
)
TEXTS = st.lists(st.sampled_from(PIECES), max_size=12).map("".join)


class Texts(HTMLParser):
    """What a browser would show of a page, and which elements it would make."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.shown: dict[str, list[str]] = {}
        self.made: Counter[str] = Counter()
        self._open = ""
        self.feed(page)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.made[tag] += 1
        self._open = tag
        self.shown.setdefault(tag, []).append("")

    def handle_data(self, data: str) -> None:
        if self._open:
            self.shown[self._open][-1] += data

    def handle_endtag(self, tag: str) -> None:
        self._open = ""


@settings(deadline=None, max_examples=60)
@given(text=TEXTS)
def test_text_is_shown_as_written_whatever_it_holds(invented, text) -> None:
    network = invented.with_text(invented.simplex_network(invented.net(3)), text)
    marks = PlanMarks(cut_off=(CutOff(text, text),), reasons=(text,))
    overlay = CoverageOverlay(text, np.ones((2, 2), dtype=np.uint8), invented.relief().box)
    page = simplex_map(network, headline=text, marks=marks, notes=(text, "end"), overlays=(overlay,))
    marks = PlanMarks(cut_off=(CutOff("x", "x"),), reasons=("x",))
    overlay = replace(overlay, name="x")
    network = invented.with_text(network, "x")
    plain = simplex_map(network, headline="x", marks=marks, notes=("x", "end"), overlays=(overlay,))
    seen, expected = Texts(page), Texts(plain)
    assert seen.made == expected.made  # no text became an element
    assert seen.shown["title"] == [f"{text}: simplex"] and seen.shown["h1"] == [text]
    assert seen.shown["p"][0] == text and text in seen.shown["span"]
    assert seen.shown["li"][:2] == [text, "end"]
    data = json.loads(re.search(r"drawNet\(map_net, \{.*?\}, (\{.*\})\);", page, re.DOTALL)[1])
    assert {station["call"] for station in data["stations"]} >= {text}


def test_a_script_that_would_end_early_is_refused(invented, monkeypatch) -> None:
    monkeypatch.setattr("reach.drawings.maps.map_page.own_asset", lambda name: "'</SCRIPT>'")
    with pytest.raises(RuntimeError, match="closing script tag"):
        simplex_map(invented.simplex_network(invented.net(3)), headline="One.")


def test_elements_of_the_library_are_rendered_once() -> None:
    """The library's own last step takes `{{ 7 * 7 }}` in a picture's address for a template and says 49."""

    class Once(ImageOverlay, RenderedOnce):
        pass

    def script(kind) -> str:
        chart = folium.Map(tiles=None)
        kind("data:,{{ 7 * 7 }}", bounds=[[0, 0], [1, 1]]).add_to(chart)
        chart.get_root().render()
        return chart.get_root().script.render()

    assert "data:,49" in script(ImageOverlay)
    assert "data:,{{ 7 * 7 }}" in script(Once)


def test_the_map_library_travels_whole() -> None:
    script, styles = leaflet_js(), leaflet_css()
    assert "sourceMappingURL" not in script and "</script" not in script.lower()
    assert 'version="1.9.' in script or "1.9.4" in script
    assert styles.count("url(data:image/png;base64,") == 3
    assert not re.search(r"url\((?!data:|#)", styles)


def test_other_maps_of_the_process_are_left_alone(invented) -> None:
    before = list(folium.Map.default_js), list(folium.Map.default_css)
    simplex_map(invented.simplex_network(), headline="One.")
    assert (list(folium.Map.default_js), list(folium.Map.default_css)) == before


def policy_of(page: str) -> str:
    return html.unescape(re.search(r'Content-Security-Policy" content="([^"]+)"', page)[1])


def pages(invented) -> list[str]:
    simplex = invented.simplex_network()
    return [
        simplex_map(simplex, headline="One.", relief=invented.relief(), marks=invented.plan_marks(simplex)),
        repeater_map(invented.repeater_network(), headline="Two.", relief=invented.relief()),
    ]


def test_pages_are_the_same_on_every_run(invented) -> None:
    assert pages(invented) == pages(invented)


def test_pages_name_no_other_place(invented) -> None:
    """Outside the inlined library, the only addresses are data: and the SVG namespace."""
    for text in pages(invented):
        rest = text.replace(leaflet_js(), "").replace(leaflet_css(), "")
        assert set(re.findall(r"https?://[^\s\"'<>)\\]+", rest)) <= {"http://www.w3.org/2000/svg"}
        assert not re.search(r"<(link|iframe|object|embed|base)\b", rest)


def test_only_the_pages_own_scripts_may_run(invented) -> None:
    for text in pages(invented):
        policy = policy_of(text)
        assert "default-src 'none'" in policy and "unsafe-inline'; script" in policy
        assert "unsafe-inline" not in policy.split("script-src")[1].split(";")[0]
        bodies = re.findall(r"<script>(.*?)</script>", text, flags=re.DOTALL)
        assert len(bodies) == policy.count("'sha256-") == 3


def test_hash_in_the_policy_is_that_of_the_script(invented) -> None:
    import base64

    text = pages(invented)[0]
    body = re.findall(r"<script>(.*?)</script>", text, flags=re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in policy_of(text)


def test_every_page_carries_the_cautions(invented) -> None:
    for text in pages(invented):
        for sentence in CAUTIONS:
            assert str(escape(sentence)) in text
        assert "power lines" in text and "local rules prevail" in text


@pytest.mark.parametrize(
    "address",
    [
        "http://tiles.example.invalid/{z}/{x}/{y}.png",
        "https://tiles.example.invalid/plain.png",
        "https://tiles.example.invalid/{z}/{x}/{y}.png; script-src *",
        "javascript:alert(1)//{z}",
        'https://a.invalid/{z}"><script>',
        "https://tiles.example.invalid/{z}.png",
        "https://{s}.example.invalid/{z}/{x}/{y}.png",
        "https://tiles.example.invalid/{s}/{z}/{x}/{y}.png",
    ],
)
def test_odd_tile_addresses_are_refused(address) -> None:
    with pytest.raises(ValueError, match="https address"):
        OnlineTiles(address, "credit")


def test_a_tile_service_is_always_credited() -> None:
    with pytest.raises(ValueError, match="wants to be named"):
        OnlineTiles("https://tiles.example.invalid/{z}/{x}/{y}.png", "  ")


def test_online_tiles_open_the_policy_for_one_host_only(invented) -> None:
    tiles = OnlineTiles("https://tiles.example.invalid/{z}/{x}/{y}.png", "credit")
    text = simplex_map(invented.simplex_network(), headline="One.", online=tiles)
    policy = policy_of(text)
    assert "img-src data: blob: https://tiles.example.invalid;" in policy
    assert "https:" not in policy.replace("https://tiles.example.invalid", "")

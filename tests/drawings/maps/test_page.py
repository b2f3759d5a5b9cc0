"""Escaping, inlining, and the page's frame."""

from __future__ import annotations

import hashlib
import json
import re

import folium
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.drawings.maps.net_map import repeater_map, simplex_map
from reach.drawings.maps.page import (
    OnlineTiles,
    leaflet_css,
    leaflet_js,
    page_cautions,
    script_json,
    script_string,
    shown,
)
from reach.drawings.style.cautions import CAUTIONS

ACTIVE = "&<>\"'`$\\{}"


@settings(deadline=None, max_examples=300)
@given(st.text())
def test_shown_text_reads_back_as_written_and_holds_nothing_active(text) -> None:
    safe = shown(text)
    assert re.sub(r"&#(\d+);", lambda m: chr(int(m[1])), safe) == text
    assert not set(re.sub(r"&#\d+;", "", safe)) & set(ACTIVE)


@settings(deadline=None, max_examples=300)
@given(st.text(st.characters(exclude_categories=["Cs"])))
def test_script_strings_read_back_as_written_and_cannot_leave_the_script(text) -> None:
    literal = script_string(text)
    assert json.loads(literal) == text
    assert not set(literal) & set("<>&{}") and literal.isascii()


TEXTS = st.text(st.characters(exclude_categories=["Cs"]))
PLAIN = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(2**53), 2**53) | st.booleans()
VALUES = st.recursive(
    st.none() | PLAIN | TEXTS,
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(TEXTS, inner, max_size=4),
    max_leaves=12,
)


@settings(deadline=None, max_examples=100)
@given(VALUES)
def test_script_json_reads_back(value) -> None:
    assert json.loads(script_json(value)) == value


def test_script_json_refuses_what_has_no_literal() -> None:
    with pytest.raises(TypeError, match="set has no script literal"):
        script_json([{1}])
    with pytest.raises(ValueError):
        script_json(float("nan"))


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
        policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1]
        assert "default-src 'none'" in policy and "unsafe-inline'; script" in policy
        assert "unsafe-inline" not in policy.split("script-src")[1].split(";")[0]
        bodies = re.findall(r"<script>(.*?)</script>", text, flags=re.DOTALL)
        assert len(bodies) == policy.count("'sha256-") == 3


def test_hash_in_the_policy_is_that_of_the_script(invented) -> None:
    import base64

    text = pages(invented)[0]
    body = re.findall(r"<script>(.*?)</script>", text, flags=re.DOTALL)[1]
    digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
    assert f"'sha256-{digest}'" in text


def test_every_page_carries_the_cautions(invented) -> None:
    for text in pages(invented):
        for sentence in CAUTIONS:
            assert shown(sentence) in text
    assert "power lines" in page_cautions() and "local rules prevail" in page_cautions()


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


def test_online_tiles_open_the_policy_for_one_host_only(invented) -> None:
    tiles = OnlineTiles("https://tiles.example.invalid/{z}/{x}/{y}.png", "credit")
    text = simplex_map(invented.simplex_network(), headline="One.", online=tiles)
    policy = re.search(r'Content-Security-Policy" content="([^"]+)"', text)[1]
    assert "img-src data: blob: https://tiles.example.invalid;" in policy
    assert "https:" not in policy.replace("https://tiles.example.invalid", "")

"""The map pages in a real browser, offline: nothing fetched, nothing of the users' text run, all works."""

from __future__ import annotations

import io
import re
from dataclasses import replace

import numpy as np
import pytest
from rasterio.io import MemoryFile

from reach.drawings.maps.net_map import repeater_map, simplex_map
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import CoverageOverlay, chance_classes
from tests.browser.waiting import wait_for_rest, wait_until

# Each runs, or breaks the page, at some entry point of the map library when it is not made harmless.
HOSTILE = (
    "<img src=x onerror=alert(1)>",
    "</script><script>alert(2)</script>",
    "`+alert(3)+`",
    "${alert(4)}",
    "back\\slash \\u003cb\\u003e",
    "{{ cycler.__init__.__globals__.os.getcwd() }}",
    "{% for x in y %}",
    "{# comment #}",
    "\"'><svg/onload=alert(5)>",
    "&lt;b&gt; &amp; &#60;",
    "<!-- <script> -->",
    '=HYPERLINK("http://example.invalid")',
    "line\u2028separator and \u2029",
    "0123456789abcdef0123456789abcdef",
)


@pytest.fixture(scope="module")
def relief(invented):
    return invented.relief()


@pytest.fixture(scope="module")
def simplex(invented):
    return invented.simplex_network()


def simplex_page(invented, simplex, relief, **more) -> str:
    return simplex_map(
        simplex, headline="QK3AHA leads.", relief=relief, marks=invented.plan_marks(simplex), **more
    )


def test_simplex_page_opens_offline_without_a_word(invented, simplex, relief, visit) -> None:
    seen = visit(simplex_page(invented, simplex, relief))
    assert seen.page.locator("h1").inner_text() == "QK3AHA leads."
    assert seen.page.locator(".leaflet-marker-icon").count() == len(simplex.call_signs)
    assert seen.page.locator(".leaflet-image-layer").count() == 1
    assert "emergency number first" in seen.page.locator("footer").inner_text()
    assert seen.troubles == []


def test_repeater_page_opens_offline_without_a_word(invented, relief, visit) -> None:
    network = invented.repeater_network()
    seen = visit(repeater_map(network, headline="Most get in.", relief=relief))
    # every member, the repeater itself and the internet-linked ones
    assert seen.page.locator(".leaflet-marker-icon").count() == len(network.members) + 1 + len(
        network.no_radio
    )
    assert "listen on 146.94 MHz, talk on 146.34 MHz" in seen.page.locator("header").inner_text()
    assert seen.troubles == []


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_is_shown_as_written_and_never_runs(invented, visit, text) -> None:
    network = invented.with_text(invented.simplex_network(invented.net(6)), text)
    marks = invented.plan_marks(network)
    marks = replace(marks, reasons=(text,))
    overlay = CoverageOverlay(text, np.ones((4, 4), dtype=np.uint8), invented.relief().box)
    page = simplex_map(network, headline=text, marks=marks, notes=(text,), overlays=(overlay,))
    seen = visit(page)
    # the browser folds white space and separators in flowing text, so compare what the elements hold
    assert seen.page.locator("h1").text_content() == text
    assert text in seen.page.locator("header").text_content()
    assert seen.page.locator("li:has(input[data-layer=overlay0]) span").first.text_content() == text
    row = seen.page.locator("button[data-station='0']")
    assert row.locator("b").text_content() == text
    row.click()
    assert seen.page.locator(".leaflet-popup h3").text_content() == f"{text}, {text}"
    assert seen.page.locator(".call").first.text_content() == text
    assert seen.page.locator(".leaflet-marker-icon").first.get_attribute("aria-label") == f"{text}, {text}"
    assert seen.page.title() == re.sub(r"[ \t\n\f\r]+", " ", f"{text}: simplex")
    assert seen.page.locator("img:not(.leaflet-image-layer), svg[onload]").count() == 0
    assert seen.troubles == []


def test_hostile_text_in_a_repeater_page(invented, visit) -> None:
    network = invented.repeater_network()
    hub = replace(network.repeater, name=HOSTILE[0], assumed=HOSTILE)
    seen = visit(repeater_map(replace(network, repeater=hub, warnings=HOSTILE), headline="Most get in."))
    seen.page.locator("button[data-station='0']").click()
    assert seen.page.locator(".leaflet-popup h3").text_content() == f"QK3RPT, {HOSTILE[0]}"
    assert "; ".join(HOSTILE) in seen.page.locator(".leaflet-popup-content").text_content()
    assert seen.page.locator("details li").all_text_contents() == list(HOSTILE)
    assert seen.troubles == []


def drawn_lines(page) -> int:
    return page.locator("path.link:not(.hidden)").count()


def test_legend_boxes_switch_their_layers(invented, simplex, relief, visit) -> None:
    page = visit(simplex_page(invented, simplex, relief)).page
    page.locator("input[data-only-chosen]").uncheck()
    everything = drawn_lines(page)
    clear = int(page.locator("li:has(input[data-layer=clear]) .count").inner_text())
    assert clear > 0
    page.locator("input[data-layer=clear]").uncheck()
    assert drawn_lines(page) == everything - clear
    page.locator("input[data-layer=clear]").check()
    assert drawn_lines(page) == everything
    weak = int(page.locator("li:has(input[data-layer=weak]) .count").inner_text())
    page.locator("input[data-layer=weak]").check()
    assert drawn_lines(page) == everything + weak
    page.locator("input[data-layer=relief]").uncheck()
    assert page.locator(".leaflet-image-layer").count() == 0
    page.locator("input[data-layer=names]").uncheck()
    assert page.locator(".call:visible").count() == 0


def test_every_switch_and_station_is_reached_by_keyboard(invented, simplex, visit) -> None:
    page = visit(simplex_page(invented, simplex, None)).page
    page.locator("input[data-layer=clear]").focus()
    page.keyboard.press("Space")
    assert not page.locator("input[data-layer=clear]").is_checked()
    page.locator("button[data-station='2']").focus()
    page.keyboard.press("Enter")
    assert page.locator(".leaflet-popup h3").inner_text().startswith(simplex.call_signs[2])
    page.keyboard.press("Escape")
    page.locator(".leaflet-marker-icon").nth(3).focus()
    page.keyboard.press("Enter")
    page.wait_for_selector(".leaflet-popup h3")
    assert simplex.call_signs[3] in page.locator(".leaflet-popup h3").last.inner_text()


def test_choosing_a_station_leaves_only_its_links_standing_out(invented, simplex, visit) -> None:
    page = visit(simplex_page(invented, simplex, None)).page
    page.locator("input[data-only-chosen]").uncheck()
    before = drawn_lines(page)
    page.locator("button[data-station='5']").click()
    faded = page.locator("path.link.faded").count()
    heard = simplex.margin_db[5] >= 0
    hears = simplex.margin_db[:, 5] >= 0
    expected = int((heard | hears).sum())  # every pair that works at least one way
    standing = page.locator("path.link:not(.faded)").count()
    assert faded < before
    assert expected <= standing <= expected + 8  # plan lines of that station come on top, two paths each


def test_a_click_on_a_line_says_both_directions(invented, visit) -> None:
    network = invented.repeater_network()
    page = visit(repeater_map(network, headline="Most get in.")).page
    member = max(network.members, key=lambda m: m.talk_in.distance_m if m.gets_in else 0.0)
    box = page.locator(f".leaflet-marker-icon[aria-label^='{member.call_sign}']").bounding_box()
    hub = page.locator(".leaflet-marker-icon[aria-label^='QK3RPT']").bounding_box()
    share = 0.72  # nearer the member, where few lines run side by side
    x = hub["x"] + hub["width"] / 2 + share * (box["x"] - hub["x"])
    y = hub["y"] + hub["height"] / 2 + share * (box["y"] - hub["y"])
    page.mouse.click(x, y)
    said = page.locator(".leaflet-popup-content").inner_text()
    assert f"{member.call_sign} hears QK3RPT" in said
    assert f"QK3RPT hears {member.call_sign}" in said
    assert "workable" in said and "dBm (S" in said


class Ridge:
    """Ground at 50 m with one sharp edge of 400 m across the middle of everything."""

    def sample(self, latitude_deg, longitude_deg):
        longitude = np.asarray(longitude_deg)
        return np.where(np.abs(longitude - longitude.mean()) < 0.004, 400.0, 50.0)


def test_a_click_on_a_line_shows_its_profile(invented, visit) -> None:
    network = invented.repeater_network()
    page = visit(repeater_map(network, headline="Most get in.", ground=Ridge())).page
    member = max(network.members, key=lambda m: m.talk_in.distance_m if m.gets_in else 0.0)
    box = page.locator(f".leaflet-marker-icon[aria-label^='{member.call_sign}']").bounding_box()
    hub = page.locator(".leaflet-marker-icon[aria-label^='QK3RPT']").bounding_box()
    x = hub["x"] + hub["width"] / 2 + 0.72 * (box["x"] - hub["x"])
    y = hub["y"] + hub["height"] / 2 + 0.72 * (box["y"] - hub["y"])
    page.mouse.click(x, y)
    drawn = page.locator(".leaflet-popup-content svg.profile")
    assert drawn.count() == 1
    assert "QK3RPT" in drawn.get_attribute("aria-label")
    assert member.call_sign in drawn.text_content()
    ground = [
        float(point.split(",")[1])
        for point in drawn.locator("polygon.ground").get_attribute("points").split(" ")[1:-1]
    ]
    assert min(ground) < 30 < max(ground)  # the edge stands out of the plain
    assert ground.index(min(ground)) == pytest.approx(len(ground) / 2, abs=4)


def test_a_shared_page_carries_no_profile(invented) -> None:
    network = invented.repeater_network()
    public = replace(network, net=replace(network.net, shared_square_m=2000.0))
    assert '"p": {' not in repeater_map(public, headline="Most.", ground=Ridge()).replace('"p":{', '"p": {')
    assert '"p": {' in repeater_map(network, headline="Most.", ground=Ridge()).replace('"p":{', '"p": {')


def test_stations_take_their_own_clicks_above_the_lines(invented, simplex, visit) -> None:
    page = visit(simplex_page(invented, simplex, None)).page
    view = page.evaluate("[map_net.getCenter(), map_net.getZoom()]")
    for index in (1, 7, 12):
        marker = page.locator(".leaflet-marker-icon").nth(index)
        call = simplex.call_signs[index]
        page.evaluate("view => map_net.setView(view[0], view[1], { animate: false })", view)  # all in sight
        wait_for_rest(page)
        marker.click()
        wait_until(
            page,
            "call => [...document.querySelectorAll('.leaflet-popup h3')].pop()?.textContent.startsWith(call)",
            given=call,
        )
        page.keyboard.press("Escape")
        wait_until(page, "() => document.querySelectorAll('.leaflet-popup').length === 0")


@pytest.mark.parametrize("size", [(1360, 860), (1024, 640), (420, 800)])
def test_nothing_lies_over_the_scale_bar(invented, simplex, relief, visit, size) -> None:
    page = visit(simplex_page(invented, simplex, relief), width=size[0], height=size[1]).page
    bar = page.locator(".leaflet-control-scale").bounding_box()
    page.evaluate("y => window.scrollTo(0, y)", max(0, bar["y"] - 200))
    covered = page.evaluate(
        """() => { const b = document.querySelector('.leaflet-control-scale').getBoundingClientRect();
            const hit = document.elementFromPoint(b.left + b.width / 2, b.top + b.height / 2);
            return !hit.closest('.leaflet-control-scale'); }"""
    )
    assert not covered
    assert page.evaluate("document.documentElement.scrollWidth") <= size[0]


def test_call_signs_keep_inside_a_narrow_window(invented, visit) -> None:
    few = invented.simplex_network(invented.net(13, 4), 5)
    page = visit(simplex_map(few, headline="Few."), width=420, height=800).page
    frame = page.locator("#map_net").bounding_box()
    for label in page.locator(".call:visible").all():
        box = label.bounding_box()
        assert frame["x"] <= box["x"] and box["x"] + box["width"] <= frame["x"] + frame["width"]


def test_the_stations_a_plan_is_built_on_are_always_named(invented, visit) -> None:
    crowded = invented.simplex_network(invented.net(90, 11))
    marks = invented.plan_marks(crowded)
    page = visit(simplex_map(crowded, headline="Many.", marks=marks)).page
    named = page.locator(".call:visible").all_text_contents()
    assert {marks.control, *marks.relays} <= set(named)


def test_what_was_assumed_opens_to_a_list(invented, simplex, visit) -> None:
    notes = ("Antenna height 9 m assumed for QK3AAD.", "Ground-wave only.")
    page = visit(simplex_page(invented, simplex, None, notes=notes)).page
    assert not page.get_by_text(notes[0]).is_visible()
    page.get_by_text("What was assumed (2)").click()
    assert page.get_by_text(notes[0]).is_visible() and page.get_by_text(notes[1]).is_visible()


def test_the_map_follows_its_window(invented, simplex, relief, visit) -> None:
    page = visit(simplex_page(invented, simplex, relief, notes=("Assumed.",) * 12)).page
    page.get_by_text("What was assumed (12)").click()
    page.wait_for_timeout(200)
    frame = page.locator("#map_net").bounding_box()
    known = page.evaluate("[map_net.getSize().x, map_net.getSize().y]")
    assert known == [round(frame["width"]), round(frame["height"])]
    page.locator("button[data-station='3']").click()
    h1 = page.locator("header").bounding_box()

    def card_is_below() -> bool:
        return page.locator(".leaflet-popup").bounding_box()["y"] >= h1["y"] + h1["height"] - 1

    for _ in range(50):  # the map may still be on its way there
        if card_is_below():
            break
        page.wait_for_timeout(100)
    assert card_is_below()


def test_arrow_heads_are_there_for_one_way_lines(invented, visit) -> None:
    network = invented.repeater_network()
    page = visit(repeater_map(network, headline="Most get in.")).page
    only = sum(1 for m in network.members if m.hears and not m.gets_in)
    assert only > 0
    assert page.locator("path.link[marker-end='url(#arrow-hears_only)']").count() == only
    assert page.locator("marker#arrow-hears_only").count() == 1


def test_call_signs_do_not_overlap_each_other(invented, visit) -> None:
    crowded = invented.simplex_network(invented.net(90, 11))
    page = visit(simplex_map(crowded, headline="Many.")).page
    boxes = page.evaluate(
        """() => [...document.querySelectorAll('.call')].filter(e => e.style.display !== 'none')
            .map(e => { const b = e.getBoundingClientRect(); return [b.left, b.top, b.right, b.bottom]; })"""
    )
    assert len(boxes) > 45
    for i, a in enumerate(boxes):
        for b in boxes[i + 1 :]:
            apart = a[2] <= b[0] + 1 or b[2] <= a[0] + 1 or a[3] <= b[1] + 1 or b[3] <= a[1] + 1
            assert apart, (a, b)


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_each_page_prints_on_one_sheet(invented, simplex, relief, visit, paper) -> None:
    pypdf = pytest.importorskip("pypdf")
    pages = (
        simplex_page(invented, simplex, relief, notes=("Heights of five stations were taken as 9 m.",) * 3),
        repeater_map(invented.repeater_network(), headline="Most get in.", relief=relief),
    )
    for text in pages:
        page = visit(text).page
        data = page.pdf(format=paper, print_background=True)
        sheets = pypdf.PdfReader(io.BytesIO(data)).pages
        assert len(sheets) == 1
        printed = sheets[0].extract_text()
        assert "emergency number" in printed and "Find a station" not in printed
        for call in simplex.call_signs[:3]:
            assert call in printed


def picture_of(page) -> np.ndarray:
    """The map as it shows, (3, rows, columns)."""
    with MemoryFile(page.locator("#map_net").screenshot()) as memory, memory.open() as source:
        return source.read([1, 2, 3])


@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_coverage_overlay_lies_where_it_says(invented, simplex, relief, visit) -> None:
    chance = np.linspace(0.0, 1.0, 60 * 80).reshape(60, 80)
    overlay = CoverageOverlay("handheld, in the hand, 5 W", chance_classes(chance), relief.box)
    page = visit(simplex_page(invented, simplex, relief, overlays=(overlay,))).page
    pictures = page.locator(".leaflet-image-layer")
    assert pictures.count() == 2
    a, b = pictures.nth(0).bounding_box(), pictures.nth(1).bounding_box()
    assert all(abs(a[key] - b[key]) < 1.0 for key in a)
    assert "likely: 9 in 10 and up" in page.locator(".panel").inner_text()
    shown = picture_of(page)
    page.locator("input[data-layer=overlay0]").uncheck()
    assert pictures.count() == 1
    hidden = picture_of(page)
    # the strongest class lies along the south: there the grey relief turns blue
    tint = (shown[2].astype(int) - shown[0]) - (hidden[2].astype(int) - hidden[0])
    assert tint[shown.shape[1] * 3 // 4].mean() > 40 and abs(tint[shown.shape[1] // 5].mean()) < 3


def test_online_tiles_are_asked_for_only_when_ticked(invented, simplex, relief, visit) -> None:
    tiles = OnlineTiles("https://tiles.example.invalid/{z}/{x}/{y}.png", "<b>credit</b>")
    seen = visit(simplex_page(invented, simplex, relief, online=tiles))
    assert len(seen.requests) == 1
    seen.page.locator("input[data-layer=online]").check()
    seen.page.wait_for_timeout(300)
    asked = seen.requests[1:]
    assert asked and all(url.startswith("https://tiles.example.invalid/") for url in asked)
    assert "<b>credit</b>" in seen.page.locator(".leaflet-control-attribution").inner_text()


def test_injected_script_would_still_be_stopped_by_the_policy(invented, simplex, visit) -> None:
    """Second line of defence: markup slipped past the escaping cannot run."""
    text = simplex_page(invented, simplex, None)
    broken = text.replace("<footer", "<img src=data:, onerror=alert(1)><script>alert(2)</script><footer", 1)
    seen = visit(broken)
    seen.page.wait_for_timeout(200)
    assert not any(trouble.startswith("dialog") for trouble in seen.troubles)
    assert any("Content Security Policy" in trouble for trouble in seen.troubles)


def test_two_hundred_stations_open_and_answer(invented, visit) -> None:
    big = invented.simplex_network(invented.net(200, 11))
    page = visit(simplex_map(big, headline="Two hundred.", marks=invented.plan_marks(big))).page
    assert page.locator(".leaflet-marker-icon").count() == 200
    page.locator("button[data-station='40']").click()
    assert big.call_signs[40] in page.locator(".leaflet-popup h3").inner_text()


def test_lines_of_a_big_net_are_made_when_they_are_to_be_seen(invented, visit) -> None:
    many = invented.simplex_network(invented.net(80, 4), 5)
    page = visit(simplex_map(many, headline="Many.")).page
    only = page.locator("input[data-only-chosen]")
    assert only.is_checked()
    page.locator("button[data-station='3']").click()
    wait_until(page, "() => document.querySelectorAll('path.link').length > 0")
    made = page.locator("path.link").count()
    only.uncheck()
    every = page.locator("path.link").count()
    assert 0 < made < every / 5
    assert page.locator("path.link.faded").count() >= every - 2 * made
    only.check()
    assert page.locator("path.link:not(.hidden)").count() == made

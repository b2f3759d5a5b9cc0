"""Pages and papers on the screens they are read on: nothing runs off, no call sign breaks, boxes in sight."""

from __future__ import annotations

import pytest

from reach.drawings.maps.net_map import simplex_map
from reach.drawings.papers.wall import WallCase, WallSheet
from reach.drawings.papers.wall_page import wall_page
from tests.browser.waiting import wait_until

SCREENS = [(1400, 950), (820, 1180), (390, 844)]
OFF = """() => [...document.querySelectorAll('body *')].filter(e => !e.closest('.leaflet-container'))
  .map(e => [e.tagName, e.getBoundingClientRect()])
  .filter(([_, r]) => r.width && (r.left < -1 || r.right > document.documentElement.clientWidth + 1))
  .map(([name, r]) => `${name} ${r.left} to ${r.right}`)"""
# texts of one word whose letters do not stand in one line
BROKEN = """() => [...document.querySelectorAll('table:first-of-type :is(td, th)')].filter(e => {
  const text = document.createRange(); text.selectNodeContents(e);
  return e.textContent && !/\\s/.test(e.textContent) && text.getClientRects().length > 1;
}).map(e => e.textContent)"""


def wall() -> WallSheet:
    rows = [
        ("A", "Nothing lost", "QK3WMW", "QK3WWM/P", "QK3RA", "24 of 24", ""),
        ("F", "QK3RA, QK3RB down, mains lost", "QK3WMW", "QK3WWM/P", "146.520 MHz simplex", "14 of 24",
         "at most 41 h, changes at 5.9 h"),
    ]  # fmt: skip
    return WallSheet(
        net="Saltmarsh Valley evening net",
        headline="The net goes on in both cases.",
        lacks=(),
        cases=tuple(WallCase(row, ("QK3WMW relays for QK3WWM/P on 146.520 MHz simplex.",)) for row in rows),
        channels=(("simplex, seventy centimetres", "446.000", "446.000", "none"),),
        made_from="Planned.",
    )


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_the_wall_sheet_is_read_at_every_width(any_browser, tmp_path, width: int, height: int) -> None:
    path = tmp_path / "wall.html"
    path.write_text(wall_page(wall()), encoding="utf-8")
    context = any_browser.new_context(offline=True, viewport={"width": width, "height": height})
    page = context.new_page()
    page.goto(path.as_uri())
    off, broken = page.evaluate(OFF), page.evaluate(BROKEN)
    box, words = (page.locator(name).bounding_box() for name in (".danger", ".danger b"))
    context.close()
    assert off == [] and broken == []
    assert words["x"] + words["width"] <= box["x"] + box["width"]


@pytest.mark.parametrize(("width", "height"), SCREENS)
def test_a_station_chosen_in_the_list_opens_its_box_in_sight(
    invented, visit, width: int, height: int
) -> None:
    network = invented.simplex_network()
    page = visit(simplex_map(network, headline="QK3AHA leads."), width=width, height=height).page
    for button in page.locator("button[data-station]").all()[::7]:
        button.click()
        wait_until(page, "() => document.querySelectorAll('.leaflet-popup').length === 1")
        page.wait_for_timeout(350)  # the map moves under the box
        box = page.locator(".leaflet-popup").bounding_box()
        assert box["x"] >= 0 and box["x"] + box["width"] <= width
        assert box["y"] >= 0 and box["y"] + box["height"] <= height
    assert page.evaluate(OFF) == []

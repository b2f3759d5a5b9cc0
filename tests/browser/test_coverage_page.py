"""The coverage page in a real browser."""

from __future__ import annotations

import math

import numpy as np

from reach.drawings.maps.coverage_map import coverage_map
from reach.drawings.maps.picture import CoverageOverlay, chance_classes


def test_coverage_page_shows_sites_layers_and_who_stands_inside(invented, visit) -> None:
    net, relief = invented.net(), invented.relief()
    chance = np.tile(np.linspace(1.0, 0.0, 90), (60, 1))
    overlays = tuple(
        CoverageOverlay(name, chance_classes(chance), relief.box)
        for name in ("handheld, in the hand, 5 W", "mobile, <b>50 W</b>")
    )
    calls = [s.call_sign for s in net.stations]
    chances = {calls[0]: 0.93, calls[1]: 0.12, calls[2]: math.nan}
    seen = visit(
        coverage_map(
            net,
            sites=net.repeaters,
            overlays=overlays,
            headline="Half.",
            member_chance=chances,
            relief=relief,
        )
    )
    page = seen.page
    assert page.locator(".leaflet-marker-icon").count() == len(net.stations) + 1
    assert page.locator(".leaflet-image-layer").count() == 2  # relief and the first layer only
    page.locator("input[data-layer=overlay1]").check()
    assert page.locator(".leaflet-image-layer").count() == 3
    status = {
        button.locator("b").inner_text(): button.locator("span").inner_text()
        for button in page.locator("button[data-station]").all()
    }
    assert status["QK3RPT"] == "site"
    assert status[calls[0]] == "almost sure: 19 in 20" and status[calls[1]] == "unlikely: 1 in 10"
    assert status[calls[2]] == "ground not known"
    assert page.locator("button .attention").count() == 1
    assert "outside the coverage" in page.locator(".panel").inner_text()
    assert "mobile, <b>50 W</b>" in page.locator(".panel").inner_text()
    assert page.locator("path.link").count() == 0
    page.locator("button[data-station]", has_text=calls[3]).click()
    assert "Beyond the area" in page.locator(".leaflet-popup").inner_text()
    assert seen.troubles == []

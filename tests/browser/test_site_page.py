"""The pages of a site search in a real browser."""

from __future__ import annotations

import numpy as np

from reach.drawings.maps.picture import CoverageOverlay
from reach.drawings.maps.site_map import site_map, spot_map
from reach.drawings.style.palette import BLUES, ChanceStep
from reach.links.network import DirectedLink
from reach.plans.sites.nearest_spot import NearestSpot
from reach.plans.sites.portable_sites import Site
from reach.plans.sites.site_links import SiteLink, SiteLinks
from reach.stations import Position

NASTY = "a relay <img src=x onerror=alert(1)> {{ 7 * 7 }} `${1}` </script>"


def link(tx: str, rx: str, margin_db: float) -> DirectedLink:
    return DirectedLink(tx, rx, 146.52, 9000.0, 10.0, 120.0, -95.0, margin_db, 0.9, True, 1.2)


def site(name: str, position: Position, calls: list[str], margins: list[float]) -> SiteLinks:
    links = tuple(
        SiteLink(call, link(call, name, m), link(name, call, m + 1.0), m >= 0.0, 0.9)
        for call, m in zip(calls, margins, strict=True)
    )
    return SiteLinks(Site(7, position, 310.0, tuple(calls), len(calls), 3.0), name, links, (), ())


def test_sites_links_and_counts_are_shown_and_text_stays_text(invented, visit) -> None:
    net, relief = invented.net(), invented.relief()
    calls = [s.call_sign for s in net.stations if s.has_radio_path][:3]
    here, there = net.stations[0].position, net.stations[1].position
    steps = (ChanceStep(0.5, BLUES[4], 0.6, "1 member"), ChanceStep(1.0, BLUES[7], 0.6, "2 members"))
    overlay = CoverageOverlay(NASTY, np.tile(np.arange(3, dtype=np.uint8), (30, 10)), relief.box, steps)
    seen = visit(
        site_map(
            net,
            [
                site(
                    "site 1", Position(here.latitude_deg + 0.02, here.longitude_deg), calls, [12.0, 1.0, -4.0]
                )
            ],
            others=[
                site(
                    "alternative 1",
                    Position(there.latitude_deg, there.longitude_deg + 0.03),
                    calls[:1],
                    [2.0],
                )
            ],
            headline=NASTY,
            missed=[calls[2]],
            overlays=[overlay],
            first="Portable relay.",
            relief=relief,
        )
    )
    page = seen.page
    assert page.locator(".leaflet-marker-icon").count() == len(net.stations) + len(net.repeaters) + 2
    assert page.locator("path.link:not(.rim)").count() == 2  # the one that misses is not drawn
    assert page.locator("h1").inner_text() == NASTY
    panel = page.locator(".panel").inner_text()
    assert NASTY in panel and "2 members" in panel
    assert "filled diamond: place to go" in panel and "hollow diamond: place instead" in panel
    status = {
        button.locator("b").inner_text(): button.locator("span").inner_text()
        for button in page.locator("button[data-station]").all()
    }
    assert status["site 1"] == "works 2" and status["alternative 1"] == "would work 1"
    assert status[calls[0]] == "site 1" and status[calls[2]] == "no site"
    assert page.locator("button .attention").count() == 1
    assert seen.troubles == []


def test_the_spot_page(invented, visit) -> None:
    net = invented.net()
    who = next(s for s in net.stations if s.has_radio_path)
    place = Position(who.position.latitude_deg + 0.03, who.position.longitude_deg)
    spot = NearestSpot(net.repeaters[0].call_sign, place, 120.0, 3300.0, 0.0, 2.5)
    seen = visit(
        spot_map(net, who.call_sign, [spot], hubs=net.repeaters[:1], headline=NASTY, overlays=[], relief=None)
    )
    page = seen.page
    assert page.locator(".leaflet-marker-icon").count() == 3
    assert page.locator("h1").inner_text() == NASTY
    page.locator("button[data-station]", has_text="to ").click()
    assert "3.3 km" in page.locator(".leaflet-popup").inner_text()
    assert seen.troubles == []

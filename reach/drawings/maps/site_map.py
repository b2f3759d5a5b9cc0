"""The pages of a search for portable-relay sites: where to put one, and where to drive to."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.answers.share import audience_words
from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import MemberLayer
from reach.drawings.maps.map_page import map_page
from reach.drawings.maps.map_parts import LinkLayer, MapContent, MapLink, MapStation
from reach.drawings.maps.map_stations import (
    QUIET,
    dot,
    equipment_lines,
    mast_dot,
    no_radio_dots,
    not_on_the_map,
    path_words,
    place_dot,
    title_of,
)
from reach.drawings.maps.overlays import laid_overlay
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import CoverageOverlay, MapPicture
from reach.drawings.style.palette import BLUES, GRADE_LINES, ChanceStep
from reach.drawings.style.symbols import Mark, Symbol
from reach.drawings.style.words import distance_words, grade_words, link_words
from reach.inputs.locators import coordinates
from reach.links.grade import Grade
from reach.links.sayings import margin_in_words
from reach.plans.sites.nearest_spot import COMFORTABLE_DB, NearestSpot
from reach.plans.sites.site_links import SiteLinks
from reach.stations import Net, Position, Repeater, Station

_FILLS = ((BLUES[2], 0.55), (BLUES[4], 0.55), (BLUES[5], 0.6), (BLUES[7], 0.6), (BLUES[8], 0.75))
_COUNTED = (Grade.CLEAR, Grade.SOLID, Grade.WORKABLE)


def count_overlay(layer: MemberLayer) -> CoverageOverlay:
    """How many members a site in each cell reaches, in up to five steps of one hue."""
    most = int(layer.count.max(initial=0))
    starts = sorted({max(1, math.ceil(most * share)) for share in (0.2, 0.4, 0.6, 0.8, 1.0)})
    steps = []
    for number, first in enumerate(starts):
        last = starts[number + 1] - 1 if number + 1 < len(starts) else most
        words = f"{first} members" if first == last else f"{first} to {last} members"
        if first == last == 1:
            words = "1 member"
        fill, opacity = _FILLS[len(_FILLS) - len(starts) + number]
        steps.append(ChanceStep(first / max(most, 1), fill, opacity, words))
    classes = np.zeros(layer.count.shape, dtype=np.uint8)
    for number, first in enumerate(starts, start=1):
        classes[layer.count >= first] = number
    total = len(layer.call_signs)
    return _overlay(layer.grid, classes, f"how many of {total} members a relay here works", tuple(steps))


def entry_overlay(
    grid: SearchGrid, candidates: Candidates, spare_db: NDArray[np.float32], hub: str
) -> CoverageOverlay:
    """From which candidate cells someone gets into a hub: enough, and enough with 6 dB to spare."""
    steps = (
        ChanceStep(0.0, BLUES[4], 0.6, "gets in"),
        ChanceStep(0.5, BLUES[7], 0.6, f"gets in with {COMFORTABLE_DB:g} dB to spare"),
    )
    classes = (spare_db >= 0.0).astype(np.uint8) + (spare_db >= COMFORTABLE_DB).astype(np.uint8)
    classes[~candidates.mask] = 0
    return _overlay(grid, classes, f"gets into {hub} from here", steps)


def _overlay(
    grid: SearchGrid, classes: NDArray[np.uint8], name: str, steps: tuple[ChanceStep, ...]
) -> CoverageOverlay:
    return laid_overlay(classes, crs=grid.crs, transform=grid.transform, name=name, steps=steps)


def site_map(
    net: Net,
    sites: Sequence[SiteLinks],
    *,
    others: Sequence[SiteLinks] = (),
    headline: str,
    missed: Sequence[str],
    overlays: Sequence[CoverageOverlay],
    first: str,
    relief: MapPicture | None = None,
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
    online: OnlineTiles | None = None,
) -> str:
    """Sites and whom each works as one HTML page.

    others : sites that would do instead, drawn without links. missed : wanted members no site links, shown
    as cut off. first : what the map is of, under the headline.
    Raises : ValueError without a site.
    """
    if not sites:
        raise ValueError("a map of sites needs at least one site")
    served = {link.call_sign for site in sites for link in site.links if link.works}
    stations = [_site_dot(site) for site in sites]
    place = {}
    for member in net.stations:
        place[member.call_sign] = len(stations)
        if not member.has_radio_path:
            stations += no_radio_dots(member)
            continue
        by = [site.name for site in sites if member.call_sign in site.works]
        lines = [f"Works {', '.join(by)}." if by else "Works none of these sites.", *equipment_lines(member)]
        mark = Mark.CUT_OFF if member.call_sign in missed and member.call_sign not in served else Mark.MEMBER
        status = ", ".join(by) if by else "no site"
        stations.append(dot(member, mark, title_of(member.call_sign, member.name), lines, status))
    stations += [_repeater_dot(repeater) for repeater in net.repeaters]
    stations += [_other_dot(site) for site in others]
    links = []
    for number, site in enumerate(sites):
        for link in site.links:
            if not link.works:
                continue
            grade = link.weaker.grade if link.weaker.grade in _COUNTED else Grade.WORKABLE
            way = link.talk_out
            links.append(
                MapLink(
                    number,
                    place[link.call_sign],
                    grade.name.lower(),
                    link_words(link.talk_out),
                    link_words(link.talk_in),
                    path_words(way.distance_m, way.line_of_sight, way.fresnel_clearance),
                )
            )
    layers = [
        LinkLayer(grade.name.lower(), grade_words(grade), GRADE_LINES[grade], opacity=0.8)
        for grade in _COUNTED
    ]
    return map_page(
        MapContent(
            title=f"{net.name}: sites for a portable relay",
            headline=headline,
            audience=audience_words(net),
            first=first,
            notes=[*notes, *not_on_the_map(net)],
            warnings=warnings,
            stations=stations,
            links=links,
            layers=layers,
            links_title="Links of the sites, by the weaker direction",
            overlays=overlays,
        ),
        relief=relief,
        online=online,
    )


def spot_map(
    net: Net,
    who: str,
    spots: Sequence[NearestSpot],
    *,
    hubs: Sequence[Station | Repeater],
    headline: str,
    overlays: Sequence[CoverageOverlay],
    relief: MapPicture | None = None,
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
    online: OnlineTiles | None = None,
) -> str:
    """Where one member can drive to, as one HTML page. Raises : KeyError for an unknown member."""
    stations = []
    for spot in spots:
        lines = [f"{spot.hub} from here: {margin_in_words(spot.spare_db)}.", f"{QUIET}{_place(spot)}"]
        stations.append(
            _proposed(f"to {spot.hub}", spot.position, f"Nearest spot for {spot.hub}", lines, "go here")
        )
    seeker = net.station(who)
    stations.append(
        dot(
            seeker,
            Mark.CUT_OFF,
            title_of(seeker.call_sign, seeker.name),
            equipment_lines(seeker),
            "starts here",
        )
    )
    for hub in hubs:
        if isinstance(hub, Repeater):
            stations.append(_repeater_dot(hub))
        else:
            stations.append(
                dot(hub, Mark.CONTROL, title_of(hub.call_sign, hub.name), equipment_lines(hub), "")
            )
    return map_page(
        MapContent(
            title=f"{net.name}: where {who} can go",
            headline=headline,
            audience=audience_words(net),
            first=f"Places from which {who} gets in.",
            notes=[*notes, *not_on_the_map(net)],
            warnings=warnings,
            stations=stations,
            overlays=overlays,
        ),
        relief=relief,
        online=online,
    )


def _place(spot: NearestSpot) -> str:
    return f"{distance_words(spot.distance_m)} from home; ground {spot.elevation_m:.0f} m above sea level"


def _site_dot(site: SiteLinks) -> MapStation:
    lines = [
        f"Works {len(site.works)} both ways: {', '.join(site.works)}." if site.works else "Works nobody.",
        f"{QUIET}{coordinates(site.site.position)}; ground {site.site.elevation_m:.0f} m above sea level",
    ]
    status = f"works {len(site.works)}"
    return _proposed(site.name, site.site.position, site.name.capitalize(), lines, status)


def _other_dot(site: SiteLinks) -> MapStation:
    place = site.site.position
    lines = [f"Instead: works {len(site.works)}: {', '.join(site.works)}.", f"{QUIET}{coordinates(place)}"]
    symbol = Symbol(Mark.ALTERNATIVE)
    status = f"would work {len(site.works)}"
    return place_dot(site.name, place, symbol, site.name.capitalize(), lines, status)


def _proposed(name: str, position: Position, title: str, lines: Sequence[str], status: str) -> MapStation:
    return place_dot(name, position, Symbol(Mark.PROPOSED), title, lines, status)


def _repeater_dot(repeater: Repeater) -> MapStation:
    return mast_dot(repeater, Mark.REPEATER, (), "repeater")

"""The coverage page: where a named kind of station is heard, and which members stand inside."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

from reach.answers.share import audience_words
from reach.drawings.maps.map_page import map_page
from reach.drawings.maps.map_parts import MapContent, MapStation
from reach.drawings.maps.map_stations import (
    dot,
    equipment_lines,
    mast_dot,
    no_radio_dots,
    not_on_the_map,
    title_of,
)
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import CoverageOverlay, MapPicture, MercatorBox
from reach.drawings.style.symbols import Mark
from reach.links.sayings import chance_in_words
from reach.stations import Net, Repeater, Station

SERVED_FROM_CHANCE = 0.5  # the median station: as the first step of the coverage colours


def coverage_map(
    net: Net,
    *,
    sites: Sequence[Station | Repeater],
    overlays: Sequence[CoverageOverlay],
    headline: str,
    member_chance: Mapping[str, float] | None = None,
    relief: MapPicture | None = None,
    notes: Sequence[str] = (),
    warnings: Sequence[str] = (),
    frame: MercatorBox | None = None,
    online: OnlineTiles | None = None,
) -> str:
    """Coverage of one or more sites as one HTML page.

    sites : where the coverage is from, drawn as masts; overlays : coverage layers, the first one switched on.
    member_chance : call sign -> chance 0..1 of a station of that kind at the member's place; NaN where the
        ground is not known. Members not in it are drawn plain.
    frame : shown besides the stations. Other arguments as for the net maps.
    Raises : ValueError without a site.
    """
    if not sites:
        raise ValueError("a coverage map needs at least one site")
    chances = member_chance or {}
    otherwise = "" if member_chance is None else "beyond the area"
    own = {site.call_sign for site in sites}
    stations = [_site(site) for site in sites]
    for station in net.stations:
        if station.call_sign in own:
            continue
        if station.has_radio_path:
            stations.append(_member(station, chances.get(station.call_sign), otherwise=otherwise))
        else:
            stations += no_radio_dots(station)
    names = ", ".join(site.call_sign for site in sites)
    return map_page(
        MapContent(
            title=f"{net.name}: coverage of {names}",
            headline=headline,
            audience=audience_words(net),
            first=f"Coverage of {names}: {'; '.join(overlay.name for overlay in overlays)}.",
            notes=[*notes, *not_on_the_map(net)],
            warnings=warnings,
            stations=stations,
            overlays=overlays,
            frame=frame,
        ),
        relief=relief,
        online=online,
    )


def _site(site: Station | Repeater) -> MapStation:
    return mast_dot(site, Mark.SITE, ["Coverage is from here."], "site")


def _member(station: Station, chance: float | None, *, otherwise: str) -> MapStation:
    title = title_of(station.call_sign, station.name)
    if chance is None:
        said = ["Beyond the area that was looked at."] if otherwise else []
        return dot(station, Mark.MEMBER, title, [*said, *equipment_lines(station)], otherwise)
    if math.isnan(chance):
        lines = ["The ground here is not known: no tile covers it.", *equipment_lines(station)]
        return dot(station, Mark.MEMBER, title, lines, "ground not known")
    served = chance >= SERVED_FROM_CHANCE
    words = chance_in_words(chance)
    lines = [f"Such a station at this place works {words}.", *equipment_lines(station)]
    mark = Mark.MEMBER if served else Mark.OUTSIDE
    return dot(station, mark, title, lines, words)

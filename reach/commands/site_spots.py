"""The nearest spot a member can drive to and get in from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reach.commands.net_folder import open_terrain
from reach.commands.options import deliver, progress_bar, say, speaks_text
from reach.commands.results import NetAnswer, assumed_in_short, assumed_notes, said_once
from reach.commands.site_options import AskedArea, Outputs, read_area
from reach.commands.site_search import check_over_tiles
from reach.drawings.style.cautions import VISIT
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.club import read_net
from reach.inputs.lookup import find_channel, find_party, find_station
from reach.inputs.planning import read_planning
from reach.inputs.portable_kit import kit_words, taken_along
from reach.stations import Net, Repeater, Station


@dataclass(frozen=True)
class SpotsAnswer:
    """The JSON of a search for a spot."""

    headline: str
    member: str
    equipment: str
    threshold: str
    searched_within: str
    spots: Any


def find_spots(
    folder: Path, seeker: str, into: Sequence[str], channel_name: str | None, asked_area: AskedArea,
    outputs: Outputs,
) -> None:  # fmt: skip
    """Search, deliver, say. Raises : ReachError of every kind the parts raise."""
    from reach.coverage.area.service import repeater_hub, station_hub
    from reach.coverage.search.grid import candidate_cells, search_grid
    from reach.coverage.search.member_layer import SearchModel, spare_cells
    from reach.coverage.sweep.grid import opened_land_cover
    from reach.drawings.exports.machine import json_text
    from reach.plans.relays.rules import rules_of
    from reach.plans.sites.nearest_spot import nearest_spots

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    channel = find_channel(net, channel_name)
    member = find_station(net, seeker)
    area = read_area(asked_area, net, home=member.position, home_name=member.call_sign)
    parties = _parties(net, member, into)
    kit = taken_along(member)
    hubs = [
        repeater_hub(party, net) if isinstance(party, Repeater) else station_hub(party, channel, net)
        for party in parties
    ]
    with open_terrain(net) as terrain:
        check_over_tiles(area, terrain)
        with opened_land_cover(net.land_cover, net.clutter_heights_m) as land_cover:
            grid = search_grid(
                terrain,
                outline=area.outline,
                margin_m=area.margin_m,
                members=[member.position, *(party.position for party in parties)],
                cell_m=area.cell_m,
                land_cover=land_cover,
            )
        candidates = candidate_cells(grid, area.limits)
        spare_db = {}
        with progress_bar("sweeps") as progress:
            for number, hub in enumerate(hubs, start=1):
                spare_db[hub.call_sign] = spare_cells(
                    grid,
                    hub,
                    kit,
                    rules.threshold,
                    net_noise=net.noise,
                    k_factor=net.k_factor,
                    how=SearchModel.of(net),
                )
                progress(number, len(hubs))
        spots = nearest_spots(grid, candidates, spare_db, member.position)
        if not spots:
            raise NoPlan(_nothing(member, parties, area.limits, kit))
        headline = _headline(member, spots, parties)
        warnings = said_once(net.warnings, planning.warnings, terrain.warnings)
        basis = _basis(kit, rules.threshold.words, area.cell_m)
        notes = (*basis, *assumed_notes(net, parties))
        if outputs.map_file is not None:
            from reach.drawings.maps.ground import relief_around
            from reach.drawings.maps.site_map import entry_overlay, spot_map

            places = [member.position, *(p.position for p in parties), *(spot.position for spot in spots)]
            page = spot_map(
                net,
                member.call_sign,
                spots,
                hubs=parties,
                headline=headline,
                overlays=[entry_overlay(grid, candidates, spare_db[spot.hub], spot.hub) for spot in spots],
                relief=relief_around(terrain, places),
                notes=notes,
                warnings=warnings,
                online=outputs.online,
            )
            deliver(page, outputs.map_file, existing=outputs.existing)
    from reach.drawings.exports.waypoints import gpx_text
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.terminal import answer, notes_text

    deliver(gpx_text(_waypoints(spots), title=headline), outputs.gpx_file, existing=outputs.existing)
    within = " and ".join(f"{place.distance_m:g} m of {place.name}" for place in area.limits.around)
    result = SpotsAnswer(headline, member.call_sign, kit_words(kit), rules.threshold.words, within, spots)
    text = json_text(NetAnswer(net.name, result, notes, warnings))
    deliver(text, outputs.json_file, existing=outputs.existing)
    deliver(_csv(member, spots), outputs.csv_file, existing=outputs.existing)
    if speaks_text(outputs.map_file, outputs.gpx_file, outputs.json_file, outputs.csv_file):
        in_short = (*basis, *assumed_in_short(net, parties))
        say(answer(headline), notes_text([""]), _table(spots), notes_text(["", *warnings, *in_short, SHORT]))


def _parties(net: Net, member: Station, into: Sequence[str]) -> tuple[Station | Repeater, ...]:
    """Whom to get into: those named, else every repeater. Raises : InputProblem."""
    if not member.has_radio_path:
        raise InputProblem(
            Fault(f"{member.call_sign} is linked over the internet and has no radio path", "name another")
        )
    if not into and not net.repeaters:
        raise InputProblem(Fault(f"{net.name} has no repeater", "name a member to get into with --into"))
    found = tuple(find_party(net, call) for call in dict.fromkeys(call.strip().upper() for call in into))
    for party in found:
        if isinstance(party, Station) and not party.has_radio_path:
            raise InputProblem(Fault(f"{party.call_sign} has no radio path", "name another after --into"))
        if party.call_sign == member.call_sign:
            raise InputProblem(
                Fault(f"{member.call_sign} cannot get into itself", "name another after --into")
            )
    return found or net.repeaters


def _nothing(member: Station, parties: Sequence[Station | Repeater], limits: Any, kit: Station) -> str:
    asked = " and ".join(f"{place.distance_m / 1000.0:g} km of {place.name}" for place in limits.around)
    return (
        f"within {asked} no cell lets {member.call_sign} ({kit_words(kit)}) into "
        f"{' or '.join(party.call_sign for party in parties)}; give a greater --within, another --into, or "
        "relax the other limits."
    )


def _headline(member: Station, spots: Any, parties: Sequence[Station | Repeater]) -> str:
    from reach.drawings.maps.site_map import coordinates
    from reach.inputs.locators import locator_of

    best = spots[0]
    if best.distance_m < 50.0:
        start = f"{member.call_sign} gets into {best.hub} from home, outdoors with what can be taken along"
    else:
        start = (
            f"{member.call_sign} gets into {best.hub} from {best.distance_m / 1000.0:.1f} km "
            f"{_compass(best.bearing_deg)} of home, "
            f"at {coordinates(best.position)} ({locator_of(best.position, characters=8)})"
        )
    others = [f"into {spot.hub} from {spot.distance_m / 1000.0:.1f} km" for spot in spots[1:]]
    met = {spot.hub for spot in spots}
    others += [f"nowhere in reach into {party.call_sign}" for party in parties if party.call_sign not in met]
    return f"{start}{'; ' + ', '.join(others) if others else ''}."


def _compass(bearing_deg: float) -> str:
    """'north-east' and the like, one of eight."""
    names = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return names[round(bearing_deg / 45.0) % 8]


def _basis(kit: Station, threshold: str, cell_m: float) -> tuple[str, ...]:
    return (
        f"With {kit_words(kit)}, standing still outdoors; a link counts at {threshold}. Distances "
        "are straight lines: the way by road is longer.",
        f"Cells of {cell_m:g} m, delta-Bullington (ITU-R P.526) over bare ground: trees and houses "
        "near the spot cost more. Where there is a choice take the spot with 6 dB to spare.",
        f"{VISIT} Stop only where it is safe and allowed; never transmit while driving in "
        "traffic you must watch.",
    )


def _waypoints(spots: Any) -> list[Any]:
    from reach.drawings.exports.waypoints import Waypoint

    found = []
    for spot in spots:
        found.append(Waypoint(spot.position, f"to {spot.hub}", _says(spot), spot.elevation_m))
        if spot.comfortable is not None and spot.comfortable.position != spot.position:
            roomy = spot.comfortable
            found.append(
                Waypoint(roomy.position, f"to {spot.hub}, 6 dB more", _says(roomy), roomy.elevation_m)
            )
    return found


def _says(spot: Any) -> str:
    return (
        f"Nearest spot for {spot.hub}, {spot.distance_m / 1000.0:.1f} km. Prediction only: test on the air."
    )


def _table(spots: Any) -> Any:
    from reach.drawings.maps.site_map import coordinates
    from reach.drawings.style.words import signed
    from reach.drawings.tables.terminal import quiet_table
    from reach.inputs.locators import locator_of

    rows = []
    for spot in spots:
        for kind, place in (("nearest", spot), ("with 6 dB to spare", spot.comfortable)):
            if place is not None:
                rows.append(
                    (
                        spot.hub,
                        kind,
                        f"{place.distance_m / 1000.0:.2f}",
                        f"{place.bearing_deg:.0f}°",
                        coordinates(place.position),
                        locator_of(place.position, characters=8),
                        f"{place.elevation_m:.0f}",
                        signed(place.spare_db, 1),
                    )
                )
    columns = (
        ("into", "left"), ("spot", "left"), ("km", "right"), ("bearing", "right"),
        ("latitude, longitude", "left"), ("locator", "left"), ("ground m", "right"), ("spare dB", "right"),
    )  # fmt: skip
    return quiet_table("Where to drive to", columns, rows)


def _csv(member: Station, spots: Any) -> str:
    from reach.drawings.exports.machine import csv_text
    from reach.inputs.locators import locator_of

    rows = [
        (
            member.call_sign,
            spot.hub,
            kind,
            place.position.latitude_deg,
            place.position.longitude_deg,
            locator_of(place.position, characters=8),
            round(place.elevation_m, 1),
            place.distance_m / 1000.0,
            place.bearing_deg,
            place.spare_db,
        )
        for spot in spots
        for kind, place in (("nearest", spot), ("6 dB to spare", spot.comfortable))
        if place is not None
    ]
    columns = (
        "station", "into", "spot", "latitude_deg", "longitude_deg", "locator", "elevation_m", "distance_km",
        "bearing_deg", "spare_db",
    )  # fmt: skip
    return csv_text(rows, columns)

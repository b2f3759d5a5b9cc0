"""What `reach sites` was asked for: the area and where the results go, as typed and as read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from reach.errors import Fault, InputProblem
from reach.files import Existing
from reach.inputs.locators import parse_position
from reach.inputs.lookup import find_party
from reach.inputs.search_area import (
    GeoPolygon,
    parse_distance_m,
    parse_elevation_m,
    parse_slope_deg,
    read_polygons,
)
from reach.stations import Net, Position

if TYPE_CHECKING:
    from reach.coverage.search.grid import SiteLimits
    from reach.drawings.maps.page import OnlineTiles

DEFAULT_WITHIN = "10 km"
BEYOND_MEMBERS_M = 3_000.0
Value = TypeVar("Value")


@dataclass(frozen=True)
class Outputs:
    """Where the results go. online : a tile service for the map."""

    map_file: str | None
    gpx_file: str | None
    json_file: str | None
    csv_file: str | None
    existing: Existing
    online: OnlineTiles | None = None


@dataclass(frozen=True)
class AskedArea:
    """The area as typed."""

    near: str | None
    within: str | None
    inside: Path | None
    outside: Path | None
    lowest: str | None
    highest: str | None
    steepest: str | None
    resolution: str


@dataclass(frozen=True)
class SearchArea:
    """The area as read. outline, margin_m : the box to search; limits : where in it a site may stand."""

    outline: tuple[Position, ...]
    margin_m: float
    limits: SiteLimits
    cell_m: float


def read_area(asked: AskedArea, net: Net, *, home: Position | None = None, home_name: str = "") -> SearchArea:
    """The area to search; home : where a member who wants to drive starts from.

    Raises : InputProblem with everything wrong with the options at once.
    """
    from reach.coverage.search.grid import Around, SiteLimits

    faults: list[Fault] = []

    def read(text: str | None, option: str, parse: Callable[[str], Value]) -> Value | None:
        if text is None:
            return None
        try:
            return parse(text)
        except InputProblem as problem:
            faults.extend(replace(fault, key=fault.key or option) for fault in problem.faults)
            return None

    def polygons(path: Path | None) -> tuple[GeoPolygon, ...]:
        if path is None:
            return ()
        try:
            return read_polygons(path)
        except InputProblem as problem:
            faults.extend(problem.faults)
            return ()

    centre, name = home, home_name
    if asked.near is not None:
        centre, name = read(asked.near, "--near", lambda text: _place(net, text)), asked.near.strip()
    within = asked.within
    if within is None and centre is not None:
        within = DEFAULT_WITHIN
    within_m = read(within, "--within", parse_distance_m)
    if asked.within is not None and centre is None and asked.near is None:
        faults.append(
            Fault("--within needs a place", "add --near with a call sign, a locator or coordinates")
        )
    cell_m = read(asked.resolution, "--resolution", parse_distance_m)
    inside, outside = polygons(asked.inside), polygons(asked.outside)
    lowest_m = read(asked.lowest, "--lowest", parse_elevation_m)
    highest_m = read(asked.highest, "--highest", parse_elevation_m)
    steepest_deg = read(asked.steepest, "--steepest", parse_slope_deg)
    if lowest_m is not None and highest_m is not None and lowest_m > highest_m:
        faults.append(
            Fault(f"--lowest {asked.lowest} is above --highest {asked.highest}", "exchange the two")
        )
    if faults:
        raise InputProblem(faults)
    assert cell_m is not None
    around = () if centre is None or within_m is None else (Around(centre, within_m, name),)
    limits = SiteLimits(around, inside, outside, lowest_m, highest_m, steepest_deg)
    outline, margin_m = _box(net, limits)
    return SearchArea(outline, margin_m, limits, cell_m)


def _place(net: Net, text: str) -> Position:
    """A member or repeater by call sign, else a position."""
    calls = {station.call_sign for station in net.stations} | {r.call_sign for r in net.repeaters}
    if text.strip().upper() in calls:
        return find_party(net, text).position
    try:
        return parse_position(text)
    except InputProblem:
        raise InputProblem(
            Fault(f'"{text}" is neither a call sign of {net.name} nor a position',
                  "write a call sign, a locator such as FM18lw76, or latitude, longitude")
        ) from None  # fmt: skip


def _box(net: Net, limits: SiteLimits) -> tuple[tuple[Position, ...], float]:
    """The smallest box that holds everything the limits allow: a circle's, the polygons', the members'."""
    if limits.around:
        # a polygon as well is cut from the circle's box
        return (limits.around[0].position,), limits.around[0].distance_m
    if limits.inside:
        return tuple(Position(lat, lon) for p in limits.inside for lon, lat in p.outer), 0.0
    return tuple(members_of(net)), BEYOND_MEMBERS_M


def members_of(net: Net) -> Sequence[Position]:
    """Where the members with a radio path stand. Raises : InputProblem for none."""
    found = [station.position for station in net.stations if station.has_radio_path]
    if not found:
        raise InputProblem(Fault(f"{net.name} has no member with a radio path", "add stations to roster.csv"))
    return found

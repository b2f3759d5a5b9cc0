"""Where a search may look: distances, heights and slopes as people write them, and the area they make."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TypeVar

from reach.errors import Fault, InputProblem
from reach.inputs.locators import parse_position
from reach.inputs.lookup import find_party
from reach.inputs.polygons import GeoPolygon, read_polygons
from reach.inputs.quantities import parse_distance_m, parse_elevation_m, quoted, refuse
from reach.stations import Net, Position, Station

Typed = TypeVar("Typed")
Value = TypeVar("Value")

DEFAULT_WITHIN = "10 km"
USUAL_CELL = "30 m"
BEYOND_MEMBERS_M = 3_000.0


def parse_slope_deg(text: str) -> float:
    """A slope, degrees, from "15" or "15 deg" or "27 %" (rise over run). Raises : InputProblem."""
    tidy = text.strip().lower().removesuffix("degrees").removesuffix("deg").removesuffix("°").strip()
    try:
        number = float(tidy.removesuffix("%"))
    except ValueError:
        raise refuse(f"{quoted(text)} is not a slope", "write 15 deg or 27 %") from None
    slope_deg = math.degrees(math.atan(number / 100.0)) if tidy.endswith("%") else number
    if not 0.0 < slope_deg <= 90.0:
        raise refuse(f"{quoted(text)} is outside 0 to 90 degrees", "write 15 deg or 27 %")
    return slope_deg


@dataclass(frozen=True)
class Around:
    """Within a distance of a place. name : how it is said."""

    position: Position
    distance_m: float
    name: str


@dataclass(frozen=True)
class SiteLimits:
    """Where a site may stand. None and () ask for nothing.

    around : every one has to be met. inside : in any of them; outside : in none of them.
    """

    around: tuple[Around, ...] = ()
    inside: tuple[GeoPolygon, ...] = ()
    outside: tuple[GeoPolygon, ...] = ()
    lowest_m: float | None = None
    highest_m: float | None = None
    steepest_deg: float | None = None


@dataclass(frozen=True)
class SearchArea:
    """An area to search, in square cells of cell_m.

    outline, margin_m : the box round these places, so much wider; limits : where in it a site may stand.
    """

    outline: tuple[Position, ...]
    margin_m: float
    limits: SiteLimits
    cell_m: float


@dataclass(frozen=True)
class TypedArea:
    """A search area as typed; None asks for nothing. near : a call sign, a locator or coordinates."""

    near: str | None = None
    within: str | None = None
    inside: Path | None = None
    outside: Path | None = None
    lowest: str | None = None
    highest: str | None = None
    steepest: str | None = None
    resolution: str = USUAL_CELL


@dataclass
class _Options:
    """Reads one text after the other and keeps every fault, with the option it belongs to."""

    faults: list[Fault] = field(default_factory=list)

    def read(self, typed: Typed | None, parse: Callable[[Typed], Value], *, option: str = "") -> Value | None:
        if typed is None:
            return None
        try:
            return parse(typed)
        except InputProblem as problem:
            self.faults += [replace(fault, key=fault.key or option) for fault in problem.faults]
            return None


def read_area(typed: TypedArea, net: Net, *, home: Station | None = None) -> SearchArea:
    """The area to search. home : the member who wants to drive; round their place unless one is named.

    Raises : InputProblem with everything wrong with the texts at once.
    """
    options = _Options()
    around = _around(typed, net, home, options)
    cell_m = options.read(typed.resolution, parse_distance_m, option="--resolution")
    inside = options.read(typed.inside, read_polygons) or ()
    outside = options.read(typed.outside, read_polygons) or ()
    lowest_m = options.read(typed.lowest, parse_elevation_m, option="--lowest")
    highest_m = options.read(typed.highest, parse_elevation_m, option="--highest")
    steepest_deg = options.read(typed.steepest, parse_slope_deg, option="--steepest")
    if lowest_m is not None and highest_m is not None and lowest_m > highest_m:
        options.faults.append(
            Fault(f"--lowest {typed.lowest} is above --highest {typed.highest}", "exchange the two")
        )
    if cell_m is None or options.faults:
        raise InputProblem(options.faults)
    limits = SiteLimits(around, inside, outside, lowest_m, highest_m, steepest_deg)
    outline, margin_m = _box(net, limits)
    return SearchArea(outline, margin_m, limits, cell_m)


def _around(typed: TypedArea, net: Net, home: Station | None, options: _Options) -> tuple[Around, ...]:
    """The circle to stay in: round the place named, else round home; none without either."""
    centre, name = (None, "") if home is None else (home.position, home.call_sign)
    if typed.near is not None:
        centre = options.read(typed.near, lambda text: _place(net, text), option="--near")
        name = typed.near.strip()
    usual = None if centre is None else DEFAULT_WITHIN
    within = usual if typed.within is None else typed.within
    within_m = options.read(within, parse_distance_m, option="--within")
    if typed.within is not None and centre is None and typed.near is None:
        options.faults.append(
            Fault("--within needs a place", "add --near with a call sign, a locator or coordinates")
        )
    return () if centre is None or within_m is None else (Around(centre, within_m, name),)


def _place(net: Net, text: str) -> Position:
    """A member or repeater by call sign, else a position."""
    calls = {station.call_sign for station in net.stations} | {r.call_sign for r in net.repeaters}
    if text.strip().upper() in calls:
        return find_party(net, text).position
    try:
        return parse_position(text)
    except InputProblem:
        raise InputProblem(
            Fault(
                f"{quoted(text)} is neither a call sign of {net.name} nor a position",
                "write a call sign, a locator such as FM18lw76, or latitude, longitude",
            )
        ) from None


def _box(net: Net, limits: SiteLimits) -> tuple[tuple[Position, ...], float]:
    """The smallest box that holds everything the limits allow: a circle's, the polygons', the members'."""
    if limits.around:
        # a polygon as well is cut from the circle's box
        return (limits.around[0].position,), limits.around[0].distance_m
    if limits.inside:
        return tuple(Position(lat, lon) for p in limits.inside for lon, lat in p.outer), 0.0
    return tuple(member.position for member in members_on_the_air(net)), BEYOND_MEMBERS_M


def members_on_the_air(net: Net) -> tuple[Station, ...]:
    """The members with a radio path. Raises : InputProblem for none."""
    found = tuple(station for station in net.stations if station.has_radio_path)
    if not found:
        raise InputProblem(Fault(f"{net.name} has no member with a radio path", "add stations to roster.csv"))
    return found

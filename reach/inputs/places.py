"""Where a station stands, from the cells that may say so, and doubts worth raising about it."""

from __future__ import annotations

import statistics
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import acos, cos, hypot, radians, sin

from reach.errors import Fault, InputProblem
from reach.geodesy import METRES_PER_DEGREE
from reach.inputs.columns import Cell, Column
from reach.inputs.locators import (
    FEWEST_FOR_A_PATH,
    looks_like_locator,
    parse_position,
    position_of_coordinates,
)
from reach.inputs.quantities import quoted, refuse
from reach.stations import Category, Position, Station

POSITION_COLUMNS: tuple[Column, ...] = (
    Column("latitude", None, ("lat",)),
    Column("longitude", None, ("lon", "lng", "long")),
    Column("position", None, ("locator", "grid", "maidenhead", "coordinates")),
)


def refuse_coarse(position: Position) -> None:
    """Raises : InputProblem (column 'position') for a locator of four characters: too coarse for a path."""
    text = position.written
    if looks_like_locator(text) and len(text) < FEWEST_FOR_A_PATH:
        raise InputProblem(
            Fault(
                f"{quoted(text)} is a cell {2.0 * position.uncertainty_m / 1000.0:.0f} km across corners, "
                "too coarse for a radio path",
                "give latitude and longitude, or a locator of 8 characters",
                column="position",
            )
        )


def position_from(cells: Mapping[str, Cell]) -> Position:
    """The place given by latitude and longitude, or by one position cell.

    Raises : InputProblem; the column of each fault is the heading as typed.
    """
    latitude, longitude, position = cells.get("latitude"), cells.get("longitude"), cells.get("position")
    try:
        if latitude and longitude:
            found = position_of_coordinates(latitude.text, longitude.text)
            if position and not _agree(found, parse_position(position.text)):
                raise refuse(
                    f"{quoted(position.text)} and the coordinates are different places",
                    "correct or empty one of them",
                )
            return found
        if latitude or longitude:
            missing, given = ("longitude", latitude) if latitude else ("latitude", longitude)
            assert given is not None
            if looks_like_locator(given.text):
                return parse_position(given.text)
            if not position:
                raise InputProblem(Fault(f"{missing} is missing", "give both, or a locator", column=missing))
        if position:
            return parse_position(position.text)
    except InputProblem as problem:
        fallback = position.heading if position else ""
        raise InputProblem(
            replace(f, column=cells[f.column].heading if f.column in cells else f.column or fallback)
            for f in problem.faults
        ) from None
    raise InputProblem(Fault("the position is missing", "give latitude and longitude, or a locator"))


def _agree(one: Position, other: Position) -> bool:
    """Whether two ways of giving a place mean the same: within the coarser one's cell, or 1 km."""
    north_m = (one.latitude_deg - other.latitude_deg) * METRES_PER_DEGREE
    east_m = (one.longitude_deg - other.longitude_deg) * METRES_PER_DEGREE * cos(radians(one.latitude_deg))
    return hypot(north_m, east_m) <= max(1000.0, 1.05 * other.uncertainty_m)


def position_warnings(position: Position, *, category: Category, where: str) -> list[str]:
    """What to say of a position known only as a cell. `where` starts the sentence."""
    text = position.written
    if category is Category.INTERNET or not looks_like_locator(text) or len(text) > FEWEST_FOR_A_PATH:
        return []
    return [
        f"{where}: a 6-character locator may be off by {position.uncertainty_m / 1000.0:.0f} km; "
        "its terrain path is a rough guess until latitude and longitude are given."
    ]


_FAR_KM = 600.0
_NEAR_KM = 250.0
_EARTH_RADIUS_KM = 6371.0


def likely_slips(latitude_deg: float, longitude_deg: float) -> list[tuple[str, float, float]]:
    """(what may have gone wrong, latitude and longitude without it) for a place that cannot be right."""
    latitude, longitude = latitude_deg, longitude_deg
    slips = [
        ("latitude and longitude look swapped", longitude, latitude),
        ("the sign of the longitude looks wrong", latitude, -longitude),
        ("the sign of the latitude looks wrong", -latitude, longitude),
        ("both signs look wrong", -latitude, -longitude),
        ("latitude and longitude look swapped, with a sign lost", longitude, -latitude),
        ("latitude and longitude look swapped, with a sign lost", -longitude, latitude),
    ]
    return [slip for slip in slips if abs(slip[1]) <= 90.0]


def _direction(latitude_deg: float, longitude_deg: float) -> tuple[float, float, float]:
    """Unit vector from the Earth's centre."""
    lat, lon = radians(latitude_deg), radians(longitude_deg)
    return cos(lat) * cos(lon), cos(lat) * sin(lon), sin(lat)


def stray_positions(stations: Sequence[Station], rows: Sequence[int], *, file: str) -> list[tuple[int, str]]:
    """Stations far from everyone else, by index, with the likely cause: swapped, or a sign turned round."""
    on_air = [(i, s, row) for i, (s, row) in enumerate(zip(stations, rows)) if s.has_radio_path]
    if len(on_air) < 3:
        return []
    everyone = [_direction(s.position.latitude_deg, s.position.longitude_deg) for _, s, _ in on_air]
    # the middle is taken in space, where neither the antimeridian nor a pole is an edge
    middle = tuple(statistics.median(axis) for axis in zip(*everyone))

    def distance_km(latitude: float, longitude: float) -> float:
        here = _direction(latitude, longitude)
        length = hypot(*middle)
        cosine = sum(a * b for a, b in zip(here, middle)) / length if length else 1.0
        return _EARTH_RADIUS_KM * acos(max(-1.0, min(1.0, cosine)))

    warnings = []
    for index, station, row in on_air:
        latitude, longitude = station.position.latitude_deg, station.position.longitude_deg
        away = distance_km(latitude, longitude)
        if away <= _FAR_KM:
            continue
        likely = [
            text for text, lat, lon in likely_slips(latitude, longitude) if distance_km(lat, lon) <= _NEAR_KM
        ]
        cause = likely[0] if likely else "check the position"
        text = (
            f"{file}, row {row}, {station.call_sign}: {away:.0f} km from the middle of the others; {cause}."
        )
        warnings.append((index, text))
    return warnings

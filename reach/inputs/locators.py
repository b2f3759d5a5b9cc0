"""Places as people write them: decimal degrees, degrees-minutes-seconds, Maidenhead locators.

Locators follow the IARU locator system (fields of 20 by 10 degrees A-R, squares of 2 by 1 degrees 0-9,
sub-squares of 5 by 2.5 minutes a-x, then 0-9 and a-x again). A locator is a cell, not a point: its centre is
taken and half the cell's diagonal is kept as the uncertainty. Lower edges belong to the cell.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from math import floor, prod

from reach.errors import Fault, InputProblem
from reach.geodesy import distance_and_bearing
from reach.inputs.quantities import quoted, refuse
from reach.stations import Position

# pair by pair: how many steps the cell of the pair before is cut into, and the first character
_PAIRS = ((18, "A"), (10, "0"), (24, "A"), (10, "0"), (24, "A"))
_LOCATOR_LENGTHS = (4, 6, 8, 10)
_LOCATOR_SHAPE = re.compile(r"[A-R]{2}[0-9]{2}([A-X]{2}([0-9]{2}([A-X]{2})?)?)?", re.ASCII)
FEWEST_FOR_A_PATH = 6  # characters
_LONGEST_ANGLE = 60


@dataclass(frozen=True)
class LocatorCell:
    """The cell of a locator, degrees: south-west corner and size."""

    south_deg: float
    west_deg: float
    height_deg: float
    width_deg: float


def looks_like_locator(text: str) -> bool:
    """True for four to ten characters in the pattern of a locator, right or wrong in range."""
    return re.fullmatch(r"[A-Za-z]{2}[0-9]{2}([A-Za-z0-9]{2}){0,3}", text.strip(), re.ASCII) is not None


def locator_cell(text: str) -> LocatorCell:
    """The cell of a locator of 4, 6, 8 or 10 characters, any case. Raises : InputProblem."""
    locator = text.strip().upper()
    if not _LOCATOR_SHAPE.fullmatch(locator):
        raise refuse(
            f"{quoted(text)} is not a Maidenhead locator",
            "write 4, 6, 8 or 10 characters such as FM18 or FM18lw: letters A-R, digits, letters A-X",
        )
    west, south, width, height = -180.0, -90.0, 360.0, 180.0
    for pair in range(len(locator) // 2):
        steps, first = _PAIRS[pair]
        width /= steps
        height /= steps
        west += (ord(locator[2 * pair]) - ord(first)) * width
        south += (ord(locator[2 * pair + 1]) - ord(first)) * height
    return LocatorCell(south_deg=south, west_deg=west, height_deg=height, width_deg=width)


def position_of_locator(text: str) -> Position:
    """Centre of a locator's cell, with half its diagonal as the uncertainty. Raises : InputProblem."""
    cell = locator_cell(text)
    diagonal_m, _ = distance_and_bearing(
        from_latitude_deg=cell.south_deg,
        from_longitude_deg=cell.west_deg,
        to_latitude_deg=cell.south_deg + cell.height_deg,
        to_longitude_deg=cell.west_deg + cell.width_deg,
    )
    return Position(
        latitude_deg=cell.south_deg + cell.height_deg / 2.0,
        longitude_deg=cell.west_deg + cell.width_deg / 2.0,
        uncertainty_m=float(diagonal_m) / 2.0,
        written=text.strip(),
    )


def locator_of(position: Position, *, characters: int = 6) -> str:
    """The locator a place lies in, e.g. 'JN58td'; 4, 6, 8 or 10 characters.

    The pole belongs to the cell south of it, longitude 180 to the cell east of -180.
    Raises : ValueError for another number of characters.
    """
    if characters not in _LOCATOR_LENGTHS:
        raise ValueError(f"a locator has 4, 6, 8 or 10 characters, not {characters}")
    # counted in whole cells of the finest size, so that no error adds up and shorter ones are cut from it
    across = prod(steps for steps, _ in _PAIRS)
    east = ((position.longitude_deg + 180.0) % 360.0) / 360.0
    north = (position.latitude_deg + 90.0) / 180.0
    # 1e-9 of a cell, under a micrometre, keeps an edge written in decimals on its own side
    column = min(floor(east * across + 1e-9), across - 1)
    row = min(floor(north * across + 1e-9), across - 1)
    text = ""
    for steps, first in reversed(_PAIRS):
        column, column_step = divmod(column, steps)
        row, row_step = divmod(row, steps)
        text = chr(ord(first) + column_step) + chr(ord(first) + row_step) + text
    return (text[:4] + text[4:].lower())[:characters]


def coordinates(position: Position) -> str:
    """'41.23450, -38.12340'."""
    return f"{position.latitude_deg:.5f}, {position.longitude_deg:.5f}"


def coordinates_and_locator(position: Position) -> str:
    """'41.23450, -38.12340 (HN01wf45)'."""
    return f"{coordinates(position)} ({locator_of(position, characters=8)})"


_HEMISPHERES = {"N": 1.0, "S": -1.0, "E": 1.0, "W": -1.0}
_ANGLE_PARTS = re.compile(
    r"([+-]?)\s*([0-9]+(?:[.,][0-9]+)?)\s*(?:[°ºd:\s]\s*(?:([0-9]+(?:[.,][0-9]+)?)\s*(?:['′’m:\s]\s*"
    r"(?:([0-9]+(?:[.,][0-9]+)?)\s*(?:\"|″|”|''|s)?)?)?)?)?",
    re.ASCII,
)


def _angle(text: str, *, letters: str, what: str, limit_deg: float) -> float:
    """Degrees of "41.2083", "41.2083 N", "41 12 30 N", "41°12'30\" N", "N41 12.5", "41:12:30"."""
    example = f"write decimal degrees such as {'41.2083' if letters == 'NS' else '-38.1500'}"
    tidy = text.replace("−", "-").replace("\u00a0", " ").strip().upper()
    if len(tidy) > _LONGEST_ANGLE:
        raise refuse(f"{quoted(text)} is not a {what}", example)
    sign = 0.0
    if tidy[:1] in _HEMISPHERES:
        hemisphere, tidy = tidy[0], tidy[1:].strip()
    elif tidy[-1:] in _HEMISPHERES:
        hemisphere, tidy = tidy[-1], tidy[:-1].strip()
    else:
        hemisphere = ""
    if hemisphere:
        if hemisphere not in letters:
            raise refuse(
                f"{quoted(text)} is not a {what}", "latitude and longitude look swapped; exchange the two"
            )
        sign = _HEMISPHERES[hemisphere]
    found = _ANGLE_PARTS.fullmatch(tidy.lower())
    if not found:
        raise refuse(f"{quoted(text)} is not a {what}", example)
    minus, degrees, minutes, seconds = found.groups()
    if (
        (minus and hemisphere)
        or (minutes and not degrees.isdigit())
        or (seconds and not str(minutes).isdigit())
    ):
        raise refuse(f"{quoted(text)} is not a {what}", example)
    parts = [float(part.replace(",", ".")) if part else 0.0 for part in (degrees, minutes, seconds)]
    if parts[1] >= 60.0 or parts[2] >= 60.0:
        raise refuse(f"{quoted(text)} has minutes or seconds of 60 or more", example)
    value = (sign or (-1.0 if minus == "-" else 1.0)) * (parts[0] + parts[1] / 60.0 + parts[2] / 3600.0)
    if not abs(value) <= limit_deg:
        raise refuse(f"{quoted(text)} is outside -{limit_deg:.0f} to {limit_deg:.0f} degrees", example)
    return value


def parse_latitude_deg(text: str) -> float:
    """A latitude, degrees north positive, -90 to 90. Raises : InputProblem."""
    return _angle(text, letters="NS", what="latitude", limit_deg=90.0)


def parse_longitude_deg(text: str) -> float:
    """A longitude, degrees east positive, -180 to 180. Raises : InputProblem."""
    return _angle(text, letters="EW", what="longitude", limit_deg=180.0)


def position_of_coordinates(latitude: str, longitude: str) -> Position:
    """A place from its two texts. All that is wrong with either is raised at once, with the likely cause.

    Raises : InputProblem; the column of each fault is 'latitude' or 'longitude'.
    """
    faults: list[Fault] = []
    values: list[float] = []
    for text, parse, column in (
        (latitude, parse_latitude_deg, "latitude"),
        (longitude, parse_longitude_deg, "longitude"),
    ):
        try:
            values.append(parse(text))
        except InputProblem as problem:
            faults += [replace(fault, column=column) for fault in problem.faults]
    if not faults:
        return Position(values[0], values[1], written=f"{latitude.strip()}, {longitude.strip()}")
    if _readable(longitude, parse_latitude_deg) and _readable(latitude, parse_longitude_deg):
        raise refuse(
            f"latitude {quoted(latitude)} and longitude {quoted(longitude)} look swapped", "exchange the two"
        )
    raise InputProblem(faults)


def parse_position(text: str) -> Position:
    """A place in one text: a locator, or latitude and longitude ("41.2083, -38.15", "41 12 30 N 38 9 0 W").

    Raises : InputProblem.
    """
    tidy = text.strip()
    if looks_like_locator(tidy):
        return position_of_locator(tidy)
    for pattern in (
        r"\s*;\s*",
        r",\s+",
        r"\s*,\s*",
        r"(?<=[NSEWnsew])[\s,]*(?=[0-9])",
        r"\s+(?=[NSEWnsew])",
        r"\s+",
    ):
        parts = re.split(pattern, tidy)
        if len(parts) == 2 and all(parts):
            return position_of_coordinates(*parts)
    raise refuse(
        f"{quoted(text)} is not a position",
        "write a locator such as FM18lw76, or latitude, longitude in degrees",
    )


def _readable(text: str, parse: Callable[[str], float]) -> bool:
    try:
        parse(text)
    except InputProblem:
        return False
    return True

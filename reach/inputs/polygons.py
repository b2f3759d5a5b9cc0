"""Polygons of a GeoJSON file (RFC 7946): WGS 84, longitude before latitude, straight lines between points."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from shapely import Polygon
from shapely.validation import explain_validity

from reach.errors import Fault, InputProblem
from reach.inputs.quantities import quoted
from reach.inputs.text_files import read_text_file

Ring = tuple[tuple[float, float], ...]

FEWEST_POINTS = 4  # a triangle, closed
MOST_POINTS = 200_000
MOST_POLYGONS = 2000
MOST_FAULTS = 20


@dataclass(frozen=True)
class GeoPolygon:
    """One polygon. outer, holes : closed rings of (longitude_deg, latitude_deg); name : from the file."""

    outer: Ring
    holes: tuple[Ring, ...] = ()
    name: str = ""


def read_polygons(path: Path) -> tuple[GeoPolygon, ...]:
    """Every polygon of a GeoJSON file, in order.

    Raises : InputProblem with all faults: not JSON, no polygon in it, a ring that is open,
        too short or crosses itself, places outside the globe (with the likely cause), another coordinate
        system.
    """
    text = read_text_file(path)
    try:
        value = json.loads(text)
    except json.JSONDecodeError as error:
        raise InputProblem(
            Fault(f"is not JSON ({error.msg}, place {error.colno})", "save it again as GeoJSON",
                  file=path.name, row=error.lineno)
        ) from None  # fmt: skip
    except RecursionError:
        raise InputProblem(Fault("is nested too deeply to be GeoJSON", file=path.name)) from None
    except ValueError as error:  # a number of thousands of digits
        raise InputProblem(Fault(f"holds a value that cannot be read ({error})", file=path.name)) from None
    faults: list[Fault] = []
    polygons: list[GeoPolygon] = []
    if isinstance(value, dict) and _other_system(value):
        faults.append(
            Fault(
                f"names the coordinate system {quoted(_other_system(value))}",
                "save it in WGS 84 longitude and latitude, as GeoJSON wants it",
                file=path.name,
                key="crs",
            )
        )
    for number, (where, name, coordinates) in enumerate(_polygon_parts(value, "", "", 0)):
        if number >= MOST_POLYGONS:
            fault = Fault(f"holds more than {MOST_POLYGONS} polygons", "draw fewer", file=path.name)
            faults.insert(0, fault)
        if number >= MOST_POLYGONS or len(faults) > MOST_FAULTS:
            break
        found = _polygon(coordinates, name=name, where=where, file=path.name, faults=faults)
        if found is not None:
            polygons.append(found)
    if faults:
        raise InputProblem(faults[:MOST_FAULTS])
    if not polygons:
        raise InputProblem(
            Fault("holds no polygon", "draw the area as a polygon and save it as GeoJSON", file=path.name)
        )
    return tuple(polygons)


def _other_system(value: dict[str, Any]) -> str:
    """Name in an old-style crs member when it is not WGS 84, else empty."""
    crs = value.get("crs")
    if not isinstance(crs, dict):
        return ""
    properties = crs.get("properties")
    name = properties.get("name", "") if isinstance(properties, dict) else ""
    return "" if str(name).endswith(("CRS84", ":4326")) else str(name or crs.get("type", "unnamed"))


def _polygon_parts(value: Any, where: str, name: str, depth: int) -> Iterator[tuple[str, str, Any]]:
    """(place in the file, name, coordinates) of every polygon, collections followed."""
    if not isinstance(value, dict) or depth > 20:
        return
    kind = value.get("type")
    if kind == "Feature":
        properties = value.get("properties")
        if isinstance(properties, dict) and isinstance(properties.get("name"), str):
            name = properties["name"]
        yield from _polygon_parts(value.get("geometry"), f"{where}geometry", name, depth + 1)
    for many in ("features", "geometries"):
        members = value.get(many)
        if kind in ("FeatureCollection", "GeometryCollection") and isinstance(members, list):
            for i, member in enumerate(members):
                yield from _polygon_parts(member, f"{where}{many}[{i}].", name, depth + 1)
    if kind == "Polygon":
        yield where.rstrip("."), name, value.get("coordinates")
    elif kind == "MultiPolygon" and isinstance(value.get("coordinates"), list):
        for i, part in enumerate(value["coordinates"]):
            yield f"{where}polygon[{i}]", name, part


def _polygon(coordinates: Any, *, name: str, where: str, file: str, faults: list[Fault]) -> GeoPolygon | None:
    if not isinstance(coordinates, list) or not coordinates:
        faults.append(Fault("the polygon has no ring of coordinates", "draw it again", file=file, key=where))
        return None
    rings: list[Ring] = []
    before = len(faults)
    points = sum(len(ring) for ring in coordinates if isinstance(ring, list))
    if points > MOST_POINTS:
        faults.append(
            Fault(
                f"the polygon has {points} points; at most {MOST_POINTS} are read",
                "draw it with fewer",
                file=file,
                key=where,
            )
        )
        return None
    for number, ring in enumerate(coordinates):
        label = f"{where}, ring {number + 1}".lstrip(", ")
        made = _ring(ring, label=label, file=file, faults=faults)
        if made is not None:
            rings.append(made)
    if len(faults) > before:
        return None
    shape = Polygon(rings[0], rings[1:])
    if not shape.is_valid:
        reason = explain_validity(shape)
        faults.append(
            Fault(
                f"the polygon crosses or overlaps itself ({_reason_words(reason)})",
                "draw its outline without crossings",
                file=file,
                key=where,
            )
        )
        return None
    return GeoPolygon(rings[0], tuple(rings[1:]), name)


def _reason_words(reason: str) -> str:
    """'Self-intersection[-38.1 41.2]' as 'self-intersection at longitude -38.1, latitude 41.2'."""
    words, _, place = reason.partition("[")
    parts = place.rstrip("]").split()
    if len(parts) < 2:
        return words.lower()
    return f"{words.lower()} at longitude {float(parts[0]):.5f}, latitude {float(parts[1]):.5f}"


def _ring(ring: Any, *, label: str, file: str, faults: list[Fault]) -> Ring | None:
    def fault(problem: str, fix: str) -> None:
        faults.append(Fault(problem, fix, file=file, key=label))

    if not isinstance(ring, list) or len(ring) < FEWEST_POINTS:
        fault("a ring has fewer than three corners", "draw at least a triangle, closed")
        return None
    points: list[tuple[float, float]] = []
    for number, point in enumerate(ring):
        numbers = (
            isinstance(point, list)
            and len(point) >= 2
            and all(isinstance(v, (int, float)) and not isinstance(v, bool) for v in point[:2])
        )
        if not numbers or not all(abs(v) < 1e300 for v in point[:2]):  # no NaN, no endless integer
            fault(f"point {number + 1} is not a longitude and a latitude", "draw the polygon again")
            return None
        longitude_deg, latitude_deg = float(point[0]), float(point[1])
        if not (abs(longitude_deg) <= 180.0 and abs(latitude_deg) <= 90.0):
            swapped = abs(longitude_deg) <= 90.0 and abs(latitude_deg) <= 180.0
            fault(
                f"point {number + 1} ({longitude_deg:g}, {latitude_deg:g}) lies outside the globe",
                "longitude comes first: exchange the two" if swapped else "write degrees, longitude first",
            )
            return None
        points.append((longitude_deg, latitude_deg))
    if points[0] != points[-1]:
        fault("a ring is not closed", "make its last point the same as its first")
        return None
    return tuple(points)

"""Places the club serves: shelters, hospitals, halls; places.csv beside the roster.

    name,kind,latitude,longitude      or      name,kind,locator
"""  # fmt: skip

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.columns import clean_text, heading_key
from reach.inputs.csv_records import csv_records
from reach.inputs.locators import parse_position
from reach.inputs.text_files import read_text_file
from reach.stations import Position

PLACES_FILE = "places.csv"
MOST_PLACES = 60  # two stations are surveyed at each
_HEADINGS = ("name", "kind", "latitude", "longitude", "locator")
_EXAMPLE = "name,kind,latitude,longitude"


@dataclass(frozen=True)
class ServedPlace:
    """One place. kind : 'shelter', 'hospital', ... as written, may be ''."""

    name: str
    kind: str
    position: Position

    @property
    def words(self) -> str:
        """'Mill Lane hall (shelter)'."""
        return f"{self.name} ({self.kind})" if self.kind else self.name


def read_places(folder: Path) -> tuple[ServedPlace, ...]:
    """The places of a net folder, in their order. Raises : InputProblem with every fault."""
    path = folder / PLACES_FILE
    if not path.exists():
        fix = f"write one beside roster.csv with the heading {_EXAMPLE}, a place a row"
        raise InputProblem(Fault("is not there", fix, PLACES_FILE))
    return parse_places(read_text_file(path))


def parse_places(text: str) -> tuple[ServedPlace, ...]:
    """The places in the text of a places.csv. Raises : InputProblem with every fault."""
    faults: list[Fault] = []
    found: list[ServedPlace] = []
    headings: list[str] = []
    for row, cells in csv_records(text, file=PLACES_FILE, faults=faults):
        if not headings:
            headings = [heading_key(cell) for cell in cells]
            faults += _heading_faults(headings, row)
            if faults:
                break
            continue
        fields = dict(zip(headings, (clean_text(cell) for cell in cells)))
        try:
            place = _place(fields)
        except InputProblem as problem:
            faults += [replace(fault, file=PLACES_FILE, row=row) for fault in problem.faults]
            continue
        if any(place.name == other.name for other in found):
            faults.append(
                Fault(f'"{place.name}" is there twice', "give each place its own name", PLACES_FILE, row)
            )
        found.append(place)
    if not found and not faults:
        faults.append(Fault("names no place", f"write a row under the heading {_EXAMPLE}", PLACES_FILE))
    if len(found) > MOST_PLACES:
        faults.append(
            Fault(
                f"names {len(found)} places", f"keep to {MOST_PLACES}; leave out those far away", PLACES_FILE
            )
        )
    if faults:
        raise InputProblem(faults)
    return tuple(found)


def _heading_faults(headings: list[str], row: int) -> list[Fault]:
    strange = [f'"{h}"' for h in headings if h and h not in _HEADINGS]
    if strange:
        return [
            Fault(f"{', '.join(strange)} is no heading here", f"use {', '.join(_HEADINGS)}", PLACES_FILE, row)
        ]
    where = {"latitude", "longitude"} <= set(headings) or "locator" in headings
    if "name" not in headings or not where:
        return [Fault("lacks the name or the position of places", f"write {_EXAMPLE}", PLACES_FILE, row)]
    return []


def _place(fields: dict[str, str]) -> ServedPlace:
    name = fields.get("name", "")
    if not name:
        raise InputProblem(Fault("has no name", "write what the place is called"))
    if fields.get("locator"):
        where = parse_position(fields["locator"])
    elif fields.get("latitude") and fields.get("longitude"):
        where = parse_position(f"{fields['latitude']}, {fields['longitude']}")
    else:
        raise InputProblem(Fault(f'"{name}" has no position', "write latitude and longitude, or a locator"))
    return ServedPlace(name, fields.get("kind", ""), where)

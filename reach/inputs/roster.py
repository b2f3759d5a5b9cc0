"""The roster: a spreadsheet of members saved as CSV, read into stations, all its faults gathered in one pass.

Comma, semicolon and tab are all read as separators (whichever the heading row uses), with or without a
byte-order mark, any line ends; blank lines and lines that start with # are passed over. Row numbers are those
an editor shows.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Annotated

from pydantic import PlainValidator, ValidationError

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign, parse_name
from reach.inputs.columns import (
    Cell,
    Column,
    Place,
    clean_text,
    column_for,
    faults_of,
    heading_key,
    shown_name,
    unknown_heading_warning,
)
from reach.inputs.csv_records import csv_records
from reach.inputs.equipment import DEFAULTS
from reach.inputs.places import (
    POSITION_COLUMNS,
    position_from,
    position_warnings,
    refuse_coarse,
    stray_positions,
)
from reach.inputs.quantities import quoted, refuse
from reach.inputs.station_fields import EQUIPMENT_COLUMNS, EquipmentFields, complete, did_you_mean
from reach.inputs.text_files import read_text_file
from reach.stations import Antenna, Category, Position, Station

ROSTER_FILE = "roster.csv"
MOST_MEMBERS = 5000
MOST_HEADINGS = 500
MOST_FAULTS = 1000  # found before reading stops

ROSTER_COLUMNS: tuple[Column, ...] = (
    Column("call_sign", None, ("call", "callsign", "station")),
    Column("name", None, ("operator", "member")),
    Column("category", None, ("kind",)),
    *POSITION_COLUMNS,
    *EQUIPMENT_COLUMNS,
    Column("control", None, ("net_control", "willing_control", "willing_to_control")),
    Column("relay", None, ("willing_relay", "willing_to_relay")),
    Column("brief", None, ("brief_check_in",)),
    Column("notes", None, ("note", "remarks", "comment", "comments")),
)

_CATEGORY_WORDS: dict[str, Category] = {
    "base": Category.BASE,
    "home": Category.BASE,
    "fixed": Category.BASE,
    "mobile": Category.MOBILE,
    "vehicle": Category.MOBILE,
    "portable": Category.PORTABLE,
    "handheld": Category.PORTABLE,
    "hand held": Category.PORTABLE,
    "pedestrian": Category.PORTABLE,
    "internet": Category.INTERNET,
    "internet linked": Category.INTERNET,
    "linked": Category.INTERNET,
}


def parse_category(text: str) -> Category:
    """base, mobile, portable (or handheld), internet. Raises : InputProblem."""
    words = re.sub(r"[\s_\-/]+", " ", text.strip().lower())
    if words in _CATEGORY_WORDS:
        return _CATEGORY_WORDS[words]
    fix = did_you_mean(words, _CATEGORY_WORDS, otherwise="write base, mobile, portable or internet")
    raise refuse(f"{quoted(text)} is not a category", fix)


class MemberFields(EquipmentFields):
    """One row of the roster as written, its place apart. Each field is read from a `Cell`."""

    call_sign: Annotated[str, PlainValidator(lambda c: parse_call_sign(c.text))]
    category: Annotated[Category, PlainValidator(lambda c: parse_category(c.text))]
    name: Annotated[str, PlainValidator(lambda c: parse_name(c.text))] = ""
    control: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = False
    relay: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = False
    brief: Annotated[bool, PlainValidator(lambda c: q.parse_yes_no(c.text))] = False


_WHAT_IS_MISSING = {
    "call_sign": "write the member's call sign",
    "category": "write base, mobile, portable or internet",
}


@dataclass(frozen=True)
class Roster:
    """Members in the order of the file, with all that is worth a second look, theirs included."""

    stations: tuple[Station, ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class _Heading:
    """A heading that is known: its column, the unit it names (or ''), its text as typed."""

    column: Column
    unit: str
    text: str


def read_roster(path: Path, *, own_defaults: Mapping[Category, EquipmentFields] | None = None) -> Roster:
    """The members of a roster file.

    own_defaults : the net's defaults by category, ahead of the built-in ones.
    Raises : InputProblem with every fault of the file.
    """
    return parse_roster(read_text_file(path), file=path.name, own_defaults=own_defaults)


def parse_roster(
    text: str, *, file: str = ROSTER_FILE, own_defaults: Mapping[Category, EquipmentFields] | None = None
) -> Roster:
    """The members in a roster's text; see `read_roster`. Raises : InputProblem with every fault."""
    faults: list[Fault] = []
    warnings: list[str] = []
    records = csv_records(text, file=file, faults=faults)
    heading_row = next(records, None)
    if heading_row is None:
        raise InputProblem(
            faults
            or [
                Fault(
                    "is empty", "start with a heading row: call_sign,latitude,longitude,category", file=file
                )
            ]
        )
    row_number, headings = heading_row
    if len(headings) > MOST_HEADINGS:
        raise InputProblem(
            Fault(
                f"has {len(headings)} headings; at most {MOST_HEADINGS} are read",
                "check the heading row and its separators",
                file=file,
                row=row_number,
            )
        )
    columns = _columns_of(headings, Place(file, row_number), faults, warnings)
    stations: list[Station] = []
    rows: list[int] = []
    first_seen: dict[str, int] = {}
    members = 0
    for row_number, values in records:
        members += 1
        if len(faults) > MOST_FAULTS:
            faults.append(
                Fault("has more faults below; reading stopped", "correct these", file=file, row=row_number)
            )
            break
        if members > MOST_MEMBERS:
            faults.append(
                Fault(f"has more than {MOST_MEMBERS} members", "split the roster", file=file, row=row_number)
            )
            break
        place = Place(file, row_number)
        extra = [value for value in values[len(headings) :] if value.strip()]
        if extra or len(values) < len(headings):
            faults.append(
                place.fault(
                    f"{len(values)} cells under {len(headings)} headings",
                    "put text that holds the separator in quotation marks"
                    if extra
                    else "check for a lost separator",
                )
            )
            continue
        station, call_sign = _member(columns, values, place, own_defaults or {}, faults)
        if call_sign is not None:
            if call_sign in first_seen:
                faults.append(
                    place.fault(
                        f"{call_sign} is already in row {first_seen[call_sign]}",
                        "keep one row, or add a suffix such as /P",
                        heading=_heading(columns, "call_sign"),
                    )
                )
            first_seen.setdefault(call_sign, row_number)
        if station is not None:
            stations.append(station)
            rows.append(row_number)
    if not members and not faults:
        faults.append(Fault("has no members below its headings", "write one member a row", file=file))
    if faults:
        raise InputProblem(faults)
    for index, text in stray_positions(stations, rows, file=file):
        stations[index] = replace(stations[index], warnings=(*stations[index].warnings, text))
    warnings += [text for station in stations for text in station.warnings]
    return Roster(tuple(stations), tuple(warnings))


def _columns_of(
    headings: list[str], place: Place, faults: list[Fault], warnings: list[str]
) -> list[_Heading | None]:
    """For every heading its column, unit and text; None for unknown ones, which are warned of."""
    columns: list[_Heading | None] = []
    seen: dict[str, str] = {}
    for heading in headings:
        if not heading.strip():
            columns.append(None)
            continue
        found = column_for(heading, ROSTER_COLUMNS)
        if found is None:
            try:
                warnings.append(unknown_heading_warning(clean_text(heading), ROSTER_COLUMNS, place))
            except InputProblem as problem:
                faults += [place.located(fault, heading="") for fault in problem.faults]
            columns.append(None)
            continue
        column, unit = found
        shown = heading.strip()
        if column.name in seen:
            faults.append(
                place.fault(f"says the same as column {seen[column.name]}", "keep one", heading=shown)
            )
        seen[column.name] = shown
        columns.append(_Heading(column, unit, shown))
    unknown = [
        shown_name(heading) for heading, column in zip(headings, columns) if not column and heading.strip()
    ]
    for name in ("call_sign", "category"):
        if name not in seen:
            meant = difflib.get_close_matches(
                name, [heading_key(heading) for heading in unknown], n=1, cutoff=0.6
            )
            fix = f"{quoted(meant[0])} looks like it" if meant else "add it to the heading row"
            faults.append(place.fault(f"there is no column {name}", fix))
    if not ("position" in seen or ("latitude" in seen and "longitude" in seen)):
        faults.append(
            place.fault("there is no position", "add the columns latitude and longitude, or locator")
        )
    return columns


def _heading(columns: list[_Heading | None], name: str) -> str:
    return next((h.text for h in columns if h and h.column.name == name), name)


def _member(
    columns: list[_Heading | None],
    values: list[str],
    place: Place,
    own_defaults: Mapping[Category, EquipmentFields],
    faults: list[Fault],
) -> tuple[Station | None, str | None]:
    """The station of one row (None when it has faults) and its call sign where readable."""
    found: list[Fault] = []
    cells: dict[str, Cell] = {}
    present = {heading.column.name for heading in columns if heading}
    for heading, value in zip(columns, values):
        if heading is None or not value.strip():
            continue
        try:
            cells[heading.column.name] = Cell(clean_text(value), heading=heading.text, unit=heading.unit)
        except InputProblem as problem:
            found += [place.located(fault, heading=heading.text) for fault in problem.faults]
            present.discard(heading.column.name)  # its fault is told; it is not missing
    fields: MemberFields | None = None
    try:
        fields = MemberFields.model_validate(
            {name: cell for name, cell in cells.items() if name in MemberFields.model_fields}
        )
    except ValidationError as error:
        problems = faults_of(error, cells, place, missing=lambda name: _WHAT_IS_MISSING[name])
        for fault in problems:
            if not fault.problem.endswith(" is missing"):
                found.append(fault)
            elif fault.column in present:  # a column missing altogether was told with the headings
                found.append(replace(fault, column=_heading(columns, fault.column)))
    position: Position | None = None
    if "position" in present or {"latitude", "longitude"} <= present:
        try:
            position = position_from(cells)
        except InputProblem as problem:
            found += [place.located(fault, heading="") for fault in problem.faults]
    call_sign = fields.call_sign if fields else None
    if fields is None and "call_sign" in cells:
        try:
            call_sign = parse_call_sign(cells["call_sign"].text)
        except InputProblem:
            call_sign = None  # its fault is already among those of the row
    station: Station | None = None
    if fields is not None and position is not None and not found:
        where = f"{place.file}, row {place.row}, {fields.call_sign}"
        try:
            station = _station(fields, position, own_defaults.get(fields.category, EquipmentFields()))
            warnings = position_warnings(position, category=fields.category, where=where)
            station = replace(station, warnings=tuple(warnings))
        except InputProblem as problem:
            for fault in problem.faults:
                typed = cells[fault.column].heading if fault.column in cells else fault.column
                found.append(place.fault(fault.problem, fault.fix, heading=typed))
    faults += found
    return (None, call_sign) if found else (station, call_sign)


def _station(fields: MemberFields, position: Position, own_defaults: EquipmentFields) -> Station:
    if fields.category is Category.INTERNET:
        return Station(
            call_sign=fields.call_sign,
            name=fields.name,
            position=position,
            category=fields.category,
            antenna=Antenna(height_m=0.0, gain_dbi=0.0),
            transmit_power_dbm=0.0,
            backup=fields.backup,
            willing_control=fields.control,
            willing_relay=fields.relay,
            brief=fields.brief,
        )
    refuse_coarse(position)
    who = fields.category.value
    equipment = complete(fields, own_defaults=own_defaults, defaults=DEFAULTS[fields.category], who=who)
    return Station(
        call_sign=fields.call_sign,
        name=fields.name,
        position=position,
        category=fields.category,
        antenna=equipment.antenna,
        transmit_power_dbm=equipment.transmit_power_dbm,
        feed_line=equipment.feed_line,
        sensitivity_dbm=equipment.sensitivity_dbm,
        extra_loss_db=equipment.extra_loss.loss_db,
        local_noise_db=equipment.local_noise_db,
        noise=equipment.noise,
        backup=equipment.backup,
        willing_control=fields.control,
        willing_relay=fields.relay,
        brief=fields.brief,
        assumed=equipment.assumed,
        surroundings=equipment.extra_loss.surroundings,
    )

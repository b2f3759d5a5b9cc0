"""The roster: a spreadsheet of members saved as CSV, read into stations, all its faults gathered in one pass.

Comma, semicolon and tab are all read as separators (whichever the heading row uses), with or without a
byte-order mark, any line ends; blank lines and lines that start with # are passed over. Row numbers are those
an editor shows.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.aiming import aimed
from reach.inputs.call_signs import parse_call_sign, parse_name
from reach.inputs.columns import (
    Cell,
    Column,
    Place,
    clean_text,
    column_for,
    heading_key,
    read_record,
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
from reach.inputs.station_fields import MEMBER_COLUMNS, EquipmentFields, complete
from reach.inputs.text_files import read_text_file
from reach.lists import did_you_mean_or, nearest
from reach.stations import NOWHERE, Aim, Antenna, Category, Position, Station

ROSTER_FILE = "roster.csv"
MOST_MEMBERS = 5000
MOST_HEADINGS = 500
MOST_FAULTS = 1000  # found before reading stops

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
    fix = did_you_mean_or(words, _CATEGORY_WORDS, otherwise="write base, mobile, portable or internet")
    raise refuse(f"{quoted(text)} is not a category", fix)


def parse_attendance(text: str) -> float:
    """How often a member is there, as a share: '80 %', '0.8', '3 in 4' or '3/4'. Raises : InputProblem."""
    tidy = text.strip().lower()
    of = re.fullmatch(r"(\d+)\s*(?:in|of|/)\s*(\d+)", tidy)
    if of is not None and int(of[2]):
        share = int(of[1]) / int(of[2])
    elif tidy.endswith("%"):
        share = q.parse_number(tidy.removesuffix("%")) / 100.0
    else:
        share = q.parse_number(tidy)
    if not 0.0 <= share <= 1.0:
        raise refuse(f"{quoted(text)} is not how often someone is there", "write 80 %, 0.8 or 3 in 4")
    return share


def _yes_no(cell: Cell) -> bool:
    return q.parse_yes_no(cell.text)


ROSTER_COLUMNS: tuple[Column, ...] = (
    Column(
        "call_sign",
        None,
        ("call", "callsign", "station"),
        lambda c: parse_call_sign(c.text),
        missing="write the member's call sign",
    ),
    Column("name", None, ("operator", "member"), lambda c: parse_name(c.text)),
    Column(
        "category",
        None,
        ("kind",),
        lambda c: parse_category(c.text),
        missing="write base, mobile, portable or internet",
    ),
    *POSITION_COLUMNS,
    *MEMBER_COLUMNS,
    Column("control", None, ("net_control", "willing_control", "willing_to_control"), _yes_no),
    Column("relay", None, ("willing_relay", "willing_to_relay"), _yes_no),
    Column("brief", None, ("brief_check_in",), _yes_no),
    Column("attendance", None, ("presence", "usually_there"), lambda c: parse_attendance(c.text)),
    Column("notes", None, ("note", "remarks", "comment", "comments")),
)


@dataclass(frozen=True, kw_only=True)
class MemberFields(EquipmentFields):
    """One row of the roster as written, its place apart."""

    call_sign: str
    category: Category
    name: str = ""
    control: bool = False
    relay: bool = False
    brief: bool = False
    attendance: float | None = None


@dataclass(frozen=True)
class Roster:
    """Members in the order of the file, with all that is worth a second look, theirs included."""

    stations: tuple[Station, ...]
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class RosterRules:
    """What net.toml says that a roster is read by.

    own_defaults : the net's defaults by category, ahead of the built-in ones.
    undirected : how a beam counts whose direction is not given; bands : those the net works on.
    hubs : places of the repeaters by call sign, for beams to point at; None while they cannot be known.
    """

    own_defaults: Mapping[Category, EquipmentFields] = field(default_factory=dict)
    undirected: Aim = Aim.TURNS
    bands: tuple[str, ...] = ()
    hubs: Mapping[str, Position] | None = field(default_factory=dict)


@dataclass(frozen=True)
class _Heading:
    """A heading that is known: its column, the unit it names (or ''), its text as typed."""

    column: Column
    unit: str
    text: str


def read_roster(path: Path, *, rules: RosterRules = RosterRules()) -> Roster:
    """The members of a roster file. Raises : InputProblem with every fault of the file."""
    return parse_roster(read_text_file(path), file=path.name, rules=rules)


def parse_roster(text: str, *, file: str = ROSTER_FILE, rules: RosterRules = RosterRules()) -> Roster:
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
        station, call_sign = _member(columns, values, place, rules, faults)
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
    if not faults and rules.hubs is not None:
        stations, faults = _aimed(stations, rows, rules.hubs, columns, file)
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
            meant = nearest(name, [heading_key(heading) for heading in unknown])
            fix = f"{quoted(meant)} looks like it" if meant else "add it to the heading row"
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
    rules: RosterRules,
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
    headings_typed = {heading.column.name: heading.text for heading in columns if heading}
    absent = {column.name for column in ROSTER_COLUMNS} - present  # told with the headings, or just above
    fields, problems = read_record(
        MemberFields, ROSTER_COLUMNS, cells, place, headings=headings_typed, told=absent
    )
    found += problems
    position: Position | None = None
    if "position" in present or {"latitude", "longitude"} <= present:
        linked = fields is not None and fields.category is Category.INTERNET
        unsaid = not any(name in cells for name in ("latitude", "longitude", "position"))
        try:
            position = NOWHERE if linked and unsaid else position_from(cells)
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
            station = _station(fields, position, rules)
            warnings = position_warnings(position, category=fields.category, where=where)
            if _turns(station) and (fields.control or fields.relay):
                warnings.append(
                    f"{where}: a beam that turns counts towards each station in turn; a call from beside it "
                    "may go unheard."
                )
            station = replace(station, warnings=tuple(warnings))
        except InputProblem as problem:
            for fault in problem.faults:
                typed = cells[fault.column].heading if fault.column in cells else fault.column
                found.append(place.fault(fault.problem, fault.fix, heading=typed))
    faults += found
    return (None, call_sign) if found else (station, call_sign)


def _turns(station: Station) -> bool:
    return station.antenna.beam is not None and station.antenna.beam.aim is Aim.TURNS


def _aimed(
    stations: list[Station],
    rows: list[int],
    hubs: Mapping[str, Position],
    columns: list[_Heading | None],
    file: str,
) -> tuple[list[Station], list[Fault]]:
    """The stations with every beam that points at someone on its bearing, and the faults of the others."""
    places = {**hubs, **{station.call_sign: station.position for station in stations}}
    turned: list[Station] = []
    faults: list[Fault] = []
    for station, row in zip(stations, rows):
        try:
            turned.append(replace(station, antenna=aimed(station.antenna, station.position, places)))
        except InputProblem as problem:
            heading = _heading(columns, "direction")
            faults += [Place(file, row).fault(f.problem, f.fix, heading=heading) for f in problem.faults]
    return turned, faults


def _station(fields: MemberFields, position: Position, rules: RosterRules) -> Station:
    if fields.category is Category.INTERNET:
        return Station(
            call_sign=fields.call_sign,
            name=fields.name,
            position=position,
            category=fields.category,
            antenna=Antenna(height_m=0.0, gain_dbi=0.0),
            transmit_power_dbm=0.0,
            backup=fields.backup.power if fields.backup else None,
            willing_control=fields.control,
            willing_relay=fields.relay,
            brief=fields.brief,
            attendance=fields.attendance,
        )
    refuse_coarse(position)
    who = fields.category.value
    equipment = complete(
        fields,
        own_defaults=rules.own_defaults.get(fields.category, EquipmentFields()),
        defaults=DEFAULTS[fields.category],
        who=who,
        undirected=rules.undirected,
        bands=rules.bands,
    )
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
        attendance=fields.attendance,
        assumed=equipment.assumed,
        surroundings=equipment.extra_loss.surroundings,
        land=equipment.land,
        bands=equipment.bands,
    )

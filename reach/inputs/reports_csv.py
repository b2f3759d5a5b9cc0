"""Reports from a spreadsheet: one row says how one station heard another. Good rows are kept, faults
named.
"""

from __future__ import annotations

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from reach.errors import Fault, InputProblem
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.columns import Cell, Column, Place, clean_text, column_for, unknown_heading_warning
from reach.inputs.csv_records import csv_records
from reach.inputs.reports import (
    ListKind,
    Outcome,
    Report,
    ReportFile,
    ReportRow,
    checked,
    in_file,
    parse_level_dbm,
    parse_list_kind,
    parse_medium,
    parse_moment,
    parse_outcome,
    parse_readability,
    parse_replaces,
    parse_s_meter,
)
from reach.stations import Net

COLUMNS = (
    Column("date", also=("day",)),
    Column("time", also=("at", "time_local")),
    Column("station", also=("listener", "who_heard", "rx"), reads=lambda c: parse_call_sign(c.text)),
    Column("hears", also=("sender", "who_was_heard", "tx"), reads=lambda c: parse_call_sign(c.text)),
    Column("on", also=("channel", "repeater", "frequency_mhz", "band")),
    Column("heard", also=("outcome",), reads=lambda c: parse_outcome(c.text)),
    Column("readability", also=("r",), reads=lambda c: parse_readability(c.text)),
    Column("s_meter", also=("s",), reads=lambda c: parse_s_meter(c.text)),
    Column("dbm", also=("level_dbm", "level"), reads=lambda c: parse_level_dbm(c.text)),
    Column("list", also=("kind_of_list",), reads=lambda c: parse_list_kind(c.text)),
    Column("via", also=("relayed_by", "through"), reads=lambda c: parse_call_sign(c.text)),
    Column("by", also=("reported_by",)),
    Column("replaces", also=("corrects",), reads=lambda c: parse_replaces(c.text)),
    Column("number"),  # these three an export adds; they are made anew
    Column("source"),
    Column("came"),
    Column("round"),  # an exercise's form says in which round
)  # fmt: skip
_RESULTS = ("heard", "readability", "s_meter", "dbm")
_NEEDED = ("date", "station", "hears")
_NOON = "12:00"
_USUAL_HEADINGS = "date,time,station,hears,on,heard,readability"


@dataclass(frozen=True)
class Reading:
    """What reports are read against. zone : of times that name none; read_at : nothing is heard after it."""

    net: Net
    zone: datetime.tzinfo
    read_at: datetime.datetime


def parse_reports(text: str, *, file: str, against: Reading) -> ReportFile:
    """The reports in a CSV text with a heading row.

    Needed are date, station and hears. on : left out, the net's first channel. list : left out, the
    lists of a file with a "no" in it are complete, those of another name only those heard. A call to be
    listened for ('test') of a file with a column heard is no report until something is written for it.
    Raises : InputProblem where the file as a whole cannot be read; faults of single rows stand in the result.
    """
    broken: list[Fault] = []
    records = csv_records(text, file=file, faults=broken)
    heading = next(records, None)
    if heading is None:
        empty = Fault("is empty", f"start with a heading row: {_USUAL_HEADINGS}", file=file)
        raise InputProblem(broken or [empty])
    columns, warnings = _columns(heading[1], Place(file, heading[0]))
    rows: list[ReportRow] = []
    left_open: list[bool] = []
    faults: list[Fault] = []
    without_result = 0
    read_medium = _remembered(lambda said: parse_medium(said, against.net))
    for row, values in records:
        if len(values) != len(columns):
            faults.append(
                Fault(
                    f"{len(values)} cells under {len(columns)} headings",
                    "check for a lost separator, or put text that holds it in quotation marks",
                    file=file,
                    row=row,
                )
            )
            continue
        if _waits_for_result(columns, values):
            without_result += 1
            continue
        found, problems = _cells(columns, values, file, row)
        faults += problems
        if problems:
            continue
        try:
            report = _report(found, against, read_medium)
        except InputProblem as problem:
            faults += in_file(problem, file=file, row=row)
            continue
        rows.append(ReportRow(row, report))
        left_open.append("list" not in found)
    if without_result and not rows and not faults and not broken:
        raise InputProblem(
            Fault(
                "no row has a result yet",
                "write yes or no under heard, or R1 to R5 under readability, and the date beside it",
                file=file,
            )
        )
    if without_result:
        many = "s were" if without_result > 1 else " was"
        warnings.append(f"{file}: {without_result} row{many} passed over, with no result written.")
    if not rows and not faults and not broken:
        raise InputProblem(Fault("has no reports below its headings", "write one report a row", file=file))
    return ReportFile(file, _with_lists(rows, left_open), (*faults, *broken), tuple(warnings))


def _remembered(read: Callable[[str], str]) -> Callable[[str], str]:
    known: dict[str, str] = {}

    def reading(said: str) -> str:
        if said not in known:
            known[said] = read(said)
        return known[said]

    return reading


def _columns(headings: list[str], place: Place) -> tuple[list[Column | None], list[str]]:
    columns: list[Column | None] = []
    warnings: list[str] = []
    for heading in headings:
        found = column_for(heading, COLUMNS) if heading.strip() else None
        if found is None and heading.strip():
            warnings.append(unknown_heading_warning(heading, COLUMNS, place))
        columns.append(found[0] if found else None)
    names = [column.name for column in columns if column]
    faults = [
        place.fault(f"there is no column {name}", "add it to the heading row")
        for name in _NEEDED
        if name not in names
    ]
    faults += [
        place.fault(f"two columns say {name}", "keep one")
        for name in dict.fromkeys(names)
        if names.count(name) > 1
    ]
    if faults:
        raise InputProblem(faults)
    return columns, warnings


def _waits_for_result(columns: list[Column | None], values: list[str]) -> bool:
    """Whether a row is of a form to fill in, and nobody has."""
    said = {column.name: value.strip() for column, value in zip(columns, values) if column is not None}
    is_test = said.get("list", "").lower() == ListKind.TEST.value
    return is_test and "heard" in said and not any(said.get(name) for name in _RESULTS)


def _cells(
    columns: list[Column | None], values: list[str], file: str, row: int
) -> tuple[dict[str, Any], list[Fault]]:
    found: dict[str, Any] = {}
    faults: list[Fault] = []
    for column, value in zip(columns, values):
        if column is None or not value.strip():
            continue
        try:
            found[column.name] = column.read(Cell(clean_text(value), column.name))
        except InputProblem as problem:
            faults += in_file(problem, file=file, row=row, column=column.name)
    faults += [
        Fault(f"{name} is missing", "fill it in", file=file, row=row, column=name)
        for name in _NEEDED
        if name not in found and not any(fault.column == name for fault in faults)
    ]
    return found, faults


def _report(found: dict[str, Any], against: Reading, read_medium: Callable[[str], str]) -> Report:
    level_dbm, digit_db = found.get("dbm", (None, 1.0))
    report = Report(
        at=parse_moment(found["date"], found.get("time", _NOON), against.zone),
        listener=found["station"],
        sender=found["hears"],
        on=read_medium(found["on"]) if "on" in found else against.net.channels[0].name,
        outcome=found.get("heard", Outcome.HEARD),
        readability=found.get("readability"),
        s_units=found.get("s_meter"),
        level_dbm=level_dbm,
        level_digit_db=digit_db,
        list_kind=found.get("list", ListKind.HEARD_ONLY),
        via=found.get("via", ""),
        by=found.get("by", ""),
        replaces=found.get("replaces"),
    )
    return checked(report, now=against.read_at)


def _with_lists(rows: list[ReportRow], left_open: list[bool]) -> tuple[ReportRow, ...]:
    """A file that says who was not heard is a net's form: its lists are complete where they do not say.

    By the whole file, not list by list: whoever heard everybody has no "no" either, and leaving just those
    lists out would make every link look worse.
    """
    if all(row.report.outcome is not Outcome.NOT_HEARD for row in rows):
        return tuple(rows)
    return tuple(
        replace(row, report=replace(row.report, list_kind=ListKind.COMPLETE)) if is_open else row
        for row, is_open in zip(rows, left_open)
    )

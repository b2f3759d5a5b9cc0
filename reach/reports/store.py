"""The store: one SQLite file in the net folder. Rows are added and never changed, each source whole or not
at all.

A correction is a new row that names the one it replaces. SQLite's own journal makes every addition whole, so
that a process killed at any moment loses nothing that was told as stored.
"""

from __future__ import annotations

import datetime
import hashlib
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from dataclasses import dataclass
from pathlib import Path

from reach.errors import Fault, InputProblem, OutputProblem
from reach.inputs.reports import ListKind, Outcome, Report, ReportRow

STORE_FILE = "reports.sqlite"
_VERSION = 1
_LONGEST_WAIT_S = 30.0  # for another process that is writing
_TABLES = """
CREATE TABLE sources (
    id INTEGER PRIMARY KEY,
    name TEXT NOT NULL,
    fingerprint TEXT NOT NULL UNIQUE,
    came TEXT NOT NULL
);
CREATE TABLE reports (
    number INTEGER PRIMARY KEY,
    source INTEGER NOT NULL REFERENCES sources (id),
    row INTEGER NOT NULL,
    at TEXT NOT NULL,
    listener TEXT NOT NULL,
    sender TEXT NOT NULL,
    medium TEXT NOT NULL,
    outcome TEXT NOT NULL,
    readability INTEGER,
    s_units INTEGER,
    level_dbm REAL,
    level_digit_db REAL NOT NULL,
    list_kind TEXT NOT NULL,
    via TEXT NOT NULL,
    told_by TEXT NOT NULL,
    replaces INTEGER REFERENCES reports (number),
    content TEXT NOT NULL UNIQUE
);
CREATE TRIGGER reports_stay BEFORE UPDATE ON reports BEGIN SELECT RAISE(ABORT, 'rows stay'); END;
CREATE TRIGGER reports_remain BEFORE DELETE ON reports BEGIN SELECT RAISE(ABORT, 'rows stay'); END;
CREATE TRIGGER sources_stay BEFORE UPDATE ON sources BEGIN SELECT RAISE(ABORT, 'rows stay'); END;
CREATE TRIGGER sources_remain BEFORE DELETE ON sources BEGIN SELECT RAISE(ABORT, 'rows stay'); END;
"""
_COLUMNS = (
    "at, listener, sender, medium, outcome, readability, s_units, level_dbm, level_digit_db, list_kind, via,"
    " told_by, replaces"
)


@dataclass(frozen=True)
class Stored:
    """A report as kept. number : its own, for corrections; source : file or 'by hand'; came : when, UTC."""

    number: int
    source: str
    row: int
    came: str
    report: Report


@dataclass(frozen=True)
class Added:
    """What became of a source. known_source : the very same came before; known : rows that were there
    already.
    """

    added: int
    known: int
    known_source: bool = False


def store_place(folder: Path) -> Path:
    """Where a net folder's store is, there or not."""
    return folder / STORE_FILE


def add_reports(
    folder: Path, rows: Sequence[ReportRow], *, name: str, fingerprint: str, came: datetime.datetime
) -> Added:
    """Add a source with its reports, all of them or, on any fault, none.

    fingerprint : of the source's content; a source that came before adds nothing. Reports equal to one
    that is there are passed over. Raises : InputProblem for a correction of a number that is not there;
    OutputProblem when the store cannot be written or is not one.
    """
    with _open(folder, write=True) as connection:
        if connection.execute("SELECT 1 FROM sources WHERE fingerprint = ?", (fingerprint,)).fetchone():
            return Added(0, len(rows), known_source=True)
        with connection:
            connection.execute("BEGIN IMMEDIATE")
            last = connection.execute("SELECT COALESCE(MAX(number), 0) FROM reports").fetchone()[0]
            _check_replaced(rows, last, name)
            cursor = connection.execute(
                "INSERT INTO sources (name, fingerprint, came) VALUES (?, ?, ?)",
                (name, fingerprint, came.astimezone(datetime.UTC).isoformat(timespec="seconds")),
            )
            before = connection.total_changes
            connection.executemany(
                f"INSERT OR IGNORE INTO reports (source, row, {_COLUMNS}, content)"
                f" VALUES ({', '.join('?' * 16)})",
                ((cursor.lastrowid, row.row, *_values(row.report), _content(row.report)) for row in rows),
            )
            added = connection.total_changes - before
    return Added(added, len(rows) - added)


def _check_replaced(rows: Sequence[ReportRow], last: int, name: str) -> None:
    faults = [
        Fault(
            f"there is no report {row.report.replaces}",
            "export the reports to see their numbers",
            file=name,
            row=row.row,
        )
        for ahead, row in enumerate(rows)  # a row may replace one before it in the same source
        if row.report.replaces is not None and row.report.replaces > last + ahead
    ]  # fmt: skip
    if faults:
        raise InputProblem(faults)


def stored_reports(folder: Path) -> tuple[Stored, ...]:
    """Every report ever stored, in the order they came; none without a store. Raises : OutputProblem."""
    if not store_place(folder).exists():
        return ()
    with _open(folder, write=False) as connection:
        found = connection.execute(
            f"SELECT number, name, row, came, {_COLUMNS} FROM reports"
            " JOIN sources ON sources.id = reports.source ORDER BY number"
        ).fetchall()
    return tuple(Stored(line[0], line[1], line[2], line[3], _report(line[4:])) for line in found)


def standing(reports: Sequence[Stored]) -> tuple[Stored, ...]:
    """Those that no later correction replaces, and that are not void themselves."""
    replaced = {stored.report.replaces for stored in reports}
    return tuple(
        stored
        for stored in reports
        if stored.number not in replaced and stored.report.outcome is not Outcome.VOID
    )


def said_fingerprint(reports: Sequence[Report]) -> str:
    """A fingerprint of reports that came by hand: the same said twice is the same."""
    return hashlib.sha256("\n".join(_content(report) for report in reports).encode()).hexdigest()


@contextmanager
def _open(folder: Path, *, write: bool) -> Iterator[sqlite3.Connection]:
    place = store_place(folder)
    try:
        with closing(sqlite3.connect(place, timeout=_LONGEST_WAIT_S, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = EXTRA")
            connection.execute("PRAGMA foreign_keys = ON")
            if write:
                _make(connection)
            version = connection.execute("PRAGMA user_version").fetchone()[0]
            if version != _VERSION:
                raise OutputProblem(
                    f"{place} is of version {version}, and version {_VERSION} is read here; use the program "
                    "that wrote it."
                )
            yield connection
    except sqlite3.Error as error:
        raise OutputProblem(f"{place}: the reports could not be reached ({error}).") from error


def _make(connection: sqlite3.Connection) -> None:
    if connection.execute("PRAGMA user_version").fetchone()[0]:
        return
    connection.execute("BEGIN IMMEDIATE")
    if not connection.execute("PRAGMA user_version").fetchone()[0]:  # nobody else made it meanwhile
        for statement in _TABLES.split(";\n"):
            if statement.strip():
                connection.execute(statement)
        connection.execute(f"PRAGMA user_version = {_VERSION}")
    connection.execute("COMMIT")


def _values(report: Report) -> tuple[object, ...]:
    return (
        report.at.isoformat(timespec="seconds"),
        report.listener,
        report.sender,
        report.on,
        report.outcome.value,
        report.readability,
        report.s_units,
        report.level_dbm,
        report.level_digit_db,
        report.list_kind.value,
        report.via,
        report.by,
        report.replaces,
    )


def _content(report: Report) -> str:
    utc = report.at.astimezone(datetime.UTC).isoformat(timespec="seconds")
    return hashlib.sha256(repr((utc, *_values(report)[1:])).encode()).hexdigest()


def _report(values: tuple[object, ...]) -> Report:
    at, listener, sender, medium, outcome, r, s, dbm, digit, kind, via, by, replaces = values
    return Report(
        at=datetime.datetime.fromisoformat(str(at)),
        listener=str(listener),
        sender=str(sender),
        on=str(medium),
        outcome=Outcome(outcome),
        readability=r if isinstance(r, int) else None,
        s_units=s if isinstance(s, int) else None,
        level_dbm=dbm if isinstance(dbm, float) else None,
        level_digit_db=digit if isinstance(digit, float) else 1.0,
        list_kind=ListKind(kind),
        via=str(via),
        by=str(by),
        replaces=replaces if isinstance(replaces, int) else None,
    )

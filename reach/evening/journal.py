"""The journal of an evening: one SQLite table that only grows, each event on disk before it counts.

Write-ahead log with a full sync at every commit; one process, one connection, one thread at a time. Whoever
opens it holds it: SQLite's own exclusive lock, which ends with the process, keeps every other one out. Copy a
journal only when it is closed: until then the newest events stand in the file beside it, and a sync service
that copies the folder meanwhile copies it without them.
"""

from __future__ import annotations

import datetime
import json
import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

from reach.errors import InputProblem, OutputProblem
from reach.evening.acts import Act, Undone, about, act_body, act_name, read_act
from reach.evening.fold import Event

FOLDER = "evenings"  # in the net folder
LONGEST_TOKEN = 64
_VERSION = 1
_APPLICATION = 0x52454348  # says in the file whose it is
_TABLES = """
CREATE TABLE event (
    seq INTEGER PRIMARY KEY,
    token TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    offset_minutes INTEGER NOT NULL,
    kind TEXT NOT NULL,
    about TEXT NOT NULL,
    body TEXT NOT NULL,
    undoes INTEGER
) STRICT;
CREATE TRIGGER event_stays BEFORE UPDATE ON event BEGIN SELECT RAISE(ABORT, 'events stay'); END;
CREATE TRIGGER event_remains BEFORE DELETE ON event BEGIN SELECT RAISE(ABORT, 'events stay'); END;
"""
_WAL, _FULL, _EXTRA = "wal", 2, 3


class Newer(Exception):
    """Another window noted something about the same station meanwhile. events : those."""

    def __init__(self, events: tuple[Event, ...]) -> None:
        super().__init__(f"{len(events)} newer events about the same station")
        self.events = events


class Journal:
    """An evening's journal, open. clock : the time now, with its zone.

    A token sent twice is one event; so a page may send again whatever was not answered.
    Raises : OutputProblem where the file is none, is of another version, is open elsewhere or cannot be
    trusted to keep what it is given.
    """

    def __init__(self, place: Path, *, clock: Callable[[], datetime.datetime]) -> None:
        self.place, self._clock = place, clock
        try:
            place.parent.mkdir(exist_ok=True)
            self._connection = sqlite3.connect(
                place, timeout=2.0, isolation_level=None, check_same_thread=False
            )
            try:
                self._prepare()
                self._events = events_of(self._connection, place)
            except BaseException:
                self._connection.close()
                raise
        except sqlite3.OperationalError as error:
            if "locked" in str(error):
                raise OutputProblem(
                    f"{place} is open at another desk; go on there, or end it first."
                ) from None
            raise OutputProblem(f"{place}: the journal cannot be kept there ({error}).") from error
        except sqlite3.Error as error:
            raise OutputProblem(f"{place}: the journal cannot be read ({error}).") from error
        except OSError as error:
            raise OutputProblem(f"{place.parent}: {error.strerror or error}.") from error

    def _prepare(self) -> None:
        run = self._connection.execute
        run("PRAGMA locking_mode = EXCLUSIVE")
        run("PRAGMA fullfsync = 1")
        run("PRAGMA trusted_schema = OFF")
        mode, sync = run("PRAGMA journal_mode = WAL").fetchone()[0], _FULL
        if mode != _WAL:  # not granted on some shared drives
            mode, sync = run("PRAGMA journal_mode = DELETE").fetchone()[0], _EXTRA
        run(f"PRAGMA synchronous = {sync}")
        kept = [
            run(f"PRAGMA {name}").fetchone()[0] for name in ("synchronous", "fullfsync", "trusted_schema")
        ]
        if kept != [sync, 1, 0] or mode not in (_WAL, "delete"):
            raise OutputProblem(f"{self.place}: this drive does not keep what it is given; choose another.")
        run("BEGIN IMMEDIATE")  # from here on the file is ours
        version = run("PRAGMA user_version").fetchone()[0]
        if not version and not run("SELECT COUNT(*) FROM sqlite_master").fetchone()[0]:
            for statement in _TABLES.split(";\n"):
                if statement.strip():
                    run(statement)
            run(f"PRAGMA application_id = {_APPLICATION}")
            run(f"PRAGMA user_version = {_VERSION}")
            version = _VERSION
        run("COMMIT")
        if version != _VERSION or run("PRAGMA application_id").fetchone()[0] != _APPLICATION:
            raise OutputProblem(f"{self.place} is no journal of this program's version {_VERSION}.")

    @property
    def events(self) -> tuple[Event, ...]:
        """All of them, in order."""
        return tuple(self._events)

    @property
    def seq(self) -> int:
        """Number of the last event, 0 for none."""
        return self._events[-1].seq if self._events else 0

    def append(self, act: Act, *, token: str, seen: int | None = None) -> Event:
        """Keep an act; it is on disk when this returns.

        seen : number of the last event its sender knew; None where nobody else could have noted anything.
        Raises : Newer when the same station was noted about since; OutputProblem when the disk takes nothing.
        """
        for event in reversed(self._events):
            if event.token == token:
                return event
        subject = self._subject(act)
        if seen is not None and subject:
            newer = tuple(e for e in self._events if e.seq > seen and self._subject(e.act) == subject)
            if newer:
                raise Newer(newer)
        now = self._clock()
        offset = now.utcoffset() or datetime.timedelta()
        event = Event(
            self.seq + 1, now.astimezone(datetime.UTC), int(offset.total_seconds() // 60), act, token
        )
        row = (
            event.seq,
            token,
            event.at.isoformat(),
            event.offset_minutes,
            act_name(act),
            subject,
            json.dumps(act_body(act), ensure_ascii=False),
            act.of if isinstance(act, Undone) else None,
        )
        try:
            self._keep(row)
        except sqlite3.Error as error:
            if self._connection.in_transaction:
                self._connection.execute("ROLLBACK")
            raise OutputProblem(f"{self.place}: nothing can be written ({error}).") from error
        self._events.append(event)
        return event

    def _keep(self, row: tuple[object, ...]) -> None:
        _killed_at("before begin")
        self._connection.execute("BEGIN IMMEDIATE")
        self._connection.execute("INSERT INTO event VALUES (?, ?, ?, ?, ?, ?, ?, ?)", row)
        _killed_at("before commit")
        self._connection.execute("COMMIT")
        _killed_at("after commit")

    def _subject(self, act: Act) -> str:
        """The station an act is about; an undoing's is that of what it takes back."""
        while isinstance(act, Undone) and 1 <= act.of <= len(self._events):
            act = self._events[act.of - 1].act
        return about(act)

    def close(self) -> None:
        """Bring everything into the one file and let go of it."""
        try:
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        finally:
            self._connection.close()


def events_of(connection: sqlite3.Connection, place: Path) -> list[Event]:
    """Every event of a journal, in order. Raises : OutputProblem for one that cannot be read."""
    rows = connection.execute("SELECT seq, at, offset_minutes, kind, body, token FROM event ORDER BY seq")
    try:
        return [
            Event(seq, datetime.datetime.fromisoformat(at), offset, read_act(kind, json.loads(body)), token)
            for seq, at, offset, kind, body, token in rows
        ]
    except (InputProblem, ValueError) as problem:
        raise OutputProblem(f"{place}: an event cannot be read ({problem}).") from problem


def _killed_at(point: str) -> None:
    """For the tests: end this process as a power cut would, at the named point."""
    if os.environ.get("REACH_TEST_KILL") == point:
        os.kill(os.getpid(), 9)


def journal_place(folder: Path, day: datetime.date) -> Path:
    """Where the journal of an evening is kept, there or not."""
    return folder / FOLDER / f"{day:%Y-%m-%d}.sqlite"

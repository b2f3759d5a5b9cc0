"""The store: only added to, nothing twice, nothing half, nothing lost."""

from __future__ import annotations

import datetime
import os
import random
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from reach.drawings.exports.reports import reports_adi, reports_csv
from reach.errors import InputProblem, OutputProblem
from reach.inputs.adif import parse_adi
from reach.inputs.reports import ListKind, Outcome, Report, ReportRow
from reach.inputs.reports_adif import reports_of
from reach.inputs.reports_csv import parse_reports
from reach.reports.store import (
    add_reports,
    said_fingerprint,
    standing,
    store_place,
    stored_reports,
)
from tests.inputs.test_reports import AGAINST, NET, NOW

AT = datetime.datetime(2026, 11, 24, 19, 30, tzinfo=datetime.UTC)
ONE = Report(
    at=AT, listener="QK3ABC", sender="QK3DEF", on="two metres", readability=4, list_kind=ListKind.TEST
)
OTHERS = [
    replace(ONE, listener="QK3GHI", readability=None, s_units=7),
    replace(ONE, sender="QK3GHI", outcome=Outcome.NOT_HEARD, readability=None, list_kind=ListKind.COMPLETE),
    replace(
        ONE, on="QK3RA", readability=None, level_dbm=-97.5, level_digit_db=0.1, via="QK3XYZ", by="Ann, of 3"
    ),
]


def add(folder: Path, *reports: Report, name: str = "heard.csv") -> tuple[int, int]:
    rows = [ReportRow(k, report) for k, report in enumerate(reports, start=2)]
    done = add_reports(folder, rows, name=name, fingerprint=said_fingerprint(reports), came=NOW)
    return done.added, done.known


def test_the_same_source_adds_nothing_and_neither_does_the_same_row(tmp_path: Path) -> None:
    assert stored_reports(tmp_path) == ()
    assert add(tmp_path, ONE, OTHERS[0]) == (2, 0)
    assert add(tmp_path, ONE, OTHERS[0]) == (0, 2)
    assert add(tmp_path, OTHERS[1], ONE) == (1, 1)
    found = stored_reports(tmp_path)
    assert [s.report for s in found] == [ONE, OTHERS[0], OTHERS[1]]
    assert (found[0].source, found[0].row, found[0].came) == ("heard.csv", 2, "2026-11-25T12:00:00+00:00")


def test_a_correction_is_a_new_row(tmp_path: Path) -> None:
    add(tmp_path, ONE, OTHERS[0])
    add(tmp_path, replace(ONE, readability=2, replaces=1), replace(ONE, outcome=Outcome.VOID, replaces=2))
    assert len(stored_reports(tmp_path)) == 4
    assert [(s.number, s.report.readability) for s in standing(stored_reports(tmp_path))] == [(3, 2)]
    with pytest.raises(InputProblem, match="there is no report 99"):
        add(tmp_path, replace(ONE, readability=1), replace(ONE, readability=3, replaces=99))
    assert len(stored_reports(tmp_path)) == 4, "a refused source leaves the store as it was"


def test_rows_cannot_be_changed(tmp_path: Path) -> None:
    add(tmp_path, ONE)
    with closing(sqlite3.connect(store_place(tmp_path))) as connection:
        for statement in ("UPDATE reports SET readability = 1", "DELETE FROM reports", "DELETE FROM sources"):
            with pytest.raises(sqlite3.DatabaseError, match="rows stay"):
                connection.execute(statement)


def test_a_file_that_is_no_store(tmp_path: Path) -> None:
    store_place(tmp_path).write_bytes(b"not a database, but long enough to be taken for one" * 20)
    with pytest.raises(OutputProblem, match=r"reports\.sqlite"):
        stored_reports(tmp_path)


@pytest.mark.parametrize("form", ["csv", "adi"])
def test_written_back_and_read_again(tmp_path: Path, form: str) -> None:
    add(tmp_path, ONE, *OTHERS)
    found = stored_reports(tmp_path)
    if form == "csv":
        read = parse_reports(reports_csv(found), file="all.csv", against=AGAINST)
    else:
        text = reports_adi(standing(found), net=NET, program_version="1")
        read = reports_of(parse_adi(text, file="all.adi"), file="all.adi", against=AGAINST)
    assert not read.faults
    back = [replace(row.report, at=row.report.at.astimezone(datetime.UTC)) for row in read.rows]
    expected = [ONE, *OTHERS]
    if form == "adi":  # a log says who made it where nobody is named
        expected = [replace(r, by=r.by or r.listener) for r in expected]
    assert back == expected
    if form == "csv":
        assert add(tmp_path, *(row.report for row in read.rows), name="all.csv") == (0, 4)


WRITER = """
import sys
from pathlib import Path
from dataclasses import replace
from tests.reports.test_store import ONE, add
for source in range(10_000):
    rows = [replace(ONE, sender=f"QK{source}A{k}Z", by=str(source)) for k in range(20)]
    add(Path(sys.argv[1]), *rows, name=str(source))
    print(source, flush=True)
"""


def test_killed_at_any_moment_nothing_is_lost(tmp_path: Path) -> None:
    rng = random.Random(4)
    for round_number in range(3):
        folder = tmp_path / str(round_number)
        folder.mkdir()
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(folder)],
            stdout=subprocess.PIPE, text=True, cwd=Path(__file__).parents[2], env={**os.environ},
        )  # fmt: skip
        assert writer.stdout is not None
        told = [writer.stdout.readline()]
        time.sleep(rng.uniform(0.0, 0.15))
        writer.send_signal(signal.SIGKILL)
        told += writer.stdout.readlines()
        writer.wait()
        writer.stdout.close()
        last = max(int(line) for line in told if line.endswith("\n") and line.strip())
        found = stored_reports(folder)
        by_source: dict[str, int] = {}
        for stored in found:
            by_source[stored.source] = by_source.get(stored.source, 0) + 1
        assert set(by_source.values()) == {20}, "every source whole"
        assert {str(k) for k in range(last + 1)} <= set(by_source), "everything told as stored is there"
        with closing(sqlite3.connect(store_place(folder))) as connection:
            assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)


def test_an_export_with_corrections_makes_the_same_store_elsewhere(tmp_path: Path) -> None:
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    there.mkdir()
    add(here, ONE, OTHERS[0])
    add(here, replace(ONE, readability=2, replaces=1))
    read = parse_reports(reports_csv(stored_reports(here)), file="all.csv", against=AGAINST)
    assert not read.faults
    assert add(there, *(row.report for row in read.rows)) == (3, 0)
    assert [s.number for s in standing(stored_reports(there))] == [2, 3]

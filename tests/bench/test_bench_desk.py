"""The desk while a net runs: keeping a note against a bare commit of the same row, and what a page asks after
it against writing that answer as JSON. Ratios of processor time; only with --benchmark-enable.

Run with `pytest tests/bench/test_bench_desk.py --benchmark-enable -s`.
"""

from __future__ import annotations

import asyncio
import datetime
import json
import sqlite3
import time
from collections.abc import Callable
from dataclasses import asdict
from pathlib import Path

import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from reach.answers.open_net import open_net
from reach.desk.night import Night
from reach.desk.tonight import tonight_view
from reach.evening.acts import CheckedIn, Opened
from reach.evening.check_ins import CheckIn
from reach.evening.journal import Journal, journal_place
from tests.answers.small_net import made_in

NOTES = 200  # a long net: sixty check-ins and what is said of each
NOW = datetime.datetime(2026, 12, 1, 19, 30, tzinfo=datetime.UTC)


def only_when_measured(benchmark: BenchmarkFixture) -> None:
    if benchmark.disabled:
        pytest.skip("a measure; run with --benchmark-enable")


def bare_commits_s(place: Path, count: int) -> float:
    """Processor time of so many rows of a note's size, each committed by itself as the desk commits."""
    with sqlite3.connect(place, isolation_level=None) as bare:
        bare.execute("PRAGMA journal_mode=WAL")
        bare.execute("PRAGMA synchronous=FULL")
        bare.execute("CREATE TABLE event(seq INTEGER PRIMARY KEY, token TEXT UNIQUE, body TEXT) STRICT")

        def insert(number: int) -> None:
            bare.execute("BEGIN IMMEDIATE")
            bare.execute("INSERT INTO event(token, body) VALUES (?, ?)", (f"token-{number}", "x" * 120))
            bare.execute("COMMIT")

        return spent_s(lambda: [insert(number) for number in range(count)])


def spent_s(act: Callable[[], object]) -> float:
    start = time.process_time()
    act()
    return time.process_time() - start


def evening(folder: Path) -> tuple[Night, Callable[[int], object]]:
    opened = open_net(folder).__enter__()  # closed with the process
    night = Night(opened, Journal(journal_place(folder, NOW.date()), clock=lambda: NOW), clock=lambda: NOW)

    def note(number: int) -> object:
        act = CheckedIn(
            call=f"QK{number % 10}{chr(65 + number % 26)}{chr(65 + number // 26)}", kind=CheckIn.BASE
        )
        return asyncio.run(night.note(act, token=f"token-{number}", seen=None))

    asyncio.run(night.note(Opened(on="two metres", control="QK1A"), token="token-opened", seen=None))
    return night, note


def test_a_note_costs_little_more_than_its_commit(benchmark: BenchmarkFixture, tmp_path: Path) -> None:
    only_when_measured(benchmark)
    night, note = evening(made_in(tmp_path))
    ours = spent_s(lambda: [note(number) for number in range(NOTES)]) / NOTES
    bare = bare_commits_s(tmp_path / "bare.db", NOTES) / NOTES
    night.end()
    benchmark.extra_info.update(
        {"a note, ms": ours * 1e3, "a bare commit, ms": bare * 1e3, "ratio": ours / bare}
    )
    print("\n", benchmark.extra_info)
    benchmark.pedantic(lambda: None, rounds=1)
    assert ours < 40.0 * bare


def test_what_a_page_asks_costs_little_more_than_writing_it(
    benchmark: BenchmarkFixture, tmp_path: Path
) -> None:
    only_when_measured(benchmark)
    night, note = evening(made_in(tmp_path))
    for number in range(NOTES):
        note(number)
    told = asdict(tonight_view(night))
    ours = min(spent_s(lambda: tonight_view(night)) for _ in range(20))
    writing = min(spent_s(lambda: json.dumps(told)) for _ in range(20))
    night.end()
    benchmark.extra_info.update({"the answer, ms": ours * 1e3, "as JSON, ms": writing * 1e3})
    print("\n", benchmark.extra_info)
    benchmark.pedantic(lambda: None, rounds=1)
    assert ours < 20.0 * writing

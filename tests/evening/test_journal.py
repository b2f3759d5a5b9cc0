"""The journal: on disk before it counts, one event a token, one desk a file, killed at every point."""

from __future__ import annotations

import datetime
import os
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from reach.errors import OutputProblem
from reach.evening.acts import CheckedIn, HandedOver, Opened, Undone
from reach.evening.check_ins import CheckIn
from reach.evening.fold import fold
from reach.evening.journal import Journal, Newer, journal_place

ZONE = datetime.timezone(datetime.timedelta(hours=1))
AT = datetime.datetime(2026, 11, 24, 19, 30, tzinfo=ZONE)


def clock() -> datetime.datetime:
    return AT


def entry(call: str) -> CheckedIn:
    return CheckedIn(call=call, kind=CheckIn.BASE)


@pytest.fixture
def place(tmp_path: Path) -> Path:
    return journal_place(tmp_path, AT.date())


def opened(place: Path) -> Journal:
    journal = Journal(place, clock=clock)
    journal.append(Opened(on="two metres", control="QK3ABC"), token="token-opened")
    return journal


def test_what_was_noted_is_there_the_next_time(place: Path) -> None:
    journal = opened(place)
    event = journal.append(entry("QK3DEF"), token="token-1")
    assert (event.seq, event.at, event.offset_minutes) == (2, AT.astimezone(datetime.UTC), 60)
    journal.close()
    assert [path.name for path in place.parent.iterdir()] == [place.name]  # all in the one file
    again = Journal(place, clock=clock)
    assert [one.act for one in again.events] == [one.act for one in journal.events]
    again.close()


def test_the_same_token_is_one_event(place: Path) -> None:
    journal = opened(place)
    first = journal.append(entry("QK3DEF"), token="token-1")
    assert journal.append(entry("QK3DEF"), token="token-1") == first and journal.seq == 2
    journal.close()


def test_two_windows_disagree_only_about_the_same_station(place: Path) -> None:
    journal = opened(place)
    journal.append(entry("QK3DEF"), token="token-1", seen=1)
    journal.append(entry("QK3GHI"), token="token-2", seen=1)  # another one
    with pytest.raises(Newer) as newer:
        journal.append(entry("QK3DEF"), token="token-3", seen=1)
    assert [one.seq for one in newer.value.events] == [2]
    with pytest.raises(Newer):  # taking back is about the station of what is taken back
        journal.append(Undone(of=2), token="token-4", seen=1)
    journal.append(HandedOver(to="QK3GHI"), token="token-5", seen=1)
    assert journal.seq == 4
    journal.close()


def test_rows_stay(place: Path) -> None:
    journal = opened(place)
    journal.close()
    with sqlite3.connect(place) as connection:
        for statement in ("DELETE FROM event", "UPDATE event SET kind = 'x'"):
            with pytest.raises(sqlite3.IntegrityError, match="events stay"):
                connection.execute(statement)


def test_a_second_desk_is_told_where_the_first_is(place: Path) -> None:
    journal = opened(place)
    with pytest.raises(OutputProblem, match="open at another desk"):
        Journal(place, clock=clock)
    journal.close()
    Journal(place, clock=clock).close()


def test_what_is_no_journal_is_left_alone(place: Path) -> None:
    place.parent.mkdir()
    place.write_text("a shopping list, much longer than a hundred bytes " * 9)
    with pytest.raises(OutputProblem, match="cannot be read"):
        Journal(place, clock=clock)
    assert place.read_text().startswith("a shopping list")
    place.unlink()
    with sqlite3.connect(place) as connection:
        connection.execute("CREATE TABLE other (x)")
    with pytest.raises(OutputProblem, match="no journal"):
        Journal(place, clock=clock)


KILLED = """
import datetime, os, sys
from pathlib import Path
from reach.evening.acts import CheckedIn
from reach.evening.check_ins import CheckIn
from reach.evening.journal import Journal
clock = lambda: datetime.datetime(2026, 11, 24, 19, 30, tzinfo=datetime.timezone.utc)
journal = Journal(Path(sys.argv[1]), clock=clock)
journal.append(CheckedIn(call="QK3DEF", kind=CheckIn.BASE), token="token-1")
print("kept", flush=True)
os.environ["REACH_TEST_KILL"] = sys.argv[2]
journal.append(CheckedIn(call="QK3GHI", kind=CheckIn.BASE), token="token-2")
"""


@pytest.mark.parametrize(("point", "kept"), [("before begin", 1), ("before commit", 1), ("after commit", 2)])
def test_killed_at_any_point_and_sent_again_there_is_one_row(place: Path, point: str, kept: int) -> None:
    run = subprocess.run(
        [sys.executable, "-c", KILLED, str(place), point], capture_output=True, text=True, env=os.environ
    )
    assert run.returncode == -9 and run.stdout == "kept\n"
    journal = Journal(place, clock=clock)
    assert journal.seq == kept
    journal.append(entry("QK3GHI"), token="token-2")  # as the page does
    assert [one.act.call for one in journal.events] == ["QK3DEF", "QK3GHI"]  # type: ignore[union-attr]
    journal.close()


def test_power_lost_at_any_byte_of_the_log_loses_nothing_that_was_whole(place: Path, tmp_path: Path) -> None:
    """The log cut at every frame, within frames, its tail spoilt: whole commits stay, the rest goes."""
    journal = opened(place)
    sizes = []
    wal = place.with_name(place.name + "-wal")
    for number in range(6):
        journal.append(entry(f"QK3AA{chr(65 + number)}"), token=f"token-{number}")
        sizes.append(wal.stat().st_size)
    copied, log = place.read_bytes(), wal.read_bytes()
    journal.close()
    assert len(set(sizes)) == len(sizes)
    cuts = {cut for size in sizes for cut in (size - 3000, size - 1, size, size + 700) if cut <= len(log)}
    for cut in sorted(cuts):
        for tail in (b"", bytes(2000), b"\xa5" * 2000):
            folder = tmp_path / f"cut-{cut}-{len(tail)}-{tail[:1].hex()}"
            folder.mkdir()
            (folder / place.name).write_bytes(copied)
            (folder / wal.name).write_bytes(log[:cut] + tail)
            again = Journal(folder / place.name, clock=clock)
            whole = sum(size <= cut for size in sizes)
            assert len(fold(again.events).sitting.calls) == whole  # type: ignore[union-attr]
            again.close()
            shutil.rmtree(folder)


def test_a_full_disk_is_said_and_the_journal_goes_on(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    journal = opened(place)
    real = journal._keep

    def full(row: tuple[object, ...]) -> None:
        raise sqlite3.OperationalError("database or disk is full")

    monkeypatch.setattr(journal, "_keep", full)
    with pytest.raises(OutputProblem, match="disk is full"):
        journal.append(entry("QK3DEF"), token="token-1")
    assert journal.seq == 1
    monkeypatch.setattr(journal, "_keep", real)
    assert journal.append(entry("QK3DEF"), token="token-1").seq == 2
    journal.close()

"""Results are written whole or not at all, and only where they may be."""

from __future__ import annotations

import os
import stat
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from reach.errors import OutputProblem
from reach.files import (
    Existing,
    check_writable,
    drop_temporaries,
    made_folder,
    temporary_folder,
    temporary_name,
    whole_file,
    write_bytes,
    write_text,
)


def test_a_file_is_complete_and_readable_by_others(tmp_path: Path) -> None:
    write_text(tmp_path / "a.csv", "x\r\ny", Existing.KEEP)
    assert (tmp_path / "a.csv").read_bytes() == b"x\r\ny"
    umask = os.umask(0)
    os.umask(umask)
    assert (tmp_path / "a.csv").stat().st_mode & 0o777 == 0o666 & ~umask
    write_bytes(tmp_path / "a.csv", b"z", Existing.REPLACE)
    assert (tmp_path / "a.csv").read_bytes() == b"z"


def test_what_is_there_stays_unless_offered(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("mine", encoding="utf-8")
    with pytest.raises(OutputProblem, match="already exists; add --replace"):
        write_text(tmp_path / "a", "yours")
    with pytest.raises(OutputProblem, match="appeared while it was being made"), whole_file(tmp_path / "b"):
        (tmp_path / "b").write_text("mine", encoding="utf-8")
    assert (
        (tmp_path / "a").read_text(encoding="utf-8") == (tmp_path / "b").read_text(encoding="utf-8") == "mine"
    )
    assert sorted(os.listdir(tmp_path)) == ["a", "b"]


@pytest.mark.parametrize("stop", [KeyboardInterrupt, RuntimeError, MemoryError])
def test_an_interruption_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, stop: type[BaseException]
) -> None:
    (tmp_path / "a").write_text("old", encoding="utf-8")
    with pytest.raises(stop), whole_file(tmp_path / "a", Existing.REPLACE) as temporary:
        temporary.write_text("half", encoding="utf-8")
        raise stop
    assert os.listdir(tmp_path) == ["a"] and (tmp_path / "a").read_text(encoding="utf-8") == "old"


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="this system has no /dev/full")
def test_a_full_disk_is_one_clear_line(tmp_path: Path) -> None:
    message = "a could not be written .No space left on device.; nothing was left behind"
    with (
        pytest.raises(OutputProblem, match=message),
        whole_file(tmp_path / "a"),
        open("/dev/full", "wb", buffering=0) as full,  # the kernel's own full disk
    ):
        full.write(b"x")
    assert os.listdir(tmp_path) == []


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no named pipes")
def test_places_that_cannot_be_written_are_refused_at_once(tmp_path: Path) -> None:
    with pytest.raises(OutputProblem, match="is a folder; give a file name"):
        check_writable(tmp_path)
    with pytest.raises(OutputProblem, match="nowhere does not exist; make it first"):
        check_writable(tmp_path / "nowhere" / "a")
    os.mkfifo(tmp_path / "pipe")
    for odd in (tmp_path / "pipe", Path(os.devnull)):
        with pytest.raises(OutputProblem, match="is a device or a pipe"):
            check_writable(odd, Existing.REPLACE)
    assert (tmp_path / "pipe").is_fifo()


def test_a_folder_that_cannot_be_written_to(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # the superuser may write anywhere, so the answer of the system is given here
    monkeypatch.setattr(os, "access", lambda path, mode: False)
    with pytest.raises(OutputProblem, match="cannot be written to; choose another"):
        check_writable(tmp_path / "a")


def test_what_dead_processes_left_goes_and_nothing_else(tmp_path: Path) -> None:
    process = subprocess.Popen([sys.executable, "-c", "pass"])
    process.wait()
    own = temporary_name(".html")
    dead = own.replace(f"-{os.getpid()}-", f"-{process.pid}-")
    machine = own.split("-")[1]
    kept = [
        own,  # of this process
        own.replace(f"-{os.getpid()}-", f"-{os.getppid()}-"),  # of one that runs
        dead.replace(machine, "0" * 8),  # of another machine
        dead[1:],  # not hidden
        f".map-{process.pid}.html",
        f".reach-{machine}-{process.pid}.html",
        ".reach-notes",
    ]
    for name in [*kept, dead]:
        (tmp_path / name).write_text("x", encoding="utf-8")
    folder = tmp_path / (dead.removesuffix(".html")[:-1] + "0")
    folder.mkdir()
    (folder / "half.tif").write_text("x", encoding="utf-8")
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    (elsewhere / "mine").write_text("x", encoding="utf-8")
    (tmp_path / (dead.removesuffix(".html")[:-1] + "1")).symlink_to(elsewhere)
    write_text(tmp_path / "a", "whole")
    left = set(os.listdir(tmp_path))
    assert dead not in left and folder.name not in left
    assert set(kept) <= left and (elsewhere / "mine").exists()


def test_a_temporary_folder_is_private_and_goes(tmp_path: Path) -> None:
    with pytest.raises(KeyboardInterrupt), temporary_folder(tmp_path) as folder:
        (folder / "x").write_text("x", encoding="utf-8")
        assert folder.stat().st_mode & 0o077 == 0
        raise KeyboardInterrupt
    assert os.listdir(tmp_path) == []


def test_what_is_under_way_can_be_dropped_at_once(tmp_path: Path) -> None:
    with temporary_folder(tmp_path) as folder, pytest.raises(OutputProblem), whole_file(tmp_path / "a"):
        (folder / "x").write_text("x", encoding="utf-8")
        assert len(os.listdir(tmp_path)) == 2
        drop_temporaries()
        assert os.listdir(tmp_path) == []


def test_a_folder_to_keep_things_in_is_made_and_stays(tmp_path: Path) -> None:
    kept = made_folder(tmp_path / "deep" / "kept")
    (kept / "whole").write_text("x", encoding="utf-8")
    assert made_folder(tmp_path / "deep" / "kept") == kept and (kept / "whole").exists()
    with pytest.raises(OutputProblem, match="is not a folder"):
        made_folder(kept / "whole")


def test_files_written_by_many_threads_at_once_have_the_usual_mode(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Reading the umask sets it for a moment; a thread that read it then would leave it so."""
    real = os.umask
    before = real(0o027)

    def slow(mask: int) -> int:
        found = real(mask)
        time.sleep(0.002)
        return found

    monkeypatch.setattr(os, "umask", slow)
    try:
        paths = [tmp_path / f"{number}.txt" for number in range(40)]
        with ThreadPoolExecutor(8) as pool:
            list(pool.map(lambda path: write_bytes(path, b"x"), paths))
        assert {stat.S_IMODE(path.stat().st_mode) for path in paths} == {0o640}
        assert real(0o027) == 0o027
    finally:
        real(before)

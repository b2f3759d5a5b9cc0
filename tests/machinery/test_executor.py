"""Tasks side by side: same results by every executor; a lost worker costs only its own task."""

from __future__ import annotations

import os
import signal
import sys
import threading
import time
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from reach.errors import OutOfRange, ReachError
from reach.machinery.executor import Cluster, Here, Processes


def square(number: int) -> int:
    return number * number


def square_but_die_once(number: int, folder: Path) -> int:
    """The first process that gets 3 dies; every number done leaves a mark."""
    mark = folder / f"died-{number}"
    if number == 3 and not mark.exists():
        mark.touch()
        os._exit(1)
    with open(folder / f"done-{number}", "a", encoding="utf-8") as log:
        log.write("x")
    return number * number


def told_apart(number: int, folder: Path) -> int:
    """Leaves a mark each time it begins; the first process that gets 2 is killed from outside."""
    with open(folder / f"begun-{number}", "a", encoding="utf-8") as log:
        log.write("x")
    if number == 2 and len((folder / "begun-2").read_text(encoding="utf-8")) == 1:
        (folder / "victim.part").write_text(str(os.getpid()), encoding="utf-8")
        os.replace(folder / "victim.part", folder / "victim")
        time.sleep(60.0)
    return number * number


def kill_when_named(file: Path) -> None:
    deadline = time.monotonic() + 60.0
    while not file.exists() and time.monotonic() < deadline:
        time.sleep(0.01)
    os.kill(int(file.read_text(encoding="utf-8")), signal.SIGKILL)


def always_die(number: int) -> int:
    os._exit(1)


def refuse(number: int) -> int:
    raise OutOfRange(f"number {number} is refused")


@pytest.fixture(scope="module")
def client() -> Iterator[Any]:
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as connected,
    ):
        yield connected


def test_in_this_process_in_order_with_progress() -> None:
    told: list[tuple[int, int]] = []
    assert Here().run(square, [3, 1, 2], progress=lambda done, total: told.append((done, total))) == [9, 1, 4]
    assert told == [(1, 3), (2, 3), (3, 3)]
    assert Here().run(square, []) == Processes().run(square, []) == []


def test_processes_keep_order_and_survive_the_loss_of_one(tmp_path: Path) -> None:
    told: list[int] = []
    found = Processes(2).run(
        partial(square_but_die_once, folder=tmp_path),
        [1, 2, 3, 4],
        progress=lambda done, _: told.append(done),
    )
    assert found == [1, 4, 9, 16]
    assert (tmp_path / "died-3").exists() and told[-1] == 4 and told == sorted(told)


@pytest.mark.skipif(sys.platform == "win32", reason="sends SIGKILL")
def test_a_killed_process_costs_its_own_task_and_little_time(tmp_path: Path) -> None:
    killer = threading.Thread(target=kill_when_named, args=(tmp_path / "victim",))
    killer.start()
    begun = time.monotonic()
    numbers = list(range(1, 9))
    assert Processes(2).run(partial(told_apart, folder=tmp_path), numbers) == [n * n for n in numbers]
    killer.join()
    assert time.monotonic() - begun < 50.0  # the killed one would have slept for 60 s
    begins = {n: len((tmp_path / f"begun-{n}").read_text(encoding="utf-8")) for n in numbers}
    assert begins[2] == 2
    assert sum(begins.values()) <= len(numbers) + 2 + 1  # its own, and what was under way beside it


def test_a_task_that_always_loses_its_process_is_given_up_by_number() -> None:
    with pytest.raises(ReachError, match="task 1 of 1 lost its process 3 times"):
        Processes(1).run(always_die, [7])


def test_a_refusal_in_a_process_comes_out_as_it_is() -> None:
    with pytest.raises(OutOfRange, match="number 5 is refused"):
        Processes(1).run(refuse, [5])


def test_a_cluster_keeps_order_and_survives_the_loss_of_a_worker(client: Any, tmp_path: Path) -> None:
    told: list[int] = []
    found = Cluster(client).run(
        partial(square_but_die_once, folder=tmp_path),
        [1, 2, 3, 4],
        progress=lambda done, _: told.append(done),
    )
    assert found == [1, 4, 9, 16]
    assert (tmp_path / "died-3").exists() and told[-1] == 4


def test_a_refusal_on_a_cluster_comes_out_as_it_is(client: Any) -> None:
    with pytest.raises(OutOfRange, match="number 5 is refused"):
        Cluster(client).run(refuse, [5])


def test_an_address_where_nobody_answers_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    distributed = pytest.importorskip("distributed", reason="the cluster extra is not installed")

    def nobody(*arguments: object, **options: object) -> None:
        raise OSError("Timed out trying to connect")

    monkeypatch.setattr(distributed, "Client", nobody)
    with pytest.raises(ReachError, match=r"no cluster answers at tcp://127\.0\.0\.1:1"):
        Cluster.at("tcp://127.0.0.1:1")

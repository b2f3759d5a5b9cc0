"""Tasks side by side: same results by every executor; a lost worker costs only its own task."""

from __future__ import annotations

import os
from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from reach.errors import OutOfRange, ReachError
from reach.machinery.executor import Cluster, Here
from reach.machinery.parallel import cores


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
    assert Here().run(square, []) == []


def test_a_refusal_here_comes_out_as_it_is_and_leaves_the_rest() -> None:
    with pytest.raises(OutOfRange, match="number 5 is refused"):
        Here().run(refuse, [5])


def test_side_by_side_every_core_is_used_once() -> None:
    assert [Here().threads_a_task(n) for n in (0, 1, cores(), 10 * cores())] == [cores(), cores(), 1, 1]


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

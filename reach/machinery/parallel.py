"""Spreads a compiled loop over the machine's cores: a batch of paths by their points, or numbered tasks.

The loops release the interpreter lock, so plain threads do it. Unlike a loop parallelised inside numba this
may be called from several threads at once, survives a fork, and halves the compile time.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import Future, ThreadPoolExecutor, as_completed, wait
from functools import cache
from itertools import pairwise
from typing import Any, NamedTuple, Protocol, TypeVar

import numpy as np
from numpy.typing import NDArray

from reach.machinery.progress import Progress

Item = TypeVar("Item")
Result = TypeVar("Result")

POINTS_WORTH_A_THREAD = 20_000  # below, starting a thread costs more than it saves
HANDFULS_A_THREAD = 12  # small enough that no thread waits long for the last


class Ragged(Protocol):
    """Anything laid out path after path; path p owns elements start[p]:start[p + 1]."""

    @property
    def start(self) -> NDArray[np.int64]: ...


class Starts(NamedTuple):
    """Paths laid out before anything is known of their points."""

    start: NDArray[np.int64]


@cache
def cores() -> int:
    """Cores this process may use."""
    try:
        return max(1, len(os.sched_getaffinity(0)))
    except AttributeError:  # not offered on every system
        return max(1, os.cpu_count() or 1)


def over_paths(
    kernel: Callable[..., None], batch: Ragged, *arguments: Any, threads: int | None = None
) -> None:
    """Call kernel(first, last, *arguments) so that every path is done once, cores sharing the points evenly.

    threads : None takes every core; 1 runs in this thread.
    """
    paths, points = int(batch.start.size - 1), int(batch.start[-1])
    wanted = cores() if threads is None else threads
    wanted = max(1, min(wanted, paths, points // POINTS_WORTH_A_THREAD))
    if paths == 0:
        return
    shares = np.linspace(0, points, wanted + 1)
    cuts = np.searchsorted(batch.start, shares)
    cuts[0], cuts[-1] = 0, paths
    _share([(int(a), int(b)) for a, b in pairwise(cuts)], kernel, arguments, wanted, None)


def over_points(kernel: Callable[..., None], points: int, *arguments: Any) -> None:
    """Call kernel(first, last, *arguments) so that every point is done once, on all cores where that pays."""
    wanted = max(1, min(cores(), points // POINTS_WORTH_A_THREAD))
    cuts = np.linspace(0, points, wanted + 1).astype(np.int64).tolist()
    if points:
        _share(list(pairwise(cuts)), kernel, arguments, wanted, None)


def over_tasks(
    kernel: Callable[..., Any],
    tasks: int,
    *arguments: Any,
    threads: int | None = None,
    progress: Progress | None = None,
) -> None:
    """Call kernel(first, last, *arguments) so that every task of 0..tasks - 1 is done once.

    threads : None for every core. progress : told of tasks done after each handful. An exception, Ctrl-C
    too, drops the handfuls not begun.
    """
    wanted = max(1, min(cores() if threads is None else threads, tasks))
    size = max(1, -(-tasks // (wanted * HANDFULS_A_THREAD)))
    handfuls = [(first, min(first + size, tasks)) for first in range(0, tasks, size)]
    _share(handfuls, kernel, arguments, wanted, progress)


def each(
    work: Callable[[Item], Result], items: Sequence[Item], progress: Progress | None = None
) -> list[Result]:
    """work(item) of every item, in their order, on all cores: for work that mostly waits for a solver or for
    compiled loops.

    progress : told of items done. An exception of any is raised when those begun have ended.
    """
    done: list[Result] = []
    with ThreadPoolExecutor(cores(), thread_name_prefix="each") as pool:
        running = [pool.submit(work, item) for item in items]
        try:
            for future in running:
                done.append(future.result())
                if progress is not None:
                    progress(len(done), len(items))
        finally:
            for future in running:
                future.cancel()
    return done


def each_behind(work: Callable[[Item], Result], items: Iterable[Item]) -> Iterator[Result]:
    """work(item) of every item, in their order, in another thread while the next item is being made."""
    with ThreadPoolExecutor(1, thread_name_prefix="behind") as pool:
        running: Future[Result] | None = None
        for item in items:
            made = pool.submit(work, item)
            if running is not None:
                yield running.result()
            running = made
        if running is not None:
            yield running.result()


def _share(
    parts: Sequence[tuple[int, int]],
    kernel: Callable[..., Any],
    arguments: tuple[Any, ...],
    threads: int,
    progress: Progress | None,
) -> None:
    """Every (first, last) once; with one thread, in this one."""
    total = parts[-1][1] if parts else 0
    done = 0
    if threads == 1:
        for first, last in parts:
            kernel(first, last, *arguments)
            if progress is not None:
                progress(last, total)
        return
    pool = _pool(threads)
    running = {pool.submit(kernel, first, last, *arguments): last - first for first, last in parts}
    try:
        for future in as_completed(running):
            future.result()
            done += running[future]
            if progress is not None:
                progress(done, total)
    finally:
        wait([future for future in running if not future.cancel()])


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    """Kept for the next batch: plans ask for small ones by the hundred, and a thread costs 0.5 ms to start.

    Kernels are compiled loops and never share work out themselves, so none waits for another's thread.
    """
    return ThreadPoolExecutor(threads, thread_name_prefix="loops")


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_pool.cache_clear)  # threads do not live on in a child

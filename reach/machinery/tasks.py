"""Shares a numbered run of tasks among threads; the compiled loops let go of the interpreter lock."""

from __future__ import annotations

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import Any

from reach.machinery.parallel import cores

Progress = Callable[[int, int], None]

HANDFULS_A_THREAD = 12  # small enough that no thread waits long for the last


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
    done = 0
    if wanted == 1:
        for first, last in handfuls:
            kernel(first, last, *arguments)
            if progress is not None:
                progress(last, tasks)
        return
    pool = ThreadPoolExecutor(wanted)
    try:
        running = {pool.submit(kernel, first, last, *arguments): last - first for first, last in handfuls}
        for future in as_completed(running):
            future.result()
            done += running[future]
            if progress is not None:
                progress(done, tasks)
    finally:
        pool.shutdown(wait=True, cancel_futures=True)

"""Spreads a compiled loop over the machine's cores.

The loops release the interpreter lock, so plain threads do it. Unlike a loop parallelised inside numba this
may be called from several threads at once, survives a fork, and halves the compile time.
"""

from __future__ import annotations

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

POINTS_WORTH_A_THREAD = 20_000  # below, starting a thread costs more than it saves


class Ragged(Protocol):
    """Anything laid out path after path; path p owns elements start[p]:start[p + 1]."""

    @property
    def start(self) -> NDArray[np.int64]: ...


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
    if wanted == 1:
        kernel(0, paths, *arguments)
        return
    shares = np.linspace(0, points, wanted + 1)
    cuts = np.searchsorted(batch.start, shares)
    cuts[0], cuts[-1] = 0, paths
    with ThreadPoolExecutor(wanted) as pool:
        done = [pool.submit(kernel, int(a), int(b), *arguments) for a, b in pairwise(cuts)]
        for future in done:
            future.result()

"""Many independent tasks on one machine's processes, or on a cluster; a lost worker costs only its own
task."""

from __future__ import annotations

import multiprocessing
import os
import signal
import sys
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from multiprocessing.process import BaseProcess
from types import FrameType
from typing import Any, Protocol, TypeVar

from reach.errors import ReachError
from reach.machinery.parallel import cores
from reach.machinery.progress import Progress

Task = TypeVar("Task")
Result = TypeVar("Result")

PATIENCE, SECONDS_TO_TIDY = 3, 4.0  # how often a process is told to end, and how long it may take each time
MOST_LOSSES = 3  # a task that loses its worker this often is given up


class Executor(Protocol):
    """Runs one function over tasks. function, tasks and results travel between processes by pickle."""

    @property
    def threads_a_task(self) -> int | None:
        """Threads a task should use so that tasks side by side share the cores; None for all."""
        ...

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """Results in the order of tasks. The first exception of a task ends the run and is raised."""
        ...


@dataclass(frozen=True)
class Here:
    """One after the other in this process, each with every core."""

    @property
    def threads_a_task(self) -> int | None:
        """As Executor.threads_a_task."""
        return None

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """As Executor.run."""
        results: list[Result] = []
        for task in tasks:
            results.append(function(task))
            if progress is not None:
                progress(len(results), len(tasks))
        return results


@dataclass(frozen=True)
class Processes:
    """Processes of this machine. workers : None for one a core."""

    workers: int | None = None

    @property
    def threads_a_task(self) -> int | None:
        """As Executor.threads_a_task."""
        return 1

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """As Executor.run. Raises : ReachError for a task whose process died three times."""
        results: dict[int, Result] = {}
        losses = 0
        breaks = 0
        # under way when a process was lost: run one at a time, to know which it was
        suspects: list[int] = []
        while len(results) < len(tasks):
            left = [i for i in range(len(tasks)) if i not in results]
            suspects = [i for i in suspects if i in left]
            workers = 1 if suspects else min(self.workers or cores(), len(left))
            before = set(multiprocessing.active_children())
            pool = ProcessPoolExecutor(
                workers, mp_context=multiprocessing.get_context("spawn"), initializer=_end_quietly
            )
            try:
                with _interrupts_held():
                    futures = {pool.submit(function, tasks[i]): i for i in suspects[:1] or left}
                for future in as_completed(futures):
                    results[futures[future]] = future.result()
                    losses = 0
                    if progress is not None:
                        progress(len(results), len(tasks))
            except KeyboardInterrupt:
                pool.shutdown(wait=False, cancel_futures=True)
                _interrupt(set(multiprocessing.active_children()) - before)
                raise
            except BrokenProcessPool as error:
                losses = losses + 1 if suspects else 1
                breaks += 1
                if not suspects:
                    open_tasks = [i for i in left if i not in results]
                    suspects = open_tasks[: workers + 1] if breaks == 1 else open_tasks
                if losses >= MOST_LOSSES:
                    raise ReachError(
                        f"task {suspects[0] + 1} of {len(tasks)} lost its process {losses} times; "
                        "perhaps memory ran out: take larger cells or a smaller radius."
                    ) from error
            finally:
                pool.shutdown(wait=True, cancel_futures=True)
        return [results[i] for i in range(len(tasks))]


@contextmanager
def _interrupts_held() -> Iterator[None]:
    """Ctrl-C waits till the end of the block; processes begun in it are born with it held."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _end_quietly() -> None:
    """In a worker: Ctrl-C ends it, tidied up but without a word, and is let through from here on."""
    if sys.platform == "win32":
        return
    if signal.SIGINT in signal.sigpending():
        os._exit(130)
    signal.signal(signal.SIGINT, _leave)
    signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def _leave(number: int, frame: FrameType | None) -> None:
    raise SystemExit(130)


def _interrupt(processes: Iterable[BaseProcess]) -> None:
    """Ctrl-C for processes that a signal to this one alone does not reach; they tidy up and end.

    Again after a while: compiled code called back into may swallow one. Those that never listen are ended.
    """
    if sys.platform == "win32":
        return
    left = list(processes)
    for _ in range(PATIENCE):
        for process in left:
            if process.pid is not None and process.is_alive():
                with suppress(ProcessLookupError):  # gone between the two
                    os.kill(process.pid, signal.SIGINT)
        until = time.monotonic() + SECONDS_TO_TIDY
        for process in left:
            process.join(max(0.0, until - time.monotonic()))
        left = [process for process in left if process.is_alive()]
    for process in left:
        process.terminate()


@dataclass(frozen=True)
class Cluster:
    """A Dask distributed cluster. client : a connected distributed.Client; the caller closes it.

    Workers need this package and must reach the same files under the same paths.
    """

    client: Any

    @classmethod
    def at(cls, address: str) -> Cluster:
        """Connect to a scheduler's address, e.g. tcp://10.0.0.1:8786.

        Raises : ReachError when the extra is not installed or nobody answers.
        """
        try:
            from distributed import Client
        except ImportError as error:
            raise ReachError("a cluster needs the extra: pip install '.[cluster]'") from error
        try:
            return cls(Client(address, timeout="10s", set_as_default=False))
        except (OSError, TimeoutError, ValueError) as error:
            raise ReachError(
                f"no cluster answers at {address}; start its scheduler, or correct the address."
            ) from error

    @property
    def threads_a_task(self) -> int | None:
        """As Executor.threads_a_task."""
        return 1

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """As Executor.run; a task whose worker is lost goes to another, up to three times."""
        from distributed import as_completed as finished

        futures = [self.client.submit(function, task, pure=False, retries=MOST_LOSSES) for task in tasks]
        place = {future.key: i for i, future in enumerate(futures)}
        results: dict[int, Result] = {}
        try:
            for future in finished(futures, loop=self.client.loop):
                results[place[future.key]] = future.result()
                if progress is not None:
                    progress(len(results), len(tasks))
        finally:
            self.client.cancel([future for future in futures if not future.done()])
        return [results[i] for i in range(len(tasks))]

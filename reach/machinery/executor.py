"""Many independent tasks side by side in this process, or on a cluster, where a lost worker costs its own
task only."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol, TypeVar

from reach.errors import ReachError
from reach.machinery.parallel import cores, each
from reach.machinery.progress import Progress

Task = TypeVar("Task")
Result = TypeVar("Result")

MOST_LOSSES = 3  # a task that loses its worker this often is given up


class Executor(Protocol):
    """Runs one function over tasks. On a cluster function, tasks and results travel by pickle."""

    def threads_a_task(self, tasks: int) -> int:
        """Threads each of so many tasks should use, so that those side by side share the cores."""
        ...

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """Results in the order of tasks. The first exception of a task ends the run and is raised."""
        ...


@dataclass(frozen=True)
class Here:
    """Side by side on threads of this process: for tasks whose work is in compiled loops."""

    def threads_a_task(self, tasks: int) -> int:
        """As Executor.threads_a_task."""
        return max(1, cores() // max(1, tasks))

    def run(
        self, function: Callable[[Task], Result], tasks: Sequence[Task], *, progress: Progress | None = None
    ) -> list[Result]:
        """As Executor.run."""
        return each(function, tasks, progress)


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

    def threads_a_task(self, tasks: int) -> int:
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

"""How long work tells how far it is: one kind of callback, and a way to name stretches of work."""

from __future__ import annotations

import threading
from collections.abc import Callable
from contextlib import AbstractContextManager, nullcontext

Progress = Callable[[int, int], None]
"""Called with (done, total) from time to time; total stays the same through one stretch of work."""

Watch = Callable[[str], AbstractContextManager[Progress]]
"""Opens a stretch of work by its name, e.g. 'paths on 146.52 MHz', and gives the callback for it."""


def untold(done: int, total: int) -> None:
    """A `Progress` that tells nobody."""


def unwatched(what: str) -> AbstractContextManager[Progress]:
    """A `Watch` that shows nothing."""
    return nullcontext(untold)


_WHOLE = 1000  # of one part


class Parts:
    """One stretch of work of equal parts that go on side by side, each with its own progress."""

    def __init__(self, progress: Progress, count: int) -> None:
        self._progress = progress
        self._done = [0] * count
        self._alone = threading.Lock()

    def of(self, number: int) -> Progress:
        """The callback of one part, from any thread."""

        def tell(done: int, total: int) -> None:
            with self._alone:
                self._done[number] = _WHOLE * done // max(total, 1)
                self._progress(sum(self._done), _WHOLE * len(self._done))

        return tell

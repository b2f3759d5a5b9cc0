"""How long work tells how far it is: one kind of callback, and a way to name stretches of work."""

from __future__ import annotations

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

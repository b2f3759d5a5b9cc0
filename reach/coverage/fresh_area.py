"""Keeps the compiled sweep in step with all it was compiled from, as `reach.propagation.freshness` does
there."""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from reach.propagation.freshness import sources_stamp

Dispatcher = TypeVar("Dispatcher", bound=Any)


@cache
def kernels_stamp() -> str:
    """Digest of the area kernels' sources and of the propagation formulas they call."""
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(Path(__file__).parent.glob("_*_kernel.py")):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    digest.update(sources_stamp().encode())
    return digest.hexdigest()


def fresh_area(dispatcher: Dispatcher) -> Dispatcher:
    """Decorator above @njit: compiled code stays on disk until any area kernel changes.

    Where there is nowhere to write, it compiles at every start.
    """
    try:
        dispatcher.enable_caching()
    except RuntimeError:  # numba found nowhere to write
        return dispatcher
    cache_file = getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)
    if cache_file is not None:  # numba has no public way to set it; without one the file's own time is used
        cache_file._source_stamp = kernels_stamp()
    return dispatcher


def compiled_before(dispatcher: Any) -> bool:
    """Whether compiled code of a loop lies on disk and is still that of its sources."""
    cache_file = getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)
    load = getattr(cache_file, "_load_index", None)  # numba has no public way to ask
    return load is not None and bool(load())

"""Keeps compiled loops in step with the formulas they were compiled from.

numba's disk cache notices when the file of a compiled loop changes, not when a formula that the loop calls
does: after an edit or an upgrade a stale loop would go on answering. Here the loop's stamp is the content of
every propagation source.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import Protocol, TypeVar


class _CanCache(Protocol):
    def enable_caching(self) -> None: ...


Dispatcher = TypeVar("Dispatcher", bound=_CanCache)


@cache
def sources_stamp() -> str:
    """Digest of all propagation sources."""
    folder = Path(__file__).parent
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted(folder.rglob("*.py")):
        digest.update(path.relative_to(folder).as_posix().encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def fresh(dispatcher: Dispatcher) -> Dispatcher:
    """Decorator above @njit: keep compiled code on disk, compile again when a propagation source changed.

    Where neither the package's folder nor the user's cache folder can be written, compile at every start.
    """
    try:
        dispatcher.enable_caching()
    except RuntimeError:  # numba found nowhere to write
        return dispatcher
    cache_file = getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)
    if cache_file is not None:  # numba has no public way to set it; without one the file's own time is used
        cache_file._source_stamp = sources_stamp()
    return dispatcher

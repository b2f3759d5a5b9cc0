"""Keeps compiled loops on disk, in step with the formulas they were compiled from.

numba's disk cache notices when the file of a compiled loop changes, not when a formula that the loop calls
does: after an edit or an upgrade a stale loop would go on answering. Here the loop's stamp is the content of
every source it may have been compiled from: all of `propagation/`, and the kernels beside the loop.
"""

from __future__ import annotations

import hashlib
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

Dispatcher = TypeVar("Dispatcher", bound=Any)

_PACKAGE = Path(__file__).parent.parent
_FORMULAS = _PACKAGE / "propagation"


@cache
def sources_stamp(folder: Path) -> str:
    """Digest of every propagation source and of the `_*_kernel.py` files in a folder."""
    kernels = [] if folder.is_relative_to(_FORMULAS) else folder.glob("_*_kernel.py")
    digest = hashlib.blake2b(digest_size=16)
    for path in sorted({*_FORMULAS.rglob("*.py"), *kernels}):
        digest.update(f"{path.parent.name}/{path.name}".encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()


def fresh(dispatcher: Dispatcher) -> Dispatcher:
    """Decorator above @njit: keep compiled code on disk, compile again when a source changed.

    Where neither the package's folder nor the user's cache folder can be written, compile at every start.
    """
    try:
        dispatcher.enable_caching()
    except RuntimeError:  # numba found nowhere to write
        return dispatcher
    cache_file = _cache_file(dispatcher)
    if cache_file is not None:  # numba has no public way to set it; without one the file's own time is used
        source = Path(dispatcher.py_func.__code__.co_filename)
        cache_file._source_stamp = sources_stamp(source.parent)
    return dispatcher


def compiled_before(dispatcher: Any) -> bool:
    """Whether compiled code of a loop lies on disk and is still that of its sources."""
    load = getattr(_cache_file(dispatcher), "_load_index", None)  # numba has no public way to ask
    return load is not None and bool(load())


def _cache_file(dispatcher: Any) -> Any:
    return getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)

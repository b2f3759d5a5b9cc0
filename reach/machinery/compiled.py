"""Keeps compiled loops on disk, in step with the formulas they were compiled from.

numba's disk cache notices when the file of a compiled loop changes, not when a formula that the loop calls
does: after an edit or an upgrade a stale loop would go on answering. Here the loop's stamp is the content of
every source it may have been compiled from: all of `propagation/`, and the kernels beside the loop.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import stat
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path
from typing import Any, TypeVar

from numba.core import config

from reach.files import Existing, remove_abandoned, whole_file

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


class _Forgiving:
    """A cache of numba's that cannot be read or written is none; the loop is then compiled in memory."""

    def __init__(self, cache: Any) -> None:
        self._cache = cache

    def __getattr__(self, name: str) -> Any:
        return getattr(self._cache, name)

    def load_overload(self, signature: Any, context: Any) -> Any:
        try:
            return self._cache.load_overload(signature, context)
        except Exception:  # damaged entries fail to unpickle in every way there is
            with suppress(OSError):
                self._cache.flush()
            return None

    def save_overload(self, signature: Any, data: Any) -> None:
        with suppress(OSError, pickle.PickleError):  # the disk is full or was taken away since
            self._cache.save_overload(signature, data)


def fresh(dispatcher: Dispatcher) -> Dispatcher:
    """Decorator above @njit: keep compiled code on disk, compile again when a source changed.

    Kept in the first of these that can be written: NUMBA_CACHE_DIR where it is set, the package's folder, the
    user's cache folder, a private folder among the system's temporary files. Without any, compile at every
    start.
    """
    try:
        dispatcher.enable_caching()
    except RuntimeError:  # numba found nowhere to write
        if not _keep_among_temporary_files(dispatcher):
            return dispatcher
    cache_file = _cache_file(dispatcher)
    if cache_file is not None:  # numba has no public way to set these; without them its own would be used
        source = Path(dispatcher.py_func.__code__.co_filename)
        cache_file._source_stamp = sources_stamp(source.parent)
        cache_file._open_for_write = _written_whole
        _tidied(str(getattr(cache_file, "_cache_path", "")))
    dispatcher._cache = _Forgiving(dispatcher._cache)
    return dispatcher


def _keep_among_temporary_files(dispatcher: Any) -> bool:
    """Have numba keep a loop in the private temporary folder; False when there is none."""
    folder = private_temporary_folder()
    if folder is None:
        return False
    before = config.CACHE_DIR
    config.CACHE_DIR = str(folder)
    try:
        dispatcher.enable_caching()
    except RuntimeError:
        return False
    finally:
        config.CACHE_DIR = before
    return True


@cache
def private_temporary_folder() -> Path | None:
    """A folder among the system's temporary files that only this user can write, None when there is none.

    Compiled code is run unseen, so a folder that anybody else could have filled is not used.
    """
    user = os.getuid() if hasattr(os, "getuid") else 0
    try:
        folder = Path(tempfile.gettempdir()) / f"reach-compiled-{user}"
        folder.mkdir(mode=0o700, exist_ok=True)
        about = folder.lstat()
    except OSError:
        return None
    if not stat.S_ISDIR(about.st_mode):
        return None
    if hasattr(os, "getuid") and (about.st_uid != user or about.st_mode & 0o077):
        return None
    return folder


@cache
def _tidied(folder: str) -> None:
    """Once a folder: take away what killed runs left there."""
    if folder:
        remove_abandoned(Path(folder))


@contextmanager
def _written_whole(path: str) -> Iterator[Any]:
    """A file of the cache, open for writing; it takes its name when it is complete."""
    with whole_file(Path(path), Existing.REPLACE) as temporary, open(temporary, "wb") as file:
        yield file


def compiled_before(dispatcher: Any) -> bool:
    """Whether compiled code of a loop lies on disk and is still that of its sources."""
    load = getattr(_cache_file(dispatcher), "_load_index", None)  # numba has no public way to ask
    try:
        return load is not None and bool(load())
    except Exception:  # a damaged index, which fails to unpickle in every way there is
        return False


def _cache_file(dispatcher: Any) -> Any:
    return getattr(getattr(dispatcher, "_cache", None), "_cache_file", None)

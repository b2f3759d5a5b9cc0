"""Writing results whole or not at all, and never over a file the user did not offer.

A result goes to a temporary file beside its target, is flushed to disk, then takes the target's name in one
step. Interrupted at any point, the target is either as it was or complete.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from enum import Enum
from pathlib import Path

from reach.errors import OutputProblem


class Existing(Enum):
    """What to do with a file that is already there."""

    KEEP = "keep"  # refuse, naming the option that replaces it
    REPLACE = "replace"


def check_writable(path: Path, existing: Existing = Existing.KEEP) -> None:
    """Refuse a target before long work starts.

    Raises : OutputProblem when the file exists (with KEEP), is a folder or a device, or its folder is missing
        or read-only.
    """
    if path.is_dir():
        raise OutputProblem(f"{path} is a folder; give a file name.")
    if path.exists() and not path.is_file():
        raise OutputProblem(f"{path} is a device or a pipe; give a file name.")
    if path.exists() and existing is Existing.KEEP:
        raise OutputProblem(f"{path} already exists; add --replace to write over it, or choose another name.")
    folder = path.parent
    if not folder.is_dir():
        raise OutputProblem(f"the folder {folder} does not exist; make it first or choose another.")
    if not os.access(folder, os.W_OK):
        raise OutputProblem(f"the folder {folder} cannot be written to; choose another.")


@contextmanager
def whole_file(path: Path, existing: Existing = Existing.KEEP) -> Iterator[Path]:
    """Yield a temporary path beside `path`; on a clean exit it becomes `path`, otherwise it is removed.

    The temporary name keeps the suffix, so that libraries which choose a format by suffix work.
    Raises : OutputProblem as `check_writable`, or when writing fails (disk full, say).
    """
    check_writable(path, existing)
    handle, name = tempfile.mkstemp(prefix=f".{path.stem}-", suffix=path.suffix, dir=path.parent)
    os.close(handle)
    temporary = Path(name)
    try:
        yield temporary
        with open(temporary, "rb") as written:
            os.fsync(written.fileno())
        umask = os.umask(0)
        os.umask(umask)
        os.chmod(temporary, 0o666 & ~umask)
        if existing is Existing.KEEP and path.exists():
            raise OutputProblem(f"{path} appeared while it was being made; it was left alone.")
        os.replace(temporary, path)
    except OutputProblem:
        raise
    except OSError as error:
        raise OutputProblem(
            f"{path} could not be written ({error.strerror or error}); nothing was left behind."
        ) from error
    finally:
        temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str, existing: Existing = Existing.KEEP) -> None:
    """Write UTF-8 text whole or not at all, newlines as given; a lone surrogate as JSON escapes it."""
    write_bytes(path, text.encode("utf-8", "backslashreplace"), existing)


def write_bytes(path: Path, data: bytes, existing: Existing = Existing.KEEP) -> None:
    """Write bytes whole or not at all."""
    with whole_file(path, existing) as temporary:
        temporary.write_bytes(data)

"""Writing results whole or not at all, and never over a file the user did not offer.

A result goes to a temporary file beside its target, is flushed to disk, then takes the target's name in one
step. Interrupted at any point, the target is either as it was or complete. A process that is killed leaves
its temporary file; its name says whose it was, and the next run that writes there takes it away.
"""

from __future__ import annotations

import hashlib
import os
import platform
import re
import shutil
import stat
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from enum import Enum
from functools import cache
from pathlib import Path
from threading import Lock

from reach.errors import OutputProblem

_TEMPORARY = re.compile(
    r"\.reach-(?P<machine>[0-9a-f]{8})-(?P<pid>[0-9]{1,10})-[0-9a-f]{12}(\..*)?", re.DOTALL
)
_MOST_LOOKED_AT = 100_000  # names in a folder
_umask_alone = Lock()
_under_way: set[Path] = set()  # this process's temporary files and folders


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


@cache
def _machine() -> str:
    """Eight digits for this machine: on a shared folder a process number of another one says nothing."""
    return hashlib.blake2b(platform.node().encode("utf-8", "replace"), digest_size=4).hexdigest()


def temporary_name(suffix: str = "") -> str:
    """A name for a temporary file or folder of this process."""
    return f".reach-{_machine()}-{os.getpid()}-{uuid.uuid4().hex[:12]}{suffix}"


def _is_running(pid: int) -> bool:
    if os.name == "nt":  # no harmless way to ask there
        return True
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (PermissionError, OverflowError):
        return True
    return True


def remove_abandoned(folder: Path) -> None:
    """Take away temporary files and folders that processes of this machine and user, now dead, left here."""
    with suppress(OSError), os.scandir(folder) as entries:
        for number, entry in enumerate(entries):
            found = _TEMPORARY.fullmatch(entry.name)
            if number > _MOST_LOOKED_AT:
                return
            if not found or found["machine"] != _machine() or _is_running(int(found["pid"])):
                continue
            about = entry.stat(follow_symlinks=False)
            if hasattr(os, "getuid") and about.st_uid != os.getuid():
                continue
            _remove(Path(entry.path), about.st_mode)


def _remove(path: Path, mode: int) -> None:
    if stat.S_ISDIR(mode):
        shutil.rmtree(path, ignore_errors=True)
    elif stat.S_ISREG(mode):
        with suppress(OSError):
            path.unlink()


def drop_temporaries() -> None:
    """Take away what this process has under way, for an end that cannot wait for its own tidying up."""
    for path in list(_under_way):
        with suppress(OSError):
            _remove(path, path.lstat().st_mode)


@contextmanager
def temporary_folder(parent: Path) -> Iterator[Path]:
    """A new private folder in `parent` that goes away at the end. Raises : OSError when it cannot be made."""
    remove_abandoned(parent)
    folder = parent / temporary_name()
    _under_way.add(folder)
    try:
        folder.mkdir(mode=0o700)
        yield folder
    finally:
        shutil.rmtree(folder, ignore_errors=True)
        _under_way.discard(folder)


@contextmanager
def whole_file(path: Path, existing: Existing = Existing.KEEP) -> Iterator[Path]:
    """Yield a temporary path beside `path`; on a clean exit it becomes `path`, otherwise it is removed.

    The temporary name keeps the suffix, so that libraries which choose a format by suffix work.
    Raises : OutputProblem as `check_writable`, or when writing fails (disk full, say).
    """
    check_writable(path, existing)
    remove_abandoned(path.parent)
    temporary = path.parent / temporary_name(path.suffix)
    _under_way.add(temporary)
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        yield temporary
        with open(temporary, "rb") as written:
            os.fsync(written.fileno())
        os.chmod(temporary, _usual_mode())
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
        _under_way.discard(temporary)


def _usual_mode() -> int:
    """Of a new file of the user's. Reading a umask sets it: two threads at it could leave it changed."""
    with _umask_alone:
        umask = os.umask(0)
        os.umask(umask)
    return 0o666 & ~umask


def write_text(path: Path, text: str, existing: Existing = Existing.KEEP) -> None:
    """Write UTF-8 text whole or not at all, newlines as given; a lone surrogate as JSON escapes it."""
    write_bytes(path, text.encode("utf-8", "backslashreplace"), existing)


def write_bytes(path: Path, data: bytes, existing: Existing = Existing.KEEP) -> None:
    """Write bytes whole or not at all."""
    with whole_file(path, existing) as temporary:
        temporary.write_bytes(data)


def made_folder(kept: Path) -> Path:
    """The user's own folder for what is made on the way, made where it is not there.

    Raises : OutputProblem when it cannot be made or written to.
    """
    if kept.exists() and not kept.is_dir():
        raise OutputProblem(f"{kept} is not a folder; choose another.")
    try:
        kept.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputProblem(f"the folder {kept} could not be made ({error.strerror}).") from error
    check_writable(kept / "made", Existing.REPLACE)
    return kept

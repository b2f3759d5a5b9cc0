"""Reading the user's text files: size and encoding checked, every refusal one clear line."""

from __future__ import annotations

import codecs
import os
import stat
from pathlib import Path

from reach.errors import Fault, InputProblem

LARGEST_FILE_BYTES = 20_000_000

STARTER_FILES = ("net.toml", "roster.csv")  # what `reach new` writes


def read_text_file(path: Path, *, largest_bytes: int = LARGEST_FILE_BYTES) -> str:
    """The text of a UTF-8 file, with or without byte-order mark, or of UTF-16 with one. Newlines as they are.

    Raises : InputProblem when the file is missing, a folder, a pipe or device, unreadable, larger than
        allowed or not such text.
    """
    name = os.fspath(path.name).encode("utf-8", "backslashreplace").decode("utf-8")
    try:
        mode = path.stat().st_mode  # before it is opened: a pipe would wait for a writer
        if stat.S_ISDIR(mode):
            raise InputProblem(Fault("is a folder, not a file", "give the file itself", file=name))
        if not stat.S_ISREG(mode):
            raise InputProblem(
                Fault("is a pipe or a device, not a regular file", "put the file itself there", file=name)
            )
        with open(path, "rb") as file:
            raw = file.read(largest_bytes + 1)
        if len(raw) > largest_bytes:
            size = max(path.stat().st_size, len(raw))
            raise InputProblem(
                Fault(
                    f"has {size / 1e6:.3g} MB; at most {largest_bytes / 1e6:.3g} MB are read",
                    "check that it is the right file",
                    file=name,
                )
            )
    except FileNotFoundError:
        raise InputProblem(
            Fault(
                "there is no such file here"
                if path.parent == Path()
                else f"there is no such file in {path.parent}",
                "`reach new FOLDER` writes one to start from"
                if name in STARTER_FILES
                else "check how its name is spelt and where it is",
                file=name,
            )
        ) from None
    except (OSError, ValueError) as error:  # a name with a zero byte is a ValueError
        if isinstance(error, InputProblem):
            raise
        told = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputProblem(Fault(f"cannot be read ({told})", file=name)) from error
    return decoded(raw, file=name)


def decoded(raw: bytes, *, file: str) -> str:
    """Bytes as text. Raises : InputProblem naming the row of the first byte that is no text."""
    if raw.startswith((codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)):
        encoding = "utf-16"
    else:
        encoding = "utf-8-sig"
    try:
        text = raw.decode(encoding)
    except UnicodeDecodeError as error:
        row = raw.count(b"\n", 0, error.start) + 1
        raise InputProblem(
            Fault(
                f"is not UTF-8 text (byte {raw[error.start]:#04x})",
                "save it again as UTF-8 (in a spreadsheet: 'CSV UTF-8')",
                file=file,
                row=row,
            )
        ) from None
    if "\0" in text:
        row = text.count("\n", 0, text.index("\0")) + 1
        raise InputProblem(
            Fault("is not a text file (it holds zero bytes)", "save it as text, UTF-8", file=file, row=row)
        )
    return text

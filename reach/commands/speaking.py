"""How the commands speak: the one writer for everything a person reads, on either stream.

`say` takes renderables, `speak` plain text, `warn` what goes to standard error. Whatever the text holds (a
file name, a broken line of net.toml, an option as typed), no control or direction character of it reaches the
terminal: it is written out. Files for machines leave by `deliver`, as they are.
"""

from __future__ import annotations

import logging
import os
import shutil
import sys
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

from reach.errors import OutputProblem
from reach.files import Existing, write_bytes, write_text
from reach.visible import in_ascii, shortened_words, visible, visible_lines

if TYPE_CHECKING:
    from rich.console import RenderableType

STANDARD_OUTPUT = "-"
_NARROWEST = 40
_WIDTH_IN_PIPES = 120  # wide enough for a table's row to stay on one line in a file or a pager
_WIDEST = 160
_MOST_DIGITS = 5  # of COLUMNS and LINES; libraries read them too and stumble over more


def prepare_streams() -> None:
    """Called once at the start: make both streams fit to be spoken on.

    Raises : OutputProblem when standard output is closed.
    """
    for name in ("COLUMNS", "LINES"):
        value = os.environ.get(name, "")
        if value and not (value.isascii() and value.isdecimal() and len(value) <= _MOST_DIGITS):
            del os.environ[name]
    warnings.showwarning = _show_warning
    logging.lastResort = _LastResort(logging.WARNING)
    closed = sys.stdout is None
    for descriptor in (0, 1, 2):  # or the next file opened would take a closed stream's place
        try:
            os.fstat(descriptor)
        except OSError:
            os.open(os.devnull, os.O_RDWR)
    if closed:
        raise OutputProblem("standard output is closed; send it to a file, or to /dev/null.")


def open_page(page: Path) -> None:
    """Show a page in the browser where there is a screen to show it on; a browser of text would wait here."""
    screens = ("DISPLAY", "WAYLAND_DISPLAY")
    if sys.platform not in ("win32", "darwin") and not any(os.environ.get(name) for name in screens):
        return
    import webbrowser

    with suppress(webbrowser.Error):
        webbrowser.open(page.as_uri())


class _LastResort(logging.Handler):
    """What a library logs and nobody handles, in our voice: rasterio quotes file names in it."""

    def emit(self, record: logging.LogRecord) -> None:
        warn(" ".join(record.getMessage().split()))


def _show_warning(
    message: Warning | str,
    category: type[Warning],
    filename: str,
    lineno: int,
    file: TextIO | None = None,
    line: str | None = None,
) -> None:
    """A library's warning in our voice: one line."""
    warn(f"{category.__name__}: {' '.join(str(message).split())}")


def finish_streams() -> None:
    """Called once at the end: what cannot be written any more is found out here, not at exit.

    Raises : OSError, BrokenPipeError.
    """
    sys.stdout.flush()


def abandon_output() -> None:
    """Nobody takes standard output any more: let the interpreter close it in peace."""
    if sys.stdout is not None:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def speak(text: str = "") -> None:
    """Write plain text and a line end to standard output. Raises : OSError."""
    _write(sys.stdout, visible_lines(text) + "\n")


def warn(text: str) -> None:
    """Write plain text and a line end to standard error; where nobody listens, to nobody."""
    if sys.stderr is None:
        return
    try:
        _write(sys.stderr, shortened_words(visible_lines(text)) + "\n")
    except OSError:
        return  # nowhere is left to say it; the exit code still does


def say(*parts: RenderableType) -> None:
    """Write renderables to standard output as text: colour only on a terminal, only letters it can take."""
    from reach.drawings.tables.terminal import Charset, Colour, terminal_text

    in_colour = sys.stdout.isatty() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
    text = terminal_text(
        *parts,
        width=text_width(),
        charset=Charset.UNICODE if _takes_unicode(sys.stdout) else Charset.ASCII,
        colour=Colour.ANSI if in_colour else Colour.NONE,
    )
    _write(sys.stdout, text)


def _write(stream: TextIO, text: str) -> None:
    if not _takes_unicode(stream):
        text = in_ascii(text)
    stream.write(text)
    stream.flush()


def _takes_unicode(stream: TextIO) -> bool:
    encoding = (getattr(stream, "encoding", None) or "ascii").lower().replace("-", "").replace("_", "")
    return encoding.startswith("utf")


def text_width() -> int:
    """Columns to write text in: the terminal's, within reason; in a pipe or file COLUMNS or 120."""
    if sys.stdout.isatty():
        return max(_NARROWEST, min(shutil.get_terminal_size().columns, _WIDEST))
    columns = os.environ.get("COLUMNS", "")
    sound = columns.isascii() and columns.isdecimal() and len(columns) <= _MOST_DIGITS
    return max(_NARROWEST, min(int(columns), 10 * _WIDEST)) if sound else _WIDTH_IN_PIPES


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """A `progress(done, total)` callback drawn as a bar on a terminal's standard error, silent elsewhere."""
    if sys.stderr is None or not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(visible(what), total=None)

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield advance


def deliver(text: str, target: str | None, *, existing: Existing) -> None:
    """Write a result to its file whole or not at all, or to standard output; nothing without a target."""
    if target == STANDARD_OUTPUT:
        data = text.encode("utf-8", "backslashreplace")  # bytes: line ends stay as they are
        deliver_bytes(data, target, existing=existing)
    elif target is not None:
        write_text(Path(target), text, existing)
        warn(f"wrote {target}")


def deliver_bytes(data: bytes, target: str, *, existing: Existing) -> None:
    """Write a picture or other binary result to its file whole or not at all, or to standard output."""
    if target == STANDARD_OUTPUT:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    else:
        write_bytes(Path(target), data, existing)
        warn(f"wrote {target}")


def speaks_text(*targets: str | None) -> bool:
    """Whether standard output is free for the words meant for people."""
    return STANDARD_OUTPUT not in targets

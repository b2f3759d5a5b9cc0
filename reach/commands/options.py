"""Options and ways of speaking that the commands share: output files, progress, text readable in pipes."""

from __future__ import annotations

import os
import shutil
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, TypeVar

import click

from reach.errors import OutputProblem
from reach.files import Existing, check_writable, write_text

if TYPE_CHECKING:
    from rich.console import Console

Command = TypeVar("Command", bound=Callable[..., object])

STANDARD_OUTPUT = "-"
_NARROWEST = 40
_WIDTH_IN_PIPES = 120  # wide enough for a table's row to stay on one line in a file or a pager
_WIDEST = 160


def folder_argument(command: Command) -> Command:
    """The net folder; whether it is there is said by whoever reads it."""
    return click.argument("folder", type=click.Path(path_type=Path))(command)


def json_option(command: Command) -> Command:
    """--json FILE, or - for standard output in place of the text."""
    return click.option(
        "--json",
        "json_file",
        metavar="FILE",
        default=None,
        help="Write the result as JSON; - for standard output.",
    )(command)


def csv_option(command: Command) -> Command:
    """--csv FILE, or - for standard output in place of the text."""
    return click.option(
        "--csv",
        "csv_file",
        metavar="FILE",
        default=None,
        help="Write the table as CSV; - for standard output.",
    )(command)


def replace_option(command: Command) -> Command:
    """--replace: an `Existing` for `reach.files`."""
    return click.option(
        "--replace",
        "existing",
        flag_value=Existing.REPLACE,
        type=click.UNPROCESSED,
        default=Existing.KEEP,
        help="Write over files that are already there.",
    )(command)


def check_outputs(*targets: str | None, existing: Existing) -> None:
    """Refuse output files before long work starts: not writable, named twice, two on standard output.

    Raises : OutputProblem.
    """
    named = [target for target in targets if target is not None]
    if named.count(STANDARD_OUTPUT) > 1:
        raise OutputProblem("only one result can go to standard output; give the others a file name.")
    files = [Path(target).resolve() for target in named if target != STANDARD_OUTPUT]
    if len(set(files)) < len(files):
        raise OutputProblem("two results would go into the same file; give each its own name.")
    for path in files:
        check_writable(path, existing)


def deliver(text: str, target: str | None, *, existing: Existing) -> None:
    """Write a result to its file whole or not at all, or to standard output; nothing without a target."""
    if target == STANDARD_OUTPUT:
        sys.stdout.write(text if text.endswith("\n") else text + "\n")
    elif target is not None:
        write_text(Path(target), text, existing)


def speaks_text(*targets: str | None) -> bool:
    """Whether standard output is free for the words meant for people."""
    return STANDARD_OUTPUT not in targets


def console() -> Console:
    """A rich console on standard output: no colour or control codes unless a terminal is there, never wider than is readable.

    Markup and emoji codes in texts are left alone, as they may be the user's.
    """
    return _console_on(sys.stdout)


def error_console() -> Console:
    """The same on standard error, for progress and asides."""
    return _console_on(sys.stderr)


def _console_on(stream: TextIO) -> Console:
    from rich.console import Console

    if stream.isatty():
        columns = shutil.get_terminal_size().columns
        width = max(_NARROWEST, min(columns, _WIDEST))
    else:
        width = int(os.environ["COLUMNS"]) if os.environ.get("COLUMNS", "").isdecimal() else _WIDTH_IN_PIPES
        width = max(_NARROWEST, width)
    return Console(
        file=stream,
        width=width,
        markup=False,
        emoji=False,
        highlight=False,
        soft_wrap=False,
        force_terminal=None if stream.isatty() else False,
        no_color=True if "NO_COLOR" in os.environ else None,
    )


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """A `progress(done, total)` callback drawn as a bar on a terminal's standard error, silent elsewhere."""
    if not sys.stderr.isatty():
        yield lambda done, total: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}", markup=False),
        BarColumn(),
        MofNCompleteColumn(),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=error_console(), transient=True) as bar:
        task = bar.add_task(what, total=None)

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield advance

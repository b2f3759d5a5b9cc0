"""Options and ways of speaking that the commands share: output files, progress, text readable in pipes."""

from __future__ import annotations

import functools
import os
import shutil
import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from reach.errors import Fault, InputProblem, OutputProblem
from reach.files import Existing, check_writable, write_bytes, write_text

if TYPE_CHECKING:
    from rich.console import RenderableType

    from reach.drawings.maps.page import OnlineTiles

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


def map_option(command: Command) -> Command:
    """--map FILE: a page that opens anywhere, with no network."""
    return click.option(
        "--map",
        "map_file",
        metavar="FILE",
        default=None,
        help="Draw the map as one HTML page that opens with no network.",
    )(command)


def online_options(command: Command) -> Command:
    """--online ADDRESS and --credit TEXT: a tile service offered on the map; see `online_tiles`."""
    address = click.option(
        "--online",
        "online",
        metavar="ADDRESS",
        default=None,
        help="Offer an online map on the page, asked only once it is ticked: https://… with {z}, {x}, {y}.",
    )
    credit = click.option(
        "--credit",
        "credit",
        metavar="TEXT",
        default=None,
        help="Whose map --online is, as its owner wants it named.",
    )
    return address(credit(command))


def online_tiles(address: str | None, credit: str | None, *, map_file: str | None) -> OnlineTiles | None:
    """The tile service the two options name, None without one. Raises : InputProblem."""
    if address is None and credit is None:
        return None
    if address is None:
        fault = Fault("--credit names whose map --online is", "add --online, or leave --credit out")
        raise InputProblem(fault)
    if map_file is None:
        raise InputProblem(Fault("--online is shown on a map", "add --map with a file name"))
    if credit is None or not credit.strip():
        raise InputProblem(
            Fault("--online needs --credit", "add the words with which the map's owner wants to be named")
        )
    from reach.drawings.maps.page import OnlineTiles

    try:
        return OnlineTiles(address.strip(), credit.strip())
    except ValueError as problem:
        example = "write it as https://tiles.example.org/{z}/{x}/{y}.png"
        raise InputProblem(Fault(f"--online: {problem}", example)) from None


def channel_option(command: Command) -> Command:
    """--channel NAME: one of the net's simplex channels, by name or frequency."""
    return click.option(
        "--channel",
        "channel",
        metavar="NAME|MHz",
        default=None,
        help="Simplex channel by name or frequency; without it the net's first.",
    )(command)


def control_option(command: Command) -> Command:
    """--control CALL."""
    return click.option(
        "--control", metavar="CALL", default=None, help="Plan for this net control instead of the best one."
    )(command)


def rule_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Options that go before the [planning] table of net.toml, handed over as one `choice`."""

    @functools.wraps(command)
    def wrapped(
        *,
        readability: int | None,
        chance: float | None,
        longest_chain: int | None,
        chains: str,
        **others: Any,
    ) -> Any:
        from reach.answers.rules import RuleChoice
        from reach.plans.relays.rules import Chains

        grown = Chains(chains.replace("-", "_"))
        return command(choice=RuleChoice(readability, chance, longest_chain, grown), **others)

    options = (
        click.option(
            "--readability",
            type=click.IntRange(2, 5),
            help="Lowest readability that counts, R2 to R5, both ways.",
        ),
        click.option(
            "--chance",
            type=click.FloatRange(0.0, 1.0, min_open=True, max_open=True),
            help="Lowest chance that counts, both ways, e.g. 0.8.",
        ),
        click.option(
            "--longest-chain", type=click.IntRange(0, 3), help="Most relays between a member and net control."
        ),
        click.option(
            "--chains",
            type=click.Choice(["shortest", "fewest-relays"]),
            default="shortest",
            show_default=True,
            help="Keep each chain as short as the ground allows, or let chains grow to save relays.",
        ),
    )
    decorated: Callable[..., Any] = wrapped
    for option in reversed(options):
        decorated = option(decorated)
    return decorated


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
    if existing is Existing.REPLACE:
        _refuse_inputs(files)


def _refuse_inputs(files: Sequence[Path]) -> None:
    """No result may take the place of what the running command reads, whatever was allowed.

    Raises : OutputProblem.
    """
    context = click.get_current_context(silent=True)
    folder = context.params.get("folder") if context is not None else None
    there = [file for file in files if file.exists()]
    if not isinstance(folder, Path) or not there:
        return
    only = context.params.get("only") if context is not None else None
    listed = [only] if isinstance(only, Path) else []
    from reach.inputs.club import input_places

    inputs = [place.resolve() for place in (*input_places(folder), *listed)]
    for file in there:
        if any(file == place or place in file.parents for place in inputs):
            raise OutputProblem(f"{file} is part of the net folder's own data; give another name.")


def deliver(text: str, target: str | None, *, existing: Existing) -> None:
    """Write a result to its file whole or not at all, or to standard output; nothing without a target."""
    if target == STANDARD_OUTPUT:
        deliver_bytes(text.encode("utf-8"), target, existing=existing)  # bytes: line ends stay as they are
    elif target is not None:
        write_text(Path(target), text, existing)
        click.echo(f"wrote {target}", err=True)


def deliver_bytes(data: bytes, target: str, *, existing: Existing) -> None:
    """Write a picture or other binary result to its file whole or not at all, or to standard output."""
    if target == STANDARD_OUTPUT:
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
    else:
        write_bytes(Path(target), data, existing)
        click.echo(f"wrote {target}", err=True)


def speaks_text(*targets: str | None) -> bool:
    """Whether standard output is free for the words meant for people."""
    return STANDARD_OUTPUT not in targets


def text_width() -> int:
    """Columns to write text in: the terminal's, within reason; in a pipe or file COLUMNS or 120."""
    if sys.stdout.isatty():
        return max(_NARROWEST, min(shutil.get_terminal_size().columns, _WIDEST))
    columns = os.environ.get("COLUMNS", "")
    return max(_NARROWEST, min(int(columns), 10 * _WIDEST)) if columns.isdecimal() else _WIDTH_IN_PIPES


def say(*parts: RenderableType) -> None:
    """Write renderables to standard output as text: colour only on a terminal, only letters it can take."""
    from reach.drawings.tables.terminal import Charset, Colour, terminal_text

    in_colour = sys.stdout.isatty() and "NO_COLOR" not in os.environ and os.environ.get("TERM") != "dumb"
    encoding = (getattr(sys.stdout, "encoding", None) or "ascii").lower().replace("-", "").replace("_", "")
    text = terminal_text(
        *parts,
        width=text_width(),
        charset=Charset.UNICODE if encoding.startswith("utf") else Charset.ASCII,
        colour=Colour.ANSI if in_colour else Colour.NONE,
    )
    sys.stdout.write(text)
    sys.stdout.flush()


@contextmanager
def progress_bar(what: str) -> Iterator[Callable[[int, int], None]]:
    """A `progress(done, total)` callback drawn as a bar on a terminal's standard error, silent elsewhere."""
    if not sys.stderr.isatty():
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
        task = bar.add_task(what, total=None)

        def advance(done: int, total: int) -> None:
            bar.update(task, completed=done, total=total)

        yield advance

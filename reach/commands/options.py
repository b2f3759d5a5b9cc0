"""Options and their types that the commands share; ways of speaking are in `speaking` and found here too."""

from __future__ import annotations

import datetime
import functools
import math
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from reach.commands.speaking import STANDARD_OUTPUT as STANDARD_OUTPUT
from reach.commands.speaking import deliver as deliver
from reach.commands.speaking import deliver_bytes as deliver_bytes
from reach.commands.speaking import progress_bar as progress_bar
from reach.commands.speaking import say as say
from reach.commands.speaking import speak as speak
from reach.commands.speaking import speaks_text as speaks_text
from reach.commands.speaking import text_width as text_width
from reach.commands.speaking import warn as warn
from reach.errors import Fault, InputProblem, OutputProblem
from reach.files import Existing, check_writable

if TYPE_CHECKING:
    from reach.drawings.maps.page import OnlineTiles

Command = TypeVar("Command", bound=Callable[..., object])


class FiniteRange(click.FloatRange):
    """A number between limits; 'nan' and 'inf', which Python reads as numbers, are none."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        number = float(super().convert(value, param, ctx))
        if not math.isfinite(number):
            self.fail(f"{value} is not a number.", param, ctx)
        return number


class Day(click.DateTime):
    """A calendar day of our times, so that the weeks counted from it are dates too."""

    def __init__(self) -> None:
        super().__init__(["%Y-%m-%d"])

    def convert(
        self, value: object, param: click.Parameter | None, ctx: click.Context | None
    ) -> datetime.datetime:
        day: datetime.datetime = super().convert(value, param, ctx)
        if not 1900 <= day.year <= 2200:
            self.fail(f"{value} is not between the years 1900 and 2200.", param, ctx)
        return day


CHANCE = FiniteRange(0.0, 1.0, min_open=True, max_open=True)  # of a link, neither never nor always
SHARE = FiniteRange(0.0, 1.0)
SEED = click.IntRange(0, 2**32 - 1)
HOW_MANY_NETS = click.IntRange(1, 1000)
ROUNDS = click.IntRange(1, 1000)
DAY = Day()


def folder_argument(command: Command) -> Command:
    """The net folder; whether it is there is said by whoever reads it."""
    return click.argument("folder", type=click.Path(path_type=Path))(command)


def basis_option(command: Command) -> Command:
    """--as-predicted: a `Basis` for `open_net`."""

    def chosen(_: click.Context, __: click.Parameter, predicted: object) -> object:
        from reach.answers.learned import Basis

        return Basis.PREDICTED if predicted else Basis.HEARD

    return click.option(
        "--as-predicted",
        "basis",
        is_flag=True,
        callback=chosen,
        help="Leave reports of who was really heard aside.",
    )(command)


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
            type=CHANCE,
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


def stamp_option(command: Command) -> Command:
    """--stamp: `stamp` is the minute with it, else None, so that the paper is the same on any day."""

    def minute(ctx: click.Context, param: click.Parameter, stamped: bool) -> datetime.datetime | None:
        return datetime.datetime.now(datetime.UTC) if stamped else None

    return click.option(
        "--stamp", "stamp", is_flag=True, callback=minute, help="Say on the paper when it was planned."
    )(command)


def replace_option(command: Command) -> Command:
    """--replace: an `Existing` for `reach.files`."""

    def meaning(ctx: click.Context, param: click.Parameter, given: bool) -> Existing:
        return Existing.REPLACE if given else Existing.KEEP

    return click.option(
        "--replace",
        "existing",
        is_flag=True,
        callback=meaning,  # not flag_value, which means something else before click 8.2
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

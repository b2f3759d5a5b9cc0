"""Which net (`@of_net_option`: --net), and who is there tonight (`@tonight_options`: the rest, too)."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

if TYPE_CHECKING:
    from reach.inputs.net_folder import NetFolder


def net_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """--net NAME: one of the club's nets."""
    return click.option(
        "--net",
        metavar="NAME",
        default=None,
        help="Which of the club's nets, where net.toml has several: its channel, repeater, day and script.",
    )(command)


def of_net_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """The command's `folder` becomes the `NetFolder` read, for the net named."""

    @functools.wraps(command)
    def wrapped(*, folder: Path, net: str | None, **others: Any) -> Any:
        return command(folder=_read(folder, net), **others)

    return net_option(wrapped)


def _read(folder: Path, net: str | None) -> NetFolder:
    from reach.inputs.net_folder import of_net, read_net_folder

    read = read_net_folder(folder)
    return read if net is None else of_net(read, net)


def tonight_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The command's `folder` becomes the `NetFolder` read: for the net named, those away left out."""

    @functools.wraps(command)
    def wrapped(
        *, folder: Path, net: str | None, without: tuple[str, ...], only: Path | None, **others: Any
    ) -> Any:
        from reach.inputs.tonight import present

        return command(folder=present(_read(folder, net), without=without, only=only), **others)

    options = (
        net_option,
        click.option(
            "--without",
            metavar="CALL",
            multiple=True,
            help="Who is away tonight; again, or with commas, for more. The roster stays as it is.",
        ),
        click.option(
            "--only",
            type=click.Path(path_type=Path),
            metavar="FILE",
            default=None,
            help="Plan with those of this file only, a call sign a line.",
        ),
    )
    decorated: Callable[..., Any] = wrapped
    for option in reversed(options):
        decorated = option(decorated)
    return decorated

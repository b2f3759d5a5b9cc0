"""Which net and who is there tonight: `@tonight_options` adds --net, --without and --only."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click


def net_option(command: Callable[..., Any]) -> Callable[..., Any]:
    """--net NAME: one of the club's nets."""
    return click.option(
        "--net",
        metavar="NAME",
        default=None,
        help="Which of the club's nets, where net.toml has several: its channel, repeater, day and script.",
    )(command)


def tonight_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The command's `folder` becomes the `NetFolder` read: for the net named, those away left out."""

    @functools.wraps(command)
    def wrapped(
        *, folder: Path, net: str | None, without: tuple[str, ...], only: Path | None, **others: Any
    ) -> Any:
        from reach.inputs.net_folder import of_net, read_net_folder
        from reach.inputs.tonight import present

        read = read_net_folder(folder)
        if net is not None:
            read = of_net(read, net)
        return command(folder=present(read, without=without, only=only), **others)

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

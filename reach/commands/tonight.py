"""Who is there tonight: `@tonight_options` adds --without and --only and hands over the net folder read."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click


def tonight_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """The command's `folder` becomes the `NetFolder` read, those away left out."""

    @functools.wraps(command)
    def wrapped(*, folder: Path, without: tuple[str, ...], only: Path | None, **others: Any) -> Any:
        from reach.inputs.net_folder import read_net_folder
        from reach.inputs.tonight import present

        return command(folder=present(read_net_folder(folder), without=without, only=only), **others)

    options = (
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

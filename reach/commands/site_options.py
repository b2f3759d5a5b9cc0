"""The options of `reach sites` that say where to search, handed over as one `typed` area."""

from __future__ import annotations

import functools
from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

_TEXTS = ("near", "within", "inside", "outside", "lowest", "highest", "steepest", "resolution")


def area_options(command: Callable[..., Any]) -> Callable[..., Any]:
    """Where a site may stand, as typed; see `reach.inputs.search_area`."""

    @functools.wraps(command)
    def wrapped(**arguments: Any) -> Any:
        from reach.inputs.search_area import TypedArea

        typed = TypedArea(**{name: arguments.pop(name) for name in _TEXTS})
        return command(typed=typed, **arguments)

    polygons = click.Path(path_type=Path)
    options = (
        click.option(
            "--near", metavar="PLACE", default=None, help="Search round this member, locator or coordinates."
        ),
        click.option(
            "--within", metavar="DISTANCE", default=None, help="How far from --near, or from --for's member."
        ),
        click.option("--inside", type=polygons, metavar="FILE", help="Search in these polygons (GeoJSON)."),
        click.option("--outside", type=polygons, metavar="FILE", help="Keep out of these polygons."),
        click.option("--lowest", metavar="HEIGHT", default=None, help="Least elevation of a site."),
        click.option("--highest", metavar="HEIGHT", default=None, help="Greatest elevation of a site."),
        click.option(
            "--steepest", metavar="SLOPE", default=None, help="Steepest ground to stand on, e.g. 15 deg."
        ),
        click.option(
            "--resolution", metavar="LENGTH", default="30 m", show_default=True, help="Side of a cell."
        ),
    )
    decorated: Callable[..., Any] = wrapped
    for option in reversed(options):
        decorated = option(decorated)
    return decorated

"""Where a command's results go: the options that name files, checked before long work, and the writing.

`@outputs("map", "json", "csv")` adds the options and hands the command one `Outputs` in their place.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import click

from reach.commands.options import (
    check_outputs,
    deliver,
    deliver_bytes,
    online_options,
    online_tiles,
    replace_option,
    speaks_text,
)
from reach.files import Existing

if TYPE_CHECKING:
    from reach.answers.record import Answer
    from reach.drawings.maps.page import OnlineTiles

HELP = {
    "map": "Draw the map as one HTML page that opens with no network.",
    "picture": "Draw the answer as a picture; the ending says how: .png, .svg or .pdf.",
    "page": "Write it as a page to print, .html.",
    "pdf": "Write it as PDF.",
    "text": "Write it as plain text.",
    "calendar": "Write the rota as iCalendar (.ics).",
    "geotiff": "Write every layer as a GeoTIFF.",
    "geojson": "Write outlines by grade as GeoJSON.",
    "kml": "Write outlines by grade as KML.",
    "gpx": "Write the places as GPX waypoints.",
    "questions": "Write the questions to hand out, .pdf, .html or .txt.",
    "answers": "Write the answers for the leader, .pdf, .html or .txt; - for standard output.",
    "form": "Write a table, .csv, for what was heard, as `reach report` reads it.",
    "json": "Write the result as JSON; - for standard output.",
    "csv": "Write the table as CSV; - for standard output.",
}


@dataclass(frozen=True)
class Outputs:
    """Targets by kind, as named by the user: a file, - for standard output, or absent.

    online : a tile service to offer on a map, where asked for.
    """

    existing: Existing = Existing.KEEP
    targets: dict[str, str] = field(default_factory=dict)
    online: OnlineTiles | None = None

    def wants(self, kind: str) -> bool:
        """Whether this kind of result was asked for."""
        return kind in self.targets

    @property
    def speaks(self) -> bool:
        """Whether standard output is free for the words meant for people."""
        return speaks_text(*self.targets.values())

    def deliver(self, kind: str, text: str) -> None:
        """Write a result where it was asked for."""
        deliver(text, self.targets.get(kind), existing=self.existing)

    def deliver_bytes(self, kind: str, data: bytes) -> None:
        """Write a binary result where it was asked for."""
        if kind in self.targets:
            deliver_bytes(data, self.targets[kind], existing=self.existing)

    def machine(self, answer: Answer) -> None:
        """Write an answer as JSON and its rows as CSV, whichever was asked for."""
        from reach.drawings.exports.machine import answer_json, sheet_csv

        if self.wants("json"):
            self.deliver("json", answer_json(answer))
        if self.wants("csv"):
            self.deliver("csv", sheet_csv(answer.rows))


Command = Callable[..., Any]


def outputs(*kinds: str) -> Callable[[Command], Command]:
    """Options --KIND FILE for each kind, --replace, and with a map --online and --credit."""

    def decorate(command: Command) -> Command:
        @functools.wraps(command)
        def wrapped(
            *,
            existing: Existing,
            online: str | None = None,
            credit: str | None = None,
            **arguments: Any,
        ) -> Any:
            named = {kind: arguments.pop(f"{kind}_file") for kind in kinds}
            targets = {kind: target for kind, target in named.items() if target is not None}
            check_outputs(*targets.values(), existing=existing)
            tiles = online_tiles(online, credit, map_file=targets.get("map"))
            return command(outputs=Outputs(existing, targets, tiles), **arguments)

        decorated: Command = replace_option(wrapped)
        for kind in reversed(kinds):
            if kind == "map":
                decorated = online_options(decorated)
            decorated = click.option(
                f"--{kind}", f"{kind}_file", metavar="FILE", default=None, help=HELP[kind]
            )(decorated)
        return decorated

    return decorate

"""What would be fetched, before anyone is asked, and what was."""

from __future__ import annotations

from urllib.parse import urlsplit

from rich.console import RenderableType

from reach.answers.tiles import TilesAnswer, TilesWork, next_steps
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.files import Existing
from reach.terrain.fetching.sources import SOURCES


def sources_screen() -> list[RenderableType]:
    """The data sets known here."""
    rows = [(source.name, source.title, source.ground.value, source.where) for source in SOURCES]
    columns = (("name", "left"), ("data set", "left"), ("what it holds", "left"), ("of", "left"))
    return [
        quiet_table("Open data sets", columns, rows),
        notes_text(
            ["", *(f"{s.name}: {s.licence}." for s in SOURCES), *dict.fromkeys(s.known for s in SOURCES)]
        ),
    ]


def work_screen(work: TilesWork, existing: Existing) -> list[RenderableType]:
    """What would be fetched from where, how much, and under which terms."""
    wanted, source = work.to_fetch(existing), work.source
    server = urlsplit(wanted[0].part.address).netloc if wanted else ""
    count = f"{len(wanted)} file{'' if len(wanted) == 1 else 's'}"
    lead = (
        f"{count} of {source.title} would be fetched from {server},"
        f" about {work.expected_bytes(existing) / 1e6:.0f} MB, into {work.folder}."
        if wanted
        else f"Nothing to fetch: all that {source.title} has of this net is in {work.folder}."
    )
    rows = [(part.part.name, part.state.value) for part in work.parts]
    lines = [
        f"It holds the {source.ground.value}, of {source.where}.",
        f"Terms: {source.licence}.",
        f"Credit, shown on every map drawn from it: {source.credit}.",
        source.known,
    ]
    return [
        answer(lead),
        notes_text([""]),
        quiet_table("", (("file", "left"), ("", "left")), rows),
        notes_text(["", *lines]),
    ]


def tiles_screen(found: TilesAnswer) -> list[RenderableType]:
    """What was fetched, and what next."""
    return [answer(found.headline), notes_text(["", *next_steps(found)])]

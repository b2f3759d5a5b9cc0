"""`reach columns`: every column of roster.csv and key of net.toml, with what to write."""

from __future__ import annotations

import click

from reach.commands.options import say
from reach.commands.outputs import Outputs, outputs


@click.command("columns")
@outputs("csv")
def command(outputs: Outputs) -> None:
    """Every column of roster.csv and every key of net.toml: units, meaning, other names that are read."""
    from reach.drawings.exports.machine import csv_text
    from reach.drawings.tables.columns import columns_screen
    from reach.inputs.reference import sections

    found = sections()
    if outputs.wants("csv"):
        rows = [
            (part.file, part.title, e.name, " ".join(e.units), e.meaning, " ".join(e.also), e.needed)
            for part in found
            for e in part.entries
        ]
        headings = ("file", "table", "name", "units", "what_to_write", "read_too_as", "needed")
        outputs.deliver("csv", csv_text(rows, headings))
    if outputs.speaks:
        say(*columns_screen(found))

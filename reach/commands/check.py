"""`reach check FOLDER`: is this net ready to be planned? Faults, members, defaults used, elevation needed."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import folder_argument, say, text_width, warn
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import never_shared


@click.command("check", short_help="Read a net folder and say whether it is ready.")
@folder_argument
@never_shared("a check")
@outputs("json", "csv")
def command(folder: Path, outputs: Outputs) -> None:
    """Read a net folder: every fault, the members, the defaults used, the elevation tiles needed.

    FOLDER holds net.toml and roster.csv. The exit code is 0 when the net is ready to be planned, 2 when not.
    """
    from reach.answers.check import check
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.inputs.net_folder import read_net_folder

    found = check(read_net_folder(folder))
    outputs.deliver("json", json_text(found.figures))
    outputs.deliver("csv", sheet_csv(found.rows))
    if outputs.speaks:
        from reach.drawings.tables.check import check_screen

        say(*check_screen(found, width=text_width()))
    for fault in found.faults:
        warn(fault)
    if not found.ready:
        raise click.exceptions.Exit(2)

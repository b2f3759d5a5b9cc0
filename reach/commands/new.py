"""`reach new FOLDER`: a net folder that runs as it is, written whole or not at all."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import folder_argument, progress_bar, speak


@click.command("new", short_help="Start a net folder that runs as it is.")
@folder_argument
def command(folder: Path) -> None:
    """Start a net folder that runs as it is, ready to be made yours.

    FOLDER must not be there yet, or be empty. It gets a net.toml and a roster.csv with notes in them, and
    tiles of invented terrain.
    """
    from reach.demo.starter import write_starter

    with progress_bar("making the terrain") as progress:
        made = write_starter(folder, progress=progress)
    typed = f'"{folder}"' if " " in str(folder) else str(folder)
    speak(
        f"{folder} is ready: {made.members} invented members on {made.tiles} tiles of invented terrain.\n"
        f"Look at it:     reach check {typed}\n"
        f"Plan with it:   reach simplex {typed}\n"
        "Make it yours:  put your members in roster.csv, your channels and repeaters in net.toml,\n"
        "                your elevation tiles in terrain/ (remove the invented ones), and check again."
    )

"""`reach tiles`: the elevation a net still lacks, fetched from an open data set when asked."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from reach.commands.options import folder_argument, progress_bar, replace_option, say, warn
from reach.files import Existing


@click.command("tiles")
@folder_argument
@click.option(
    "--source",
    metavar="NAME",
    default=None,
    help="Which data set: world-surface, usa-ground or world-cover; without it they are listed.",
)
@click.option(
    "--around",
    metavar="TEXT",
    default="20 km",
    show_default=True,
    help="How far round the members and repeaters, e.g. 40 km.",
)
@click.option(
    "--server", metavar="ADDRESS", default="", help="Another server that holds the same files, https://…"
)
@click.option(
    "--sea",
    metavar="CELL",
    multiple=True,
    help="This one-degree cell is open sea, e.g. N41W039: written as flat water at 0 m. Again for more.",
)
@click.option("--yes", "agreed", is_flag=True, help="Fetch without asking first.")
@replace_option
def command(
    folder: Path,
    source: str | None,
    around: str,
    server: str,
    sea: tuple[str, ...],
    agreed: bool,
    existing: Existing,
) -> None:
    """Fetch the elevation or land cover a net needs from an open data set: only the part it needs.

    Nothing is asked of the network before you have seen how much it is, whose it is and under which terms,
    and said yes. Files that are there are not fetched again, so a broken run goes on where it stopped.
    """
    from reach.drawings.tables.tiles import sources_screen, tiles_screen, work_screen

    if source is None:
        say(*sources_screen())
        return
    from reach.answers.tiles import fetch_tiles, tiles_work
    from reach.inputs.net_folder import read_net_folder
    from reach.inputs.quantities import parse_distance_m

    work = tiles_work(
        read_net_folder(folder).net, source=source, around_m=parse_distance_m(around), server=server, sea=sea
    )
    say(*work_screen(work, existing))
    if not work.to_fetch(existing) and not work.sea:
        return
    if not agreed:
        if not sys.stdin.isatty():
            warn("\nNothing was fetched: add --yes to agree.")
            raise click.exceptions.Exit(2)
        if not click.confirm("\nFetch it?", default=False, err=True):
            warn("Nothing was fetched.")
            return
    say(*tiles_screen(fetch_tiles(work, existing=existing, watch=progress_bar)))

"""`reach backup`: how the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    basis_option,
    channel_option,
    folder_argument,
    progress_bar,
    say,
    stamp_option,
)
from reach.commands.outputs import Outputs, outputs
from reach.commands.papers import PaperOutputs, paper_option
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("backup")
@folder_argument
@basis_option
@click.option(
    "--down",
    metavar="CALL",
    multiple=True,
    help="This repeater is down, or this member absent; again for more. Without it: the likely cases.",
)
@click.option("--no-mains", "mains_lost", is_flag=True, help="The mains are lost, with what --down names.")
@click.option(
    "--what-if",
    "changes",
    metavar="CHANGE",
    multiple=True,
    help='Make this change first, e.g. "QK3ABC backup 40 Ah" or "QK3ABC at site 1"; again for more.',
)
@click.option("--case", "letters", metavar="LETTER", multiple=True, help="All about this case of the table.")
@click.option("--all", "every", is_flag=True, help="All about every case.")
@channel_option
@stamp_option
@paper_option
@outputs("map", "page", "pdf", "text", "json", "csv")
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    down: tuple[str, ...],
    mains_lost: bool,
    changes: tuple[str, ...],
    letters: tuple[str, ...],
    every: bool,
    channel: str | None,
    stamp: datetime.datetime | None,
    paper: str,
    outputs: Outputs,
    sharing: Sharing,
) -> None:
    """How the net goes on with a repeater down, the mains lost, or both: one line a case.

    --case and --all tell who calls where, who relays, how long batteries last, what one loss more costs, and
    what would bring cut-off members in. --page, --pdf and --text write the sheet for the wall, --map one map
    with the cases to switch between; the CSV has a row for each case and member.
    """
    from reach.answers.backup import backup
    from reach.answers.open_net import open_net
    from reach.plans.outages.failures import Mains

    mains = Mains.LOST if mains_lost else Mains.ON
    with open_net(folder, basis=basis) as opened:
        found = sharing.of(
            backup(
                opened,
                down=down,
                mains=mains,
                channel=channel,
                changes=changes,
                stamp=stamp,
                watch=progress_bar,
            )
        )
        told = [found.case(letter) for letter in letters]
        if outputs.wants("map"):
            from reach.drawings.maps.backup_page import backup_page

            outputs.deliver("map", backup_page(found, opened.terrain, online=outputs.online))
    if any(outputs.wants(form) for form in ("page", "pdf", "text")):
        from reach.drawings.papers.forms import wall_forms

        PaperOutputs(outputs, paper).write(wall_forms(found))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.backup import backup_screen, basis_text, case_screen

        told = list(found.cases) if every else told
        if not told:
            say(*backup_screen(found))
            return
        say(*(part for case in told for part in case_screen(found, case)), basis_text(found))

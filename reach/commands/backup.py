"""`reach backup`: how the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import channel_option, folder_argument, progress_bar, say
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.inputs.net_folder import NetFolder


@click.command("backup")
@folder_argument
@click.option(
    "--down",
    metavar="CALL",
    multiple=True,
    help="This repeater is down, or this member absent; again for more. Without it: the likely cases.",
)
@click.option("--no-mains", "mains_lost", is_flag=True, help="The mains are lost, with what --down names.")
@channel_option
@outputs("map", "json", "csv")
@tonight_options
@share_options
def command(
    folder: NetFolder,
    down: tuple[str, ...],
    mains_lost: bool,
    channel: str | None,
    outputs: Outputs,
    sharing: Sharing,
) -> None:
    """How the net goes on with a repeater down, the mains lost, or both: who serves whom, who is cut off.

    Also what each single loss costs, how long batteries last, and what would bring cut-off members in. The
    map shows the last case of the list; the CSV has a row for each case and member.
    """
    from reach.answers.backup import backup
    from reach.answers.open_net import open_net
    from reach.plans.outages.failures import Mains

    mains = Mains.LOST if mains_lost else Mains.ON
    with open_net(folder) as opened:
        found = sharing.of(backup(opened, down=down, mains=mains, channel=channel, watch=progress_bar))
        if outputs.wants("map"):
            from reach.drawings.maps.backup_page import backup_page

            outputs.deliver("map", backup_page(found, opened.terrain, online=outputs.online))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.backup import backup_screen

        say(*backup_screen(found))

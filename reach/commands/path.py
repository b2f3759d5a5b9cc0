"""`reach path`: one path in full, both directions, with its picture."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, channel_option, folder_argument, say
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import never_shared
from reach.commands.tonight import of_net_option

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("path")
@folder_argument
@never_shared("a path")
@basis_option
@click.argument("left", metavar="CALL")
@click.argument("right", metavar="CALL")
@channel_option
@outputs("picture", "json", "csv")
@of_net_option
def command(
    folder: NetFolder, basis: Basis, left: str, right: str, channel: str | None, outputs: Outputs
) -> None:
    """One path in full: clearance, loss by every model, the budget of both directions, the picture.

    Two members meet on a simplex channel; a member and a repeater on the repeater's pair of frequencies.
    """
    from reach.answers.open_net import open_net
    from reach.answers.path import path

    form = None
    if outputs.wants("picture"):
        from reach.drawings.profile_plot import path_picture, picture_form

        form = picture_form(outputs.targets["picture"])
    with open_net(folder, basis=basis) as opened:
        found = path(opened, left=left, right=right, channel=channel)
    if form is not None:
        outputs.deliver_bytes("picture", path_picture(found, form=form))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.path import path_screen

        say(*path_screen(found))

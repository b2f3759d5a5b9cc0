"""`reach simplex`: who hears whom radio to radio, tonight's net control, and the fewest relays."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    basis_option,
    channel_option,
    control_option,
    folder_argument,
    progress_bar,
    say,
    text_width,
)
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("simplex")
@folder_argument
@basis_option
@channel_option
@control_option
@outputs("map", "picture", "json", "csv")
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    channel: str | None,
    control: str | None,
    outputs: Outputs,
    sharing: Sharing,
) -> None:
    """Who hears whom on a simplex channel, who should be net control, and who must relay for whom.

    Where no plan can be made, why not is the answer, and who hears whom is shown all the same.
    The CSV has a row for each direction of each pair; the picture is the same as squares, for print.
    """
    from reach.answers.open_net import open_net
    from reach.answers.simplex import simplex

    with open_net(folder, basis=basis) as opened:
        found = sharing.of(simplex(opened, channel=channel, control=control, watch=progress_bar))
        if outputs.wants("map"):
            from reach.drawings.maps.simplex_page import simplex_page

            outputs.deliver("map", simplex_page(found, opened.terrain, online=outputs.online))
    if outputs.wants("picture"):
        from reach.drawings.hearing_plot import hearing_picture
        from reach.drawings.profile_plot import picture_form

        form = picture_form(outputs.targets["picture"])
        outputs.deliver_bytes("picture", hearing_picture(found, form=form))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.simplex import simplex_screen

        say(*simplex_screen(found, width=text_width()))

"""`reach repeater`: who gets into the repeater, who only hears it, who does neither."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, folder_argument, progress_bar, say, text_width
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import of_net_option
from reach.errors import Fault, InputProblem

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("repeater")
@folder_argument
@basis_option
@click.argument("call_signs", nargs=-1, metavar="[REPEATER]...")
@outputs("map", "json", "csv")
@of_net_option
@share_options
def command(
    folder: NetFolder, basis: Basis, call_signs: tuple[str, ...], outputs: Outputs, sharing: Sharing
) -> None:
    """Who gets into each repeater of the net, who only hears it, who does neither.

    Name repeaters to look at those only; --net looks at that net's own. The map shows one repeater: name it
    when there are several.
    """
    from reach.answers.open_net import open_net
    from reach.answers.repeater import repeater
    from reach.inputs.lookup import find_repeaters
    from reach.inputs.nets import own_repeater

    if folder.meeting is not None and not call_signs:
        call_signs = (own_repeater(folder.meeting),)
    with open_net(folder, basis=basis) as opened:
        asked = find_repeaters(opened.net, call_signs)
        if outputs.wants("map") and len(asked) > 1:
            calls = ", ".join(one.call_sign for one in asked)
            raise InputProblem(Fault("--map draws one repeater", f"name the one to draw: {calls}"))
        found = sharing.of(repeater(opened, call_signs, watch=progress_bar))
        if outputs.wants("map"):
            from reach.drawings.maps.repeater_page import repeater_page

            outputs.deliver("map", repeater_page(found, opened.terrain, online=outputs.online))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.repeater import repeater_screen

        say(*repeater_screen(found, width=text_width()))

"""`reach kit`: one printed page an operator, to take along when the repeater or the mains are gone."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, channel_option, folder_argument, progress_bar, stamp_option
from reach.commands.papers import PaperOutputs, paper_outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("kit")
@folder_argument
@basis_option
@click.argument("call_signs", nargs=-1, metavar="[CALL]...")
@channel_option
@stamp_option
@paper_outputs
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    call_signs: tuple[str, ...],
    channel: str | None,
    stamp: datetime.datetime | None,
    papers: PaperOutputs,
    sharing: Sharing,
) -> None:
    """One page an operator for the go-kit: frequencies, whom to call in which case, whom one hears.

    Name call signs for their pages only; without any there is a page for every member. Without --page, --pdf
    or --text the sheets are shown here.
    """
    from reach.answers.kit import kit
    from reach.answers.open_net import open_net
    from reach.drawings.papers.forms import kit_forms

    with open_net(folder, basis=basis) as opened:
        found = sharing.of(
            kit(opened, stamp=stamp, operators=call_signs, channel=channel, watch=progress_bar)
        )
    papers.write(kit_forms(found))

"""`reach kit`: one printed page an operator, to take along when the repeater or the mains are gone."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from reach.commands.options import channel_option, folder_argument, progress_bar, stamp_option
from reach.commands.papers import PaperOutputs, paper_outputs


@click.command("kit")
@folder_argument
@click.argument("call_signs", nargs=-1, metavar="[CALL]...")
@channel_option
@stamp_option
@paper_outputs
def command(
    folder: Path,
    call_signs: tuple[str, ...],
    channel: str | None,
    stamp: datetime.datetime | None,
    papers: PaperOutputs,
) -> None:
    """One page an operator for the go-kit: frequencies, whom to call in which case, whom one hears.

    Name call signs for their pages only; without any there is a page for every member. Without --page, --pdf
    or --text the sheets are shown here.
    """
    from reach.answers.kit import kit
    from reach.answers.open_net import open_net
    from reach.drawings.papers.forms import kit_forms

    with open_net(folder) as opened:
        found = kit(opened, stamp=stamp, operators=call_signs, channel=channel, watch=progress_bar)
    papers.write(kit_forms(found))

"""`reach trust`: how far plans can be trusted, judged by who was really heard."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import folder_argument, progress_bar, say
from reach.commands.outputs import Outputs, outputs


@click.command("trust", short_help="How far plans can be trusted, judged by reports.")
@folder_argument
@outputs("picture", "json", "csv")
def command(folder: Path, outputs: Outputs) -> None:
    """How far plans can be trusted: foretold against really heard, and which stations disagree for good.

    Every net is foretold from all the others, never from its own reports. The picture shows, for each chance
    foretold, how often it came true.
    """
    from reach.answers.open_net import open_net
    from reach.answers.trust import trust
    from reach.drawings.profile_plot import picture_form
    from reach.drawings.tables.trust import trust_screen

    form = picture_form(outputs.targets["picture"]) if outputs.wants("picture") else None
    with open_net(folder) as opened:
        found = trust(opened, watch=progress_bar)
    if form is not None:
        from reach.drawings.reliability_plot import reliability_picture

        outputs.deliver_bytes("picture", reliability_picture(found, form=form))
    outputs.machine(found)
    if outputs.speaks:
        say(*trust_screen(found))

"""`reach sheet`: the page a net is run from, as text, HTML or PDF."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    DAY,
    basis_option,
    channel_option,
    control_option,
    deliver,
    folder_argument,
    progress_bar,
    rule_options,
    speak,
    stamp_option,
)
from reach.commands.papers import PaperOutputs, paper_outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.answers.rules import RuleChoice
    from reach.files import Existing
    from reach.inputs.net_folder import NetFolder


@click.command("sheet")
@folder_argument
@basis_option
@channel_option
@control_option
@rule_options
@click.option(
    "--on",
    "kind",
    type=click.Choice(["simplex", "repeater", "both"]),
    default=None,
    help="The simplex net, the repeater net, or the repeater net and then simplex, on one sheet; as the net "
    "meets by [[nets]], else simplex.",
)
@click.option("--repeater", metavar="CALL", default=None, help="Which repeater, where there are several.")
@click.option(
    "--date",
    "day",
    type=DAY,
    metavar="YYYY-MM-DD",
    default=None,
    help="Day of the net; the next one of [schedule] or [[nets]] unless given.",
)
@click.option(
    "--down",
    metavar="CALL",
    multiple=True,
    help="For the net without this repeater or member, as `reach backup` plans it; again for more.",
)
@click.option("--no-mains", "mains_lost", is_flag=True, help="For the net without mains.")
@click.option(
    "--own-words",
    is_flag=True,
    help="Put script.txt, the spoken wording, into FOLDER to be edited; no sheet.",
)
@stamp_option
@paper_outputs
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    channel: str | None,
    control: str | None,
    choice: RuleChoice,
    kind: str | None,
    repeater: str | None,
    day: datetime.datetime | None,
    down: tuple[str, ...],
    mains_lost: bool,
    own_words: bool,
    stamp: datetime.datetime | None,
    papers: PaperOutputs,
    sharing: Sharing,
) -> None:
    """The sheet net control runs the net from: what to say, whom to call, who relays, room to write.

    Without --page, --pdf or --text it is shown here. FOLDER/script.txt, when there, holds the wording.
    """
    if own_words:
        _own_words(Path(folder.net.folder), papers.outputs.existing)
        return
    from reach.answers.open_net import open_net
    from reach.answers.run_sheet import run_sheet
    from reach.answers.turns import meeting_on
    from reach.drawings.papers.forms import run_sheet_forms
    from reach.inputs.nets import MeetsOn

    today = datetime.datetime.now(datetime.UTC).date()
    folder = meeting_on(folder, day.date() if day else today)
    with open_net(folder, basis=basis) as opened:
        if down or mains_lost:
            from reach.answers.outage_sheet import outage_sheet
            from reach.plans.outages.failures import Mains

            lost = outage_sheet(
                opened,
                down=down,
                mains=Mains.LOST if mains_lost else Mains.ON,
                stamp=stamp,
                day=day.date() if day else None,
                channel=channel,
                control=control,
                choice=choice,
                watch=progress_bar,
            )
            papers.write(run_sheet_forms(sharing.of(lost)))
            return
        found = run_sheet(
            opened,
            today=today,
            stamp=stamp,
            day=day.date() if day else None,
            channel=channel,
            control=control,
            choice=choice,
            kind=MeetsOn(kind) if kind else None,
            repeater=repeater,
            watch=progress_bar,
        )
    papers.write(run_sheet_forms(sharing.of(found)))


def _own_words(folder: Path, existing: Existing) -> None:
    """The built-in wording as a file of the net folder, once the folder is one."""
    from reach.drawings.papers.script import default_script
    from reach.inputs.net_folder import SCRIPT_FILE

    deliver(default_script(), str(folder / SCRIPT_FILE), existing=existing)
    speak(f"{folder / SCRIPT_FILE} is there to be edited.")

"""`reach places`: which stations work the places the club serves, case by case, and who should go there."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, channel_option, folder_argument, progress_bar, say
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import never_shared
from reach.commands.tonight import of_net_option

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("places")
@folder_argument
@never_shared("a list of places")
@basis_option
@click.option("--case", "letters", metavar="LETTER", multiple=True, help="All about this case of the table.")
@click.option("--all", "every", is_flag=True, help="All about every case.")
@channel_option
@outputs("json", "csv")
@of_net_option
def command(
    folder: NetFolder,
    basis: Basis,
    letters: tuple[str, ...],
    every: bool,
    channel: str | None,
    outputs: Outputs,
) -> None:
    """Shelters, hospitals, halls of FOLDER/places.csv: which of the club's stations works each, in each case.

    A handheld and a car stand at each place, outdoors. The cases are those of `reach backup`; the CSV has a
    row for each case and place.
    """
    from reach.answers.open_net import open_net
    from reach.answers.outages import case_of
    from reach.answers.places import served_places
    from reach.drawings.tables.places import case_places_screen, places_basis, places_screen

    with open_net(folder, basis=basis) as opened:
        found = served_places(opened, channel=channel, watch=progress_bar)
    told = list(found.cases) if every else [case_of(found.cases, letter) for letter in letters]
    outputs.machine(found)
    if outputs.speaks:
        if told:
            say(*(part for case in told for part in case_places_screen(found, case)), places_basis(found))
        else:
            say(*places_screen(found))

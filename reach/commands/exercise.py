"""`reach exercise`: random failures, round by round, so that a club can rehearse."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    ROUNDS,
    SEED,
    basis_option,
    channel_option,
    folder_argument,
    progress_bar,
    say,
)
from reach.commands.outputs import Outputs, outputs

if TYPE_CHECKING:
    from reach.answers.learned import Basis


@click.command("exercise")
@folder_argument
@basis_option
@click.option(
    "--seed", type=SEED, default=1, show_default=True, help="The same seed gives the same failures again."
)
@click.option("--rounds", type=ROUNDS, default=10, show_default=True, help="How many rounds, up to 1000.")
@channel_option
@outputs("json", "csv")
def command(
    folder: Path, basis: Basis, seed: int, rounds: int, channel: str | None, outputs: Outputs
) -> None:
    """A series of random failures for the club to rehearse, each with how the net would go on.

    Repeaters and the mains fail, net control, relays and members do not answer. The CSV has a row a round.
    """
    from reach.answers.exercise import exercise
    from reach.answers.open_net import open_net
    from reach.drawings.tables.exercise import exercise_screen

    with open_net(folder, basis=basis) as opened:
        found = exercise(opened, seed=seed, rounds=rounds, channel=channel, watch=progress_bar)
    outputs.machine(found)
    if outputs.speaks:
        say(*exercise_screen(found))

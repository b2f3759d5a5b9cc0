"""`reach relays`: the fewest relays for a net control, who backs whom, and what a change would change."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    SEED,
    basis_option,
    channel_option,
    control_option,
    folder_argument,
    progress_bar,
    rule_options,
    say,
)
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.answers.rules import RuleChoice
    from reach.inputs.net_folder import NetFolder


@click.command("relays")
@folder_argument
@basis_option
@channel_option
@control_option
@rule_options
@click.option(
    "--what-if",
    "changes",
    multiple=True,
    metavar="CHANGE",
    help='Plan again with a change and tell the difference: "without QK3ABC", "add QK9NEW base 41.30,-38.10",'
    ' "QK3ABC height 15 m", "... power 25 W", "... antenna 6 dBd", "... relay yes". May be given again.',
)
@click.option(
    "--evenings",
    type=click.IntRange(100, 1_000_000),
    default=10_000,
    show_default=True,
    help="Evenings to simulate.",
)
@click.option("--seed", type=SEED, default=1, show_default=True, help="Seed of the simulation.")
@outputs("json", "csv")
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    channel: str | None,
    control: str | None,
    choice: RuleChoice,
    changes: tuple[str, ...],
    evenings: int,
    seed: int,
    outputs: Outputs,
    sharing: Sharing,
) -> None:
    """The fewest relays through which net control works everyone it can, and who steps in for whom.

    The plan is exact; it is the same each time. With --what-if only the differences are told.
    """
    from reach.answers.open_net import open_net
    from reach.answers.relays import Simulation, WhatIfAnswer, relays, what_if
    from reach.drawings.tables.relays import relays_screen, what_if_screen

    ask = partial(what_if, changes=changes) if changes else relays
    with open_net(folder, basis=basis) as opened:
        found = ask(
            opened,
            channel=channel,
            control=control,
            choice=choice,
            simulation=Simulation(evenings, seed),
            watch=progress_bar,
        )
    found = sharing.of(found)
    outputs.machine(found)
    if outputs.speaks:
        say(*(what_if_screen(found) if isinstance(found, WhatIfAnswer) else relays_screen(found)))

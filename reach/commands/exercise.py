"""`reach exercise`: random failures, round by round, so that a club can rehearse."""

from __future__ import annotations

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
from reach.commands.papers import deliver_paper, paper_option
from reach.commands.tonight import of_net_option

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder


@click.command("exercise")
@folder_argument
@basis_option
@click.option(
    "--seed", type=SEED, default=1, show_default=True, help="The same seed gives the same failures again."
)
@click.option("--rounds", type=ROUNDS, default=10, show_default=True, help="How many rounds, up to 1000.")
@channel_option
@paper_option
@outputs("questions", "answers", "form", "json", "csv")
@of_net_option
def command(
    folder: NetFolder,
    basis: Basis,
    seed: int,
    rounds: int,
    channel: str | None,
    paper: str,
    outputs: Outputs,
) -> None:
    """A series of random failures for the club to rehearse, each with how the net would go on.

    Repeaters and the mains fail, net control, relays and members do not answer. No round comes twice.
    --questions is to hand out, --answers for the leader, --form to write what was heard into, for `reach
    report`. The form, the JSON and the CSV (a row a round) tell what the answers tell: the leader keeps them.
    """
    from reach.answers.exercise import exercise
    from reach.answers.open_net import open_net
    from reach.drawings.tables.exercise import exercise_screen

    with open_net(folder, basis=basis) as opened:
        found = exercise(opened, seed=seed, rounds=rounds, channel=channel, watch=progress_bar)
    if outputs.wants("questions") or outputs.wants("answers"):
        from reach.drawings.papers.exercise_papers import answer_forms, question_forms

        for kind, forms in (("questions", question_forms), ("answers", answer_forms)):
            if outputs.wants(kind):
                deliver_paper(outputs, kind, forms(found), paper)
    if outputs.wants("form"):
        from reach.answers.exercise_questions import contact_form
        from reach.drawings.exports.machine import sheet_csv

        outputs.deliver("form", sheet_csv(contact_form(found)))
    outputs.machine(found)
    if outputs.speaks:
        say(*exercise_screen(found))

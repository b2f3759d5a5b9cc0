"""`reach exercise`: random failures, round by round, so that a club can rehearse."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    ROUNDS,
    SEED,
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    progress_bar,
    replace_option,
    say,
    speaks_text,
)
from reach.files import Existing


@click.command("exercise")
@folder_argument
@click.option(
    "--seed", type=SEED, default=1, show_default=True, help="The same seed gives the same failures again."
)
@click.option("--rounds", type=ROUNDS, default=10, show_default=True, help="How many rounds, up to 1000.")
@channel_option
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    seed: int,
    rounds: int,
    channel_name: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """A series of random failures for the club to rehearse, each with how the net would go on.

    Repeaters and the mains fail, net control, relays and members do not answer. The CSV has a row a round.
    """
    check_outputs(json_file, csv_file, existing=existing)
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import NetAnswer, assumed_in_short, assumed_notes, records, said_once
    from reach.commands.surveys import survey_net
    from reach.drawings.exports.machine import json_text
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.backup_tables import basis_note, exercise_sheet, exercise_table
    from reach.drawings.tables.terminal import answer, notes_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel
    from reach.inputs.planning import read_planning
    from reach.plans.outages.exercise import exercise, exercise_sentence
    from reach.plans.relays.rules import rules_of

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    channel = find_channel(net, channel_name)
    with open_terrain(net) as terrain:
        survey = survey_net(net, terrain, channel)
        with progress_bar("rounds") as progress:
            series = exercise(survey, rules, planning.battery, seed=seed, rounds=rounds, progress=progress)
    headline = exercise_sentence(series)
    sheet = exercise_sheet(series)
    warnings = said_once(net.warnings, planning.warnings, terrain.warnings, survey.warnings)
    notes = assumed_notes(net)
    result = {"headline": headline, "seed": seed, "rounds": records(sheet)}
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(sheet.csv_text(), csv_file, existing=existing)
    if speaks_text(json_file, csv_file):
        say(answer(headline), notes_text([""]), exercise_table(series))
        say(
            notes_text(
                [
                    "",
                    "In each round: who calls first, where, and who passes traffic for whom? Work it out "
                    "from your printouts, then compare.",
                    f"Seed {seed}: the same seed gives the same rounds as long as the net stays as it is.",
                    basis_note(rules),
                    *warnings,
                    *assumed_in_short(net),
                    SHORT,
                ]
            )
        )

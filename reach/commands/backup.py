"""`reach backup`: how the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    map_option,
    progress_bar,
    replace_option,
    say,
    speaks_text,
)
from reach.files import Existing


@click.command("backup")
@folder_argument
@click.option(
    "--down", "down", metavar="CALL", multiple=True,
    help="Plan for this repeater down or this member absent; give it again for more. Without it: each repeater, "
    "all of them, the mains.",
)  # fmt: skip
@click.option("--no-mains", "mains_lost", is_flag=True, help="With --down: the mains are lost as well.")
@channel_option
@map_option
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    down: tuple[str, ...],
    mains_lost: bool,
    channel_name: str | None,
    map_file: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """How the net goes on with a repeater down, the mains lost, or both: who serves whom, who is cut off.

    Also what each single loss costs, how long batteries last, and what would bring cut-off members in. The map
    shows the last case; the CSV has a row for each case and member.
    """
    check_outputs(map_file, json_file, csv_file, existing=existing)
    from reach.commands.backup_survey import survey_net
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import NetAnswer, assumed_notes
    from reach.drawings.backup_tables import (
        battery_table,
        cases_table,
        members_table,
        points_table,
        relays_table,
        ways_sheet,
    )
    from reach.drawings.cautions import SHORT
    from reach.drawings.machine import json_text
    from reach.drawings.tables import answer, notes_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel
    from reach.inputs.planning import read_planning
    from reach.plans.battery import battery_note
    from reach.plans.failures import Mains, Outage
    from reach.plans.outage import likely_outages, plan_outages
    from reach.plans.rules import rules_of
    from reach.plans.single_points import points_sentence, single_points

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    channel = find_channel(net, channel_name)
    with open_terrain(net) as terrain:
        survey = survey_net(net, terrain, channel)
        if down or mains_lost:
            from reach.commands.backup_survey import asked_outage

            outages = (Outage(), asked_outage(net, down, mains=Mains.LOST if mains_lost else Mains.ON))
        else:
            outages = likely_outages(survey)
        plans = plan_outages(survey, outages, rules, planning.battery)
        with progress_bar("single losses") as progress:
            points = single_points(survey, plans, rules, progress=progress)
    warnings = tuple(
        dict.fromkeys((*net.warnings, *planning.warnings, *terrain.warnings, *survey.simplex.warnings))
    )
    notes = assumed_notes(net)
    deliver(json_text(NetAnswer(net.name, {"cases": plans, "single_losses": points}, notes, warnings)), json_file, existing=existing)
    deliver(ways_sheet(plans).csv_text(), csv_file, existing=existing)
    if not speaks_text(map_file, json_file, csv_file):
        return
    say(*(answer(plan.sentence) for plan in plans), notes_text([""]), cases_table(plans), notes_text([""]))
    say(members_table(plans), notes_text([""]), answer(points_sentence(points, plans)), points_table(points, plans))
    for plan in plans:
        if plan.advice:
            say(notes_text(["", f"{plan.outage.words}: {plan.advice}"]))
        if plan.plan is not None and (plan.plan.relays or plan.cut_off):
            say(notes_text(["", f"{plan.outage.words}:"]), relays_table(plan))
        if plan.batteries:
            say(notes_text(["", f"{plan.outage.words}:"]), battery_table(plan))
    say(notes_text(["", battery_note(planning.battery), *warnings, *notes, SHORT]))

"""`reach backup`: how the net goes on when repeaters, the mains or single stations are gone."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    map_option,
    online_options,
    online_tiles,
    progress_bar,
    replace_option,
    say,
    speaks_text,
)
from reach.errors import Fault, InputProblem
from reach.files import Existing

if TYPE_CHECKING:
    from reach.plans.outages.failures import Mains, Outage
    from reach.stations import Net


@click.command("backup")
@folder_argument
@click.option(
    "--down",
    metavar="CALL",
    multiple=True,
    help="This repeater is down, or this member absent; again for more. Without it: the likely cases.",
)
@click.option("--no-mains", "mains_lost", is_flag=True, help="The mains are lost, with what --down names.")
@channel_option
@map_option
@online_options
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    down: tuple[str, ...],
    mains_lost: bool,
    channel_name: str | None,
    map_file: str | None,
    online: str | None,
    credit: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """How the net goes on with a repeater down, the mains lost, or both: who serves whom, who is cut off.

    Also what each single loss costs, how long batteries last, and what would bring cut-off members in. The
    map shows the last case of the list; the CSV has a row for each case and member.
    """
    check_outputs(map_file, json_file, csv_file, existing=existing)
    tiles = online_tiles(online, credit, map_file=map_file)
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import BackupAnswer, NetAnswer, assumed_in_short, assumed_notes, said_once
    from reach.commands.surveys import survey_net
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.drawings.maps.backup_map import backup_map
    from reach.drawings.maps.ground import places_of, relief_around
    from reach.drawings.style.cautions import MASTS, SHORT
    from reach.drawings.tables import backup_tables as tables
    from reach.drawings.tables.terminal import answer, notes_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel
    from reach.inputs.planning import read_planning
    from reach.plans.outages.backup import likely_outages, plan_outages
    from reach.plans.outages.battery import battery_note
    from reach.plans.outages.failures import Mains, Outage
    from reach.plans.outages.remedies import best_batteries, remedies
    from reach.plans.outages.single_points import points_sentence, single_points
    from reach.plans.relays.rules import rules_of

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    channel = find_channel(net, channel_name)
    asked = asked_outage(net, down, mains=Mains.LOST if mains_lost else Mains.ON)
    with open_terrain(net) as terrain:
        survey = survey_net(net, terrain, channel)
        outages = likely_outages(survey) if asked == Outage() else (Outage(), asked)
        plans = plan_outages(survey, outages, rules, planning.battery)
        with progress_bar("single losses") as progress:
            points = single_points(survey, plans, rules, progress=progress)
        fixes = [remedies(survey, plan, rules, terrain=terrain) for plan in plans]
        batteries = [best_batteries(survey, plan, rules) for plan in plans]
        warnings = said_once(net.warnings, planning.warnings, terrain.warnings, survey.warnings)
        notes = assumed_notes(net)
        if map_file is not None:
            relief = relief_around(terrain, places_of(net))
            page = backup_map(survey, plans[-1], rules, relief=relief, notes=notes, online=tiles)
            deliver(page, map_file, existing=existing)
    result = BackupAnswer(
        channel=channel.name,
        headlines=tuple(plan.sentence for plan in plans),
        cases=plans,
        remedies=tuple(fixes),
        batteries_more=tuple(batteries),
        single_losses=points,
    )
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(sheet_csv(tables.ways_sheet(plans)), csv_file, existing=existing)
    if not speaks_text(map_file, json_file, csv_file):
        return
    blank = notes_text([""])
    say(*(answer(plan.sentence) for plan in plans), blank, tables.cases_table(plans), blank)
    if any(fixes) or any(plan.advice for plan in plans):
        say(tables.shortfalls_text(plans, fixes), blank)
    say(answer(points_sentence(points, plans)), tables.points_table(points, plans), blank)
    say(tables.members_table(plans), blank, tables.relays_table(plans), blank)
    if net.repeaters:
        say(tables.services_table(plans[0]), blank)
    if any(plan.batteries for plan in plans):
        say(tables.batteries_table(plans))
        say(
            notes_text([*{tables.battery_remedy_sentence(found): None for found in batteries if found}]),
            blank,
        )
    basis = [tables.basis_note(rules), battery_note(planning.battery)]
    say(notes_text([*basis, *warnings, *assumed_in_short(net), MASTS, SHORT]))


def asked_outage(net: Net, down: Sequence[str], *, mains: Mains) -> Outage:
    """The outage a user named. Raises : InputProblem with every call sign the net does not know."""
    from reach.inputs.lookup import find_party
    from reach.plans.outages.failures import Outage
    from reach.stations import Repeater

    faults: list[Fault] = []
    repeaters, stations = set[str](), set[str]()
    for call in down:
        try:
            party = find_party(net, call)
        except InputProblem as problem:
            faults += problem.faults
            continue
        (repeaters if isinstance(party, Repeater) else stations).add(party.call_sign)
    if faults:
        raise InputProblem(faults)
    return Outage(frozenset(repeaters), frozenset(stations), mains)

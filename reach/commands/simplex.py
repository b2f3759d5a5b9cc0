"""`reach simplex`: who hears whom radio to radio, tonight's net control, and the fewest relays."""

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
    online_options,
    online_tiles,
    replace_option,
    say,
    speaks_text,
    text_width,
)
from reach.commands.plan_options import control_option
from reach.errors import NoPlan
from reach.files import Existing


@click.command("simplex")
@folder_argument
@channel_option
@control_option
@map_option
@online_options
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    channel_name: str | None,
    control: str | None,
    map_file: str | None,
    online: str | None,
    credit: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """Who hears whom on a simplex channel, who should be net control, and who must relay for whom.

    Where no plan can be made, why not is the answer, and who hears whom is shown all the same.
    The CSV has a row for each direction of each pair.
    """
    check_outputs(map_file, json_file, csv_file, existing=existing)
    tiles = online_tiles(online, credit, map_file=map_file)
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import (
        NetAnswer,
        SimplexAnswer,
        assumed_in_short,
        assumed_notes,
        records,
        said_once,
    )
    from reach.commands.surveys import simplex_paths
    from reach.drawings.exports.machine import json_text, simplex_sheet
    from reach.drawings.maps.ground import places_of, relief_around
    from reach.drawings.maps.net_map import simplex_map
    from reach.drawings.maps.plan_marks import marks_of
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.detail_tables import control_table
    from reach.drawings.tables.terminal import (
        answer,
        matrix_text,
        notes_text,
        plan_table,
        station_table,
    )
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_station
    from reach.inputs.planning import read_planning
    from reach.plans.relays.net_control import ControlChoice, rank_controls
    from reach.plans.relays.plan import RelayPlan, plan_relays
    from reach.plans.relays.rules import rules_of

    net = read_net(folder)
    planning = read_planning(folder)
    channel = find_channel(net, channel_name)
    rules = rules_of(planning)
    if control is not None:
        control = find_station(net, control).call_sign
    with open_terrain(net) as terrain:
        network = simplex_paths(net, terrain, channel)
        controls: tuple[ControlChoice, ...] = ()
        plan: RelayPlan | None = None
        try:
            controls = rank_controls(network, rules)
            plan = plan_relays(network, rules, control=control or controls[0].call_sign)
            headline = plan.sentence
        except NoPlan as reason:
            on_air = sum(station.has_radio_path for station in net.stations)
            if control is not None or on_air < 2:
                raise
            headline = f"{str(reason)[0].upper()}{str(reason)[1:]}"
        notes = assumed_notes(net, net.stations)
        warnings = said_once(net.warnings, planning.warnings, terrain.warnings, network.warnings)
        sheet = simplex_sheet(network)
        marks = marks_of(plan) if plan else None
        if map_file is not None:
            page = simplex_map(
                network,
                headline=headline,
                relief=relief_around(terrain, places_of(net)),
                marks=marks,
                notes=notes,
                online=tiles,
            )
            deliver(page, map_file, existing=existing)
    result = SimplexAnswer(channel.name, channel.frequency_mhz, headline, controls, plan, records(sheet))
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(sheet.csv_text(), csv_file, existing=existing)
    if speaks_text(map_file, json_file, csv_file):
        say(answer(headline), notes_text([""]))
        if marks is not None:
            say(plan_table(network, marks, width=text_width()), notes_text([""]))
        if controls:
            say(control_table(controls, most=8, most_reasons=3), notes_text([""]))
        say(
            matrix_text(network, width=text_width()),
            notes_text([""]),
            station_table(network),
            notes_text(["", *warnings, *assumed_in_short(net, net.stations), SHORT]),
        )

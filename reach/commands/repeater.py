"""`reach repeater`: who gets into the repeater, who only hears it, who does neither."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
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
from reach.files import Existing

if TYPE_CHECKING:
    from reach.stations import Repeater, Station


@click.command("repeater")
@folder_argument
@click.argument("call_signs", nargs=-1, metavar="[REPEATER]...")
@map_option
@online_options
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    call_signs: tuple[str, ...],
    map_file: str | None,
    online: str | None,
    credit: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """Who gets into each repeater of the net, who only hears it, who does neither.

    Name repeaters to look at those only. The map shows one repeater: name it when there are several.
    """
    check_outputs(map_file, json_file, csv_file, existing=existing)
    tiles = online_tiles(online, credit, map_file=map_file)
    from reach.answers.link_rows import repeater_rows
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import (
        NetAnswer,
        RepeaterAnswer,
        assumed_in_short,
        assumed_notes,
        one_sheet,
        records,
        said_once,
    )
    from reach.commands.surveys import repeater_paths
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.drawings.maps.ground import places_of, relief_around
    from reach.drawings.maps.net_map import repeater_map
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.terminal import answer, notes_text, repeater_table
    from reach.errors import Fault, InputProblem
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_repeaters
    from reach.links.outcome import outcome_sentence

    net = read_net(folder)
    repeaters = find_repeaters(net, call_signs)
    if map_file is not None and len(repeaters) > 1:
        calls = ", ".join(repeater.call_sign for repeater in repeaters)
        raise InputProblem(Fault("--map draws one repeater", f"name the one to draw: {calls}"))
    with open_terrain(net) as terrain:
        networks = repeater_paths(net, terrain, repeaters)
        headlines = [outcome_sentence(network) for network in networks]
        parties: list[Station | Repeater] = [*repeaters, *net.stations]
        notes, short = assumed_notes(net, parties), assumed_in_short(net, parties)
        warnings = said_once(net.warnings, terrain.warnings, *(network.warnings for network in networks))
        sheets = [repeater_rows(network) for network in networks]
        if map_file is not None:
            page = repeater_map(
                networks[0],
                headline=headlines[0],
                relief=relief_around(terrain, places_of(net)),
                notes=notes,
                online=tiles,
            )
            deliver(page, map_file, existing=existing)
    answers = tuple(
        RepeaterAnswer(network.repeater.call_sign, headline, records(sheet), network.no_radio)
        for network, headline, sheet in zip(networks, headlines, sheets)
    )
    deliver(json_text(NetAnswer(net.name, answers, notes, warnings)), json_file, existing=existing)
    deliver(sheet_csv(one_sheet(sheets)), csv_file, existing=existing)
    if speaks_text(map_file, json_file, csv_file):
        for network, headline in zip(networks, headlines):
            say(
                answer(headline),
                notes_text([""]),
                repeater_table(network, width=text_width()),
                notes_text([""]),
            )
        say(notes_text([*warnings, *short, SHORT]))

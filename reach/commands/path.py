"""`reach path`: one path in full, both directions, with its picture."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    channel_option,
    check_outputs,
    csv_option,
    deliver,
    deliver_bytes,
    folder_argument,
    json_option,
    replace_option,
    say,
    speaks_text,
)
from reach.files import Existing


@click.command("path")
@folder_argument
@click.argument("left", metavar="CALL")
@click.argument("right", metavar="CALL")
@channel_option
@click.option(
    "--picture",
    "picture_file",
    metavar="FILE",
    default=None,
    help="Draw the profile; the ending says how: .png, .svg or .pdf.",
)
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    left: str,
    right: str,
    channel_name: str | None,
    picture_file: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """One path in full: clearance, loss by every model, the budget of both directions, the picture.

    Two members meet on a simplex channel; a member and a repeater on the repeater's pair of frequencies.
    """
    check_outputs(picture_file, json_file, csv_file, existing=existing)
    from reach.answers.link_rows import path_rows
    from reach.commands.net_folder import open_terrain
    from reach.commands.results import (
        NetAnswer,
        PathAnswer,
        assumed_in_short,
        assumed_notes,
        records,
        said_once,
    )
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.drawings.profile_plot import PathDrawing, picture_form, profile_picture
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.style.words import worst_point_words
    from reach.drawings.tables.detail_tables import budget_table, models_table
    from reach.drawings.tables.terminal import answer, notes_text, path_table
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel
    from reach.links.exposure import keep_away_words
    from reach.links.path_study import study_path
    from reach.links.words import path_sentence

    net = read_net(folder)
    form = None if picture_file is None else picture_form(picture_file)
    channel = None if channel_name is None else find_channel(net, channel_name)
    with open_terrain(net) as terrain:
        study = study_path(net, terrain, left=left, right=right, channel=channel)
        warnings = said_once(net.warnings, terrain.warnings, study.warnings)
    ends = (study.left, study.right)
    notes = assumed_notes(net, ends)
    headline = path_sentence(study.there, study.back)
    sheet = path_rows(study.there, study.back)
    if picture_file is not None and form is not None:
        drawing = PathDrawing(
            profile=study.profile,
            left_height_m=study.left.antenna.height_m,
            right_height_m=study.right.antenna.height_m,
            there=study.there,
            back=study.back,
            clearance=study.clearance,
            k_factor=net.k_factor,
        )
        deliver_bytes(profile_picture(drawing, headline=headline, form=form), picture_file, existing=existing)
    budgets = (study.there_budget, study.back_budget)
    spread = study.models_spread
    result = PathAnswer(
        headline, study.clearance, records(sheet), budgets, study.models, spread, study.keep_away
    )
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(sheet_csv(sheet), csv_file, existing=existing)
    if speaks_text(picture_file, json_file, csv_file):
        gap = notes_text([""])
        worst = worst_point_words(study.clearance, start=study.left.call_sign)
        say(answer(headline), gap, path_table(study.there, study.back), notes_text([worst, ""]))
        for budget in budgets:
            say(budget_table(budget), gap)
        short = assumed_in_short(net, ends)
        caution = keep_away_words(study.keep_away)
        agreement = [] if spread is None else [spread.sentence]
        say(models_table(study.models), notes_text(["", *agreement, *warnings, *short, caution, SHORT]))

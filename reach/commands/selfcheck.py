"""`reach selfcheck`: the path-loss models against the standards bodies' own cases, on this machine."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    check_outputs,
    csv_option,
    deliver,
    json_option,
    progress_bar,
    replace_option,
    say,
    speaks_text,
    warn,
)
from reach.errors import Fault, InputProblem
from reach.files import Existing


@click.command("selfcheck")
@click.option("--measured", "measured", type=click.Path(path_type=Path), metavar="FILE", default=None,
              help="Hold the models against a table of measured paths instead; needs --terrain.")  # fmt: skip
@click.option("--terrain", "terrain", type=click.Path(path_type=Path), metavar="FOLDER", multiple=True,
              help="Elevation tiles under the measured paths; again for more folders.")  # fmt: skip
@json_option
@csv_option
@replace_option
def command(
    measured: Path | None,
    terrain: tuple[Path, ...],
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """Compute the standards bodies' own cases on this machine and compare, case by case.

    The exit code is 1 when one is off. The cases and their sources come with the package.

    With --measured FILE the models are held against measurements of yours: a .csv with the columns
    latitude_1, longitude_1, height_1_m, latitude_2, longitude_2, height_2_m, frequency_mhz and loss_db (or
    level_dbm with power_w, gain_1_dbi, gain_2_dbi). Errors are told by kind of path, distance and band.
    """
    check_outputs(json_file, csv_file, existing=existing)
    if measured is not None:
        _against(measured, terrain, json_file, csv_file, existing)
        return
    if terrain or csv_file is not None:
        raise InputProblem(Fault("--terrain and --csv go with --measured", "name the file of measurements"))
    from reach.selfcheck.check import self_check

    with progress_bar("cases") as progress:
        found = self_check(progress)
    if json_file is not None:
        from reach.drawings.exports.machine import json_text

        deliver(json_text(found), json_file, existing=existing)
    if speaks_text(json_file):
        from reach.drawings.tables.terminal import answer, notes_text, quiet_table

        columns = [("model", "left"), ("checked against", "left"), ("cases", "right")]
        columns += [("largest difference, dB", "right"), ("allowed, dB", "right"), ("verdict", "left")]
        rows = [
            (
                checked.model,
                checked.source,
                str(checked.cases),
                f"{checked.largest_difference_db:.1e}",
                f"{checked.allowed_db:.1e}",
                "agrees" if checked.agrees else f"off: {', '.join(checked.off)}",
            )
            for checked in found.sets
        ]
        note = "This checks the arithmetic of the models, not your data: test every link on the air."
        say(answer(found.headline), notes_text([""]), quiet_table("", columns, rows), notes_text(["", note]))
    if not found.agrees:
        raise click.exceptions.Exit(1)


def _against(
    measured: Path, terrain: tuple[Path, ...], json_file: str | None, csv_file: str | None, existing: Existing
) -> None:
    """The models against measured paths. The exit code is 1 when rows were left out."""
    from reach.answers.measured import against_measured
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.drawings.tables.measured import measured_screen
    from reach.terrain.tiles import Terrain

    if not terrain:
        raise InputProblem(Fault("--measured needs the ground", "name its tiles with --terrain FOLDER"))
    ground = Terrain.open([str(folder) for folder in terrain])
    try:
        found = against_measured(measured, ground, watch=progress_bar)
    finally:
        ground.close()
    if json_file is not None:
        deliver(
            json_text({"headline": found.headline, "figures": found.figures}), json_file, existing=existing
        )
    if csv_file is not None:
        deliver(sheet_csv(found.rows), csv_file, existing=existing)
    for fault in found.faults:
        warn(str(fault))
    if speaks_text(json_file, csv_file):
        say(*measured_screen(found))
    if found.faults:
        raise click.exceptions.Exit(1)

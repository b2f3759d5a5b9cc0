"""`reach selfcheck`: the path-loss models against the standards bodies' own cases, on this machine."""

from __future__ import annotations

import click

from reach.commands.options import (
    check_outputs,
    deliver,
    json_option,
    progress_bar,
    replace_option,
    say,
    speaks_text,
)
from reach.files import Existing


@click.command("selfcheck")
@json_option
@replace_option
def command(json_file: str | None, existing: Existing) -> None:
    """Compute the standards bodies' own cases on this machine and compare, case by case.

    The exit code is 1 when one is off. The cases and their sources come with the package.
    """
    check_outputs(json_file, existing=existing)
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

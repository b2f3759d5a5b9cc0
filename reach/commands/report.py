"""`reach report`: take in who was really heard, from files or by hand; write everything back."""

from __future__ import annotations

import datetime
from pathlib import Path

import click

from reach.commands.options import folder_argument, say, warn
from reach.commands.outputs import Outputs, outputs
from reach.commands.tonight import net_option
from reach.errors import Fault, InputProblem


@click.command("report", short_help="Write down who was really heard.")
@folder_argument
@click.argument("said", nargs=-1, metavar="[FILE|LINE]...")
@click.option("--log-of", "owner", metavar="CALL", default="", help="Whose log it is, where it does not say.")
@click.option("--export", "export_file", metavar="FILE", default=None,
              help="Write all reports back: .csv, or .adi for a log.")  # fmt: skip
@click.option("--who-came", "who_came", is_flag=True,
              help="Who came to the nets, who is to be expected, who led; nothing is taken in.")  # fmt: skip
@net_option
@outputs("json", "csv")
def command(
    folder: Path,
    said: tuple[str, ...],
    owner: str,
    export_file: str | None,
    who_came: bool,
    net: str | None,
    outputs: Outputs,
) -> None:
    """Take in reports of who was really heard; every plan then uses them.

    A FILE is a spreadsheet's .csv with the columns date, station, hears (and time, on, heard, readability,
    s_meter, dbm, list, via), or a log in ADIF, .adi or .adx. A LINE is a report in words:

    \b
    reach report our-net "QK3ABC hears QK3DEF R4 two metres"
    reach report our-net "QK3ABC not heard by QK3RA"

    With --who-came, --net tells of one of the club's nets only. The exit code is 1 when some rows were left
    out, 2 when nothing was stored.
    """
    if who_came:
        _who_came(folder, said, export_file, net, outputs)
        return
    if net is not None:
        raise InputProblem(
            Fault("--net goes with --who-came", "a report says by its date and channel which net it is of")
        )
    from reach.answers.report import report
    from reach.commands.options import check_outputs, deliver
    from reach.drawings.exports.machine import json_text, sheet_csv
    from reach.drawings.tables.report import report_screen
    from reach.errors import OutputProblem
    from reach.inputs.net_folder import read_net_folder

    if export_file is not None:
        if not export_file.lower().endswith((".csv", ".adi")):
            raise OutputProblem(f"{export_file}: reports are written as .csv or .adi; choose one.")
        check_outputs(export_file, existing=outputs.existing)
    read = read_net_folder(folder)
    found = report(read, said, now=datetime.datetime.now(datetime.UTC), owner=owner.strip().upper())
    outputs.deliver("json", json_text(found.figures))
    outputs.deliver("csv", sheet_csv(found.rows))
    if export_file is not None:
        from reach import __version__
        from reach.drawings.exports.reports import reports_adi, reports_csv
        from reach.reports.store import standing

        if export_file.lower().endswith(".csv"):
            text = reports_csv(found.stored)
        else:
            text = reports_adi(standing(found.stored), net=read.net, program_version=__version__)
        deliver(text, export_file, existing=outputs.existing)
    for fault in found.faults:
        warn(str(fault))
    if outputs.speaks:
        say(*report_screen(found))
    if found.faults:
        raise click.exceptions.Exit(1)


def _who_came(
    folder: Path, said: tuple[str, ...], export_file: str | None, net: str | None, outputs: Outputs
) -> None:
    """The attendance in place of anything else."""
    from reach.answers.attendance import who_attends
    from reach.answers.open_net import open_net
    from reach.commands.options import progress_bar
    from reach.drawings.tables.attendance import attendance_screen
    from reach.inputs.net_folder import of_net, read_net_folder

    if said or export_file is not None:
        raise InputProblem(Fault("--who-came stands alone", "take reports in first, then ask who came"))
    read = read_net_folder(folder)
    with open_net(read if net is None else of_net(read, net)) as opened:
        found = who_attends(opened, watch=progress_bar)
    outputs.machine(found)
    if outputs.speaks:
        say(*attendance_screen(found))

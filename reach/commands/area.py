"""`reach area`: from where a chosen kind of station gets in, for every cell round a repeater or a member."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import click

from reach.commands.options import STANDARD_OUTPUT, channel_option, folder_argument, progress_bar, say, warn
from reach.commands.outputs import Outputs, outputs
from reach.errors import InputProblem, OutputProblem


def metres(context: click.Context, parameter: click.Parameter, text: str) -> float:
    """The length an option states. Raises : InputProblem naming the option."""
    from reach.inputs.quantities import parse_distance_m

    try:
        return parse_distance_m(text)
    except InputProblem as problem:
        raise InputProblem(replace(fault, key=parameter.opts[0]) for fault in problem.faults) from None


@click.command("area")
@folder_argument
@click.argument("call_signs", nargs=-1, required=True, metavar="CALL...")
@click.option(
    "--kind",
    type=click.Choice(["handheld", "mobile", "base"]),
    default="handheld",
    show_default=True,
    help="Kind of station in the cells: handheld in the hand, mobile, or base at 9 m.",
)
@click.option(
    "--radius",
    "radius_m",
    metavar="TEXT",
    default="30 km",
    callback=metres,
    show_default=True,
    help="How far round each site, e.g. 50 km.",
)
@click.option(
    "--resolution",
    "cell_m",
    metavar="TEXT",
    default="30 m",
    callback=metres,
    show_default=True,
    help="Side of a cell, e.g. 90 m.",
)
@click.option(
    "--noise",
    type=click.Choice(["city", "residential", "rural", "quiet_rural"]),
    default=None,
    help="Noise where the station stands; without it the net's.",
)
@channel_option
@outputs("geotiff", "geojson", "kml", "map", "json", "csv")
@click.option(
    "--keep",
    type=click.Path(path_type=Path),
    metavar="FOLDER",
    default=None,
    help="Keep each site's raster here; a later run does not compute it again.",
)
@click.option(
    "--cluster", metavar="ADDRESS", default=None, help="Compute on a Dask cluster, e.g. tcp://host:8786."
)
def command(
    folder: Path,
    call_signs: tuple[str, ...],
    kind: str,
    radius_m: float,
    cell_m: float,
    noise: str | None,
    channel: str | None,
    keep: Path | None,
    cluster: str | None,
    outputs: Outputs,
) -> None:
    """From where a chosen kind of station gets into a repeater, or reaches a member on simplex, both ways.

    Name one or more repeaters or members; with several, the outlines, map and raster show the best of them.
    """
    if outputs.targets.get("geotiff") == STANDARD_OUTPUT:
        raise OutputProblem("a GeoTIFF cannot go to standard output; give a file name.")
    from reach.answers.area import area
    from reach.answers.area_work import area_work
    from reach.answers.open_net import open_net
    from reach.coverage.area.service import StationKind
    from reach.coverage.area.sites import loops_compiled
    from reach.files import made_folder
    from reach.stations import NoiseEnvironment

    with open_net(folder) as opened:
        work = area_work(
            opened.net,
            call_signs,
            kind=StationKind[kind.upper()],
            radius_m=radius_m,
            cell_m=cell_m,
            noise=NoiseEnvironment(noise) if noise else None,
            channel=channel,
            cluster=cluster,
        )
        if outputs.speaks:
            warn(work.memory_sentence)
        if sys.stderr.isatty() and not loops_compiled():
            warn("preparing the fast loops: some ten seconds, the first time only.")
        found = area(opened, work, folder=keep if keep is None else made_folder(keep), watch=progress_bar)
        if outputs.wants("geotiff"):
            from reach.drawings.exports.area_geotiff import write_geotiff

            write_geotiff(found, Path(outputs.targets["geotiff"]), existing=outputs.existing)
        if outputs.wants("geojson") or outputs.wants("kml"):
            from reach.drawings.exports.outlines import geojson_text, kml_text

            outlines = found.outlines()
            outputs.deliver("geojson", geojson_text(outlines, title=found.title))
            outputs.deliver("kml", kml_text(outlines, title=found.title))
        if outputs.wants("map"):
            from reach.drawings.maps.area_page import area_page

            outputs.deliver("map", area_page(found, opened.terrain, online=outputs.online))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.area import area_screen

        say(*area_screen(found))

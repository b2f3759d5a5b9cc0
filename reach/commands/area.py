"""`reach area`: from where a chosen kind of station gets in, for every cell round a repeater or a member."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    STANDARD_OUTPUT,
    basis_option,
    channel_option,
    folder_argument,
    progress_bar,
    say,
    warn,
)
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import never_shared
from reach.commands.tonight import of_net_option
from reach.errors import Fault, InputProblem, OutputProblem

if TYPE_CHECKING:
    from reach.answers.area_work import AreaWork
    from reach.answers.learned import Basis
    from reach.answers.open_net import OpenNet
    from reach.inputs.net_folder import NetFolder


def metres(context: click.Context, parameter: click.Parameter, text: str) -> float:
    """The length an option states. Raises : InputProblem naming the option."""
    from reach.inputs.quantities import parse_distance_m

    try:
        return parse_distance_m(text)
    except InputProblem as problem:
        raise InputProblem(replace(fault, key=parameter.opts[0]) for fault in problem.faults) from None


@click.command("area")
@folder_argument
@never_shared("an area")
@basis_option
@click.argument("call_signs", nargs=-1, metavar="[CALL]...")
@click.option("--at", "place", metavar="PLACE", default=None,
              help="Any place in place of a call sign: coordinates or a locator.")  # fmt: skip
@click.option("--mast", metavar="TEXT", default="", help="Antenna above ground at that place, e.g. 15 m.")
@click.option("--power", metavar="TEXT", default="", help="Power there, e.g. 50 W.")
@click.option("--antenna", metavar="TEXT", default="", help="Antenna there, by name or gain.")
@click.option(
    "--kind",
    type=click.Choice(["handheld", "mobile", "base", "each"]),
    default="handheld",
    show_default=True,
    help="Kind of station in the cells: handheld in the hand, mobile, base at 9 m; each for all three.",
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
@of_net_option
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
    folder: NetFolder,
    basis: Basis,
    call_signs: tuple[str, ...],
    place: str | None,
    mast: str,
    power: str,
    antenna: str,
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
    --at takes any place, with the usual portable mast there unless its mast, power and antenna are said.
    """
    _check_asked(call_signs, place, (mast, power, antenna), kind, outputs)
    if outputs.targets.get("geotiff") == STANDARD_OUTPUT:
        raise OutputProblem("a GeoTIFF cannot go to standard output; give a file name.")
    from reach.answers.area import area
    from reach.answers.area_work import area_work
    from reach.answers.open_net import open_net
    from reach.coverage.area.service import StationKind
    from reach.coverage.area.sites import loops_compiled
    from reach.files import made_folder
    from reach.stations import NoiseEnvironment

    with open_net(folder, basis=basis) as opened:
        net, sites = opened.net, call_signs
        if place is not None:
            from reach.inputs.chosen_place import PLACE, station_at, with_station

            net = with_station(net, station_at(place, mast=mast, power=power, antenna=antenna))
            sites = (*call_signs, PLACE)

        def work_for(asked: StationKind) -> AreaWork:
            return area_work(
                net,
                sites,
                kind=asked,
                radius_m=radius_m,
                cell_m=cell_m,
                noise=NoiseEnvironment(noise) if noise else None,
                channel=channel,
                cluster=cluster,
            )

        if kind == "each":
            _each_kind(opened, [work_for(one) for one in StationKind], keep, outputs)
            return
        work = work_for(StationKind[kind.upper()])
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


def _check_asked(
    call_signs: tuple[str, ...], place: str | None, equipment: tuple[str, ...], kind: str, outputs: Outputs
) -> None:
    """Raises : InputProblem where the options contradict each other."""
    if not call_signs and place is None:
        raise InputProblem(Fault("no site is named", "name a repeater or a member, or a place with --at"))
    if any(equipment) and place is None:
        fix = "name the place with --at; a member's own equipment is in the roster"
        raise InputProblem(Fault("--mast, --power and --antenna are of a place", fix))
    files = [form for form in ("geotiff", "geojson", "kml", "json", "csv") if outputs.wants(form)]
    if kind == "each" and files:
        fix = "choose one kind for a file; each shows a table and a map"
        raise InputProblem(Fault(f"--{files[0]} holds one kind of station", fix))


def _each_kind(opened: OpenNet, works: list[AreaWork], keep: Path | None, outputs: Outputs) -> None:
    """Handheld, mobile and base beside each other: one table, one map with a layer each."""
    from reach.answers.area import area
    from reach.drawings.tables.area import kinds_screen
    from reach.files import made_folder

    folder = keep if keep is None else made_folder(keep)
    found = [area(opened, work, folder=folder, watch=progress_bar) for work in works]
    if outputs.wants("map"):
        from reach.drawings.maps.area_page import kinds_page

        outputs.deliver("map", kinds_page(found, opened.terrain, online=outputs.online))
    if outputs.speaks:
        say(*kinds_screen(found))

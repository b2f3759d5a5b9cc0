"""`reach sites`: where a portable relay does most, and where a cut-off member can drive to and get in."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    channel_option,
    check_outputs,
    csv_option,
    folder_argument,
    json_option,
    map_option,
    online_options,
    online_tiles,
    replace_option,
)
from reach.errors import Fault, InputProblem
from reach.files import Existing
from reach.inputs.portable_kit import PORTABLE_ANTENNA, PORTABLE_MAST, PORTABLE_POWER

MOST_TOGETHER = 6


@click.command("sites")
@folder_argument
@click.option(
    "--goal",
    type=click.Choice(["most", "cut-off", "groups"]),
    default="most",
    show_default=True,
    help="Link the most members, those the simplex plan leaves out, or groups that cannot reach each other.",
)
@click.option(
    "--link", "linked", metavar="CALL", multiple=True, help="Link these members instead; once for each."
)
@click.option(
    "--together",
    type=click.IntRange(1, MOST_TOGETHER),
    default=1,
    show_default=True,
    help="How many relays to use at the same time.",
)
@click.option(
    "--tie",
    type=click.Choice(["shared", "none"]),
    default="shared",
    show_default=True,
    help="With several: each shares a member with another, or they need not hang together.",
)
@click.option(
    "--apart", metavar="DISTANCE", default=None, help="Least distance between relays used together."
)
@click.option(
    "--mast", metavar="HEIGHT", default=PORTABLE_MAST, show_default=True, help="The relay's antenna."
)
@click.option(
    "--power", metavar="POWER", default=PORTABLE_POWER, show_default=True, help="The relay's power."
)
@click.option(
    "--antenna",
    metavar="KIND|GAIN",
    default=PORTABLE_ANTENNA,
    show_default=True,
    help="The relay's antenna: a kind as in the roster, or its gain, e.g. 6 dBi.",
)
@channel_option
@click.option(
    "--talk", "talk_name", metavar="NAME|MHz", default=None,
    help="Cross-band: the channel the relay talks on; --channel is what it listens on.",
)  # fmt: skip
@click.option(
    "--near", metavar="PLACE", default=None, help="Search round this member, locator or coordinates."
)
@click.option(
    "--within", metavar="DISTANCE", default=None, help="How far from --near, or from --for's member."
)
@click.option(
    "--inside", type=click.Path(path_type=Path), metavar="FILE", help="Search in these polygons (GeoJSON)."
)
@click.option(
    "--outside", type=click.Path(path_type=Path), metavar="FILE", help="Keep out of these polygons."
)
@click.option("--lowest", metavar="HEIGHT", default=None, help="Least elevation of a site.")
@click.option("--highest", metavar="HEIGHT", default=None, help="Greatest elevation of a site.")
@click.option("--steepest", metavar="SLOPE", default=None, help="Steepest ground to stand on, e.g. 15 deg.")
@click.option("--resolution", metavar="LENGTH", default="30 m", show_default=True, help="Side of a cell.")
@click.option(
    "--best", type=click.IntRange(1, 20), default=5, show_default=True, help="How many single sites to rank."
)
@click.option(
    "--for", "seeker", metavar="CALL", default=None, help="The nearest spot from which this member gets in."
)
@click.option(
    "--into",
    metavar="CALL",
    multiple=True,
    help="With --for: which repeater or member to get into; all repeaters.",
)
@map_option
@online_options
@click.option("--gpx", "gpx_file", metavar="FILE", default=None, help="Write the places as GPX waypoints.")
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    goal: str,
    linked: tuple[str, ...],
    together: int,
    tie: str,
    apart: str | None,
    mast: str,
    power: str,
    antenna: str,
    channel_name: str | None,
    talk_name: str | None,
    near: str | None,
    within: str | None,
    inside: Path | None,
    outside: Path | None,
    lowest: str | None,
    highest: str | None,
    steepest: str | None,
    resolution: str,
    best: int,
    seeker: str | None,
    into: tuple[str, ...],
    map_file: str | None,
    online: str | None,
    credit: str | None,
    gpx_file: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """Where a portable relay links the most members, the cut-off ones, or groups out of each other's reach.

    With --for CALL: the nearest spot that member can drive to and get in from. Searches the members' area
    unless --near or --inside says where.
    """
    check_outputs(map_file, gpx_file, json_file, csv_file, existing=existing)
    from reach.commands.site_options import AskedArea, Outputs

    tiles = online_tiles(online, credit, map_file=map_file)
    outputs = Outputs(map_file, gpx_file, json_file, csv_file, existing, tiles)
    area = AskedArea(near, within, inside, outside, lowest, highest, steepest, resolution)
    if seeker is not None:
        from reach.commands.site_spots import find_spots

        find_spots(folder, seeker, into, channel_name, area, outputs)
        return
    if into:
        raise InputProblem(Fault("--into goes with --for", "name the member who looks for a spot"))
    from reach.commands.site_search import AskedRelays, search_sites

    asked = AskedRelays(
        goal, linked, together, tie, apart, mast, power, antenna, channel_name, talk_name, best
    )
    search_sites(folder, asked, area, outputs)

"""`reach sites`: where a portable relay does most, and where a cut-off member can drive to and get in."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from reach.commands.options import basis_option, channel_option, folder_argument, progress_bar, say
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import never_shared
from reach.commands.site_options import area_options
from reach.commands.tonight import of_net_option
from reach.errors import Fault, InputProblem
from reach.inputs.portable_kit import PORTABLE_ANTENNA, PORTABLE_MAST, PORTABLE_POWER

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.inputs.net_folder import NetFolder
    from reach.inputs.search_area import TypedArea

MOST_TOGETHER = 6


@click.command("sites")
@folder_argument
@never_shared("a search for sites")
@basis_option
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
    "--talk",
    metavar="NAME|MHz",
    default=None,
    help="Cross-band: the channel the relay talks on; --channel is what it listens on.",
)
@area_options
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
@outputs("map", "gpx", "json", "csv")
@of_net_option
def command(
    folder: NetFolder,
    basis: Basis,
    goal: str,
    linked: tuple[str, ...],
    together: int,
    tie: str,
    apart: str | None,
    mast: str,
    power: str,
    antenna: str,
    channel: str | None,
    talk: str | None,
    typed: TypedArea,
    best: int,
    seeker: str | None,
    into: tuple[str, ...],
    outputs: Outputs,
) -> None:
    """Where a portable relay links the most members, the cut-off ones, or groups out of each other's reach.

    With --for CALL: the nearest spot that member can drive to and get in from. Searches the members' area
    unless --near or --inside says where.
    """
    if seeker is not None:
        _refuse_unused(("goal", "linked", "together", "tie", "apart", "talk", "best"))
        own = {
            name: value
            for name, value in (("mast", mast), ("power", power), ("antenna", antenna))
            if _given(name)
        }
        _spots(folder, basis, seeker, into, channel, typed, own, outputs)
        return
    if into:
        raise InputProblem(Fault("--into goes with --for", "name the member who looks for a spot"))
    from reach.answers.open_net import open_net
    from reach.answers.site_search import CellsTold
    from reach.answers.sites import SiteAim, sites
    from reach.inputs.portable_kit import portable_relay
    from reach.inputs.quantities import parse_distance_m
    from reach.inputs.search_area import read_area
    from reach.plans.sites.portable_sites import Goal, Tie

    area = read_area(typed, folder.net)
    relay = portable_relay(mast=mast, power=power, antenna=antenna)
    apart_m = 0.0 if apart is None else parse_distance_m(apart)
    aim = SiteAim(Goal(goal), linked, together, Tie(tie), apart_m, best)
    with open_net(folder, basis=basis) as opened:
        found = sites(
            opened,
            aim=aim,
            area=area,
            relay=relay,
            channel=channel,
            talk=talk,
            told=CellsTold.EVERY if outputs.wants("map") else CellsTold.BEST,
            watch=progress_bar,
        )
        if outputs.wants("map"):
            from reach.drawings.maps.sites_page import sites_page

            outputs.deliver("map", sites_page(found, opened.terrain, online=outputs.online))
    if outputs.wants("gpx"):
        from reach.drawings.exports.places import sites_gpx

        outputs.deliver("gpx", sites_gpx(found))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.sites import sites_screen

        say(*sites_screen(found))


def _given(parameter: str) -> bool:
    """Whether the user wrote this option."""
    source = click.get_current_context().get_parameter_source(parameter)
    return source is not click.core.ParameterSource.DEFAULT


def _refuse_unused(parameters: tuple[str, ...]) -> None:
    """Refuse options that say how relays are placed where a spot for one member is looked for."""
    named = [f"--{'link' if name == 'linked' else name}" for name in parameters if _given(name)]
    if named:
        many = len(named) > 1
        raise InputProblem(
            Fault(
                f"{', '.join(named)} {'do' if many else 'does'} not go with --for, which places no relay",
                "leave out one or the other; --mast, --power and --antenna say what the member takes along",
            )
        )


def _spots(
    folder: NetFolder,
    basis: Basis,
    seeker: str,
    into: tuple[str, ...],
    channel: str | None,
    typed: TypedArea,
    own: dict[str, str],
    outputs: Outputs,
) -> None:
    """The nearest spots: answered, written, said. own : mast, power, antenna as typed."""
    from reach.answers.open_net import open_net
    from reach.answers.spots import spots
    from reach.inputs.lookup import find_station
    from reach.inputs.portable_kit import with_own_kit
    from reach.inputs.search_area import read_area

    member = find_station(folder.net, seeker)
    area = read_area(typed, folder.net, home=member)
    kit = with_own_kit(member, **own)
    with open_net(folder, basis=basis) as opened:
        found = spots(opened, seeker, into=into, area=area, channel=channel, kit=kit, watch=progress_bar)
        if outputs.wants("map"):
            from reach.drawings.maps.sites_page import spots_page

            outputs.deliver("map", spots_page(found, opened.terrain, online=outputs.online))
    if outputs.wants("gpx"):
        from reach.drawings.exports.places import spots_gpx

        outputs.deliver("gpx", spots_gpx(found))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.spots import spots_screen

        say(*spots_screen(found))

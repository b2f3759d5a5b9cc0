"""`reach control`: who should be net control, and a rota of the coming nets for the calendar."""

from __future__ import annotations

import datetime
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    DAY,
    HOW_MANY_NETS,
    SHARE,
    basis_option,
    channel_option,
    folder_argument,
    progress_bar,
    rule_options,
    say,
)
from reach.commands.outputs import Outputs, outputs
from reach.commands.sharing import Sharing, share_options
from reach.commands.tonight import tonight_options

if TYPE_CHECKING:
    from reach.answers.learned import Basis
    from reach.answers.rules import RuleChoice
    from reach.inputs.net_folder import NetFolder


@click.command("control")
@folder_argument
@basis_option
@channel_option
@rule_options
@click.option("--nets", type=HOW_MANY_NETS, default=8, show_default=True, help="Nets in the rota.")
@click.option(
    "--from",
    "first_day",
    type=DAY,
    metavar="YYYY-MM-DD",
    default=None,
    help="First day of the rota; today unless given.",
)
@click.option(
    "--until", "last_day", type=DAY, metavar="YYYY-MM-DD", default=None, help="Last day of the rota."
)
@click.option(
    "--after", "last_control", metavar="CALL", default=None, help="Who controlled the net before the first."
)
@click.option(
    "--fit",
    type=SHARE,
    default=0.8,
    show_default=True,
    help="Take turns among those who hear at least this share of what the best hears.",
)
@click.option(
    "--remind",
    metavar="TEXT",
    default="24 h",
    show_default=True,
    help="In the calendar: how long before each net to remind of it; 0 for never.",
)
@outputs("calendar", "json", "csv")
@tonight_options
@share_options
def command(
    folder: NetFolder,
    basis: Basis,
    channel: str | None,
    choice: RuleChoice,
    nets: int,
    first_day: datetime.datetime | None,
    last_day: datetime.datetime | None,
    last_control: str | None,
    fit: float,
    remind: str,
    outputs: Outputs,
    sharing: Sharing,
) -> None:
    """Every willing net control by what it would hear, and a rota that shares the load.

    Dates come from the [schedule] table of net.toml, or from [[nets]]: then it is one rota over all the
    club's nets, nobody twice in a week unless it must be; --net for one of them. The CSV is the rota.
    """
    from reach.answers.club_rota import club_rota
    from reach.answers.control import RotaWish, control
    from reach.answers.open_net import open_net
    from reach.inputs.quantities import parse_duration_h
    from reach.plans.relays.rota import scheduled

    before = datetime.timedelta(hours=0.0 if remind.strip() == "0" else parse_duration_h(remind))
    now = datetime.datetime.now(datetime.UTC)
    midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)  # the same all day
    wish = RotaWish(
        start=(first_day or now).date(),
        until=last_day.date() if last_day else None,
        nets=nets,
        share=fit,
        last=last_control or "",
    )
    if folder.nets and folder.meeting is None and channel is None:
        with open_net(folder, basis=basis) as opened:
            of_club = sharing.of(club_rota(opened, wish, choice=choice, watch=progress_bar))
        if outputs.wants("calendar"):
            from reach.drawings.exports.calendar import club_calendar

            outputs.deliver_bytes("calendar", club_calendar(of_club, stamp=midnight, remind=before))
        outputs.machine(of_club)
        if outputs.speaks:
            from reach.drawings.tables.control import club_rota_screen

            say(*club_rota_screen(of_club))
        return
    with open_net(folder, basis=basis) as opened:
        if outputs.wants("calendar") or outputs.wants("csv"):
            scheduled(opened.folder.schedule)
        found = sharing.of(control(opened, wish, channel=channel, choice=choice, watch=progress_bar))
    if outputs.wants("calendar"):
        from reach.drawings.exports.calendar import control_calendar

        outputs.deliver_bytes("calendar", control_calendar(found, stamp=midnight, remind=before))
    outputs.machine(found)
    if outputs.speaks:
        from reach.drawings.tables.control import control_screen

        say(*control_screen(found))

"""`reach control`: who should be net control, and a rota of the coming nets for the calendar."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from reach.commands.options import (
    DAY,
    HOW_MANY_NETS,
    SHARE,
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
from reach.commands.plan_options import RuleChoice, rule_options, rules_for, survey
from reach.files import Existing


@dataclass(frozen=True)
class ControlAnswer:
    """The ranking and the rota for machines."""

    channel: str
    headline: str
    controls: Any
    rota: Any


@click.command("control")
@folder_argument
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
    "--calendar", "calendar_file", metavar="FILE", default=None, help="Write the rota as iCalendar (.ics)."
)
@json_option
@csv_option
@replace_option
def command(
    folder: Path,
    channel_name: str | None,
    readability: int | None,
    chance: float | None,
    longest_chain: int | None,
    chains: str,
    nets: int,
    first_day: datetime.datetime | None,
    last_day: datetime.datetime | None,
    last_control: str | None,
    fit: float,
    calendar_file: str | None,
    json_file: str | None,
    csv_file: str | None,
    existing: Existing,
) -> None:
    """Every willing net control by what it would hear, and a rota that shares the load.

    Dates come from the [schedule] table of net.toml. The CSV is the rota.
    """
    check_outputs(calendar_file, json_file, csv_file, existing=existing)
    from reach.commands.results import NetAnswer, assumed_in_short, assumed_notes
    from reach.drawings.exports.calendar import rota_calendar
    from reach.drawings.exports.machine import json_text
    from reach.drawings.papers.run_sheet import frequency_words
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.detail_tables import control_table
    from reach.drawings.tables.relay_tables import rota_sheet, rota_table
    from reach.drawings.tables.terminal import answer, notes_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_station
    from reach.inputs.planning import read_planning, read_schedule
    from reach.plans.relays.net_control import rank_controls
    from reach.plans.relays.rota import fit_for_control, net_dates, no_schedule, rota

    net = read_net(folder)
    planning = read_planning(folder)
    schedule = read_schedule(folder)
    channel = find_channel(net, channel_name)
    rules = rules_for(planning, net, RuleChoice(readability, chance, longest_chain, chains))
    now = datetime.datetime.now(datetime.UTC)
    last = find_station(net, last_control).call_sign if last_control else ""
    dates: tuple[datetime.datetime, ...] = ()
    if schedule is None and (calendar_file or csv_file):
        raise no_schedule()
    if schedule is not None:
        first = (first_day or now).date()
        dates = net_dates(schedule, start=first, count=nets, until=last_day.date() if last_day else None)
    network, terrain_warnings = survey(net, channel)
    controls = rank_controls(network, rules)
    turns = rota(controls, dates, share=fit, last=last)
    names = {station.call_sign: station.name for station in net.stations}
    notes = assumed_notes(net)
    warnings = tuple(dict.fromkeys((*net.warnings, *planning.warnings, *terrain_warnings, *network.warnings)))
    headline = controls[0].reason
    if calendar_file is not None and schedule is not None:
        made = rota_calendar(
            turns,
            net_name=net.name,
            channel=frequency_words(channel),
            duration_h=schedule.duration_h,
            stamp=now.replace(hour=0, minute=0, second=0, microsecond=0),  # the same all day
            names=names,
        )
        deliver_bytes(made, calendar_file, existing=existing)
    result = ControlAnswer(channel.name, headline, controls, rota_sheet(turns).rows)
    deliver(json_text(NetAnswer(net.name, result, notes, warnings)), json_file, existing=existing)
    deliver(rota_sheet(turns).csv_text(), csv_file, existing=existing)
    if speaks_text(calendar_file, json_file, csv_file):
        say(answer(headline), notes_text([""]), control_table(controls), notes_text([""]))
        if turns:
            say(rota_table(turns, names), notes_text([""]))
            taking_turns = {choice.call_sign for choice in fit_for_control(controls, share=fit)}
            unfit = [choice.call_sign for choice in controls if choice.call_sign not in taking_turns]
            if unfit:
                words = "Willing, but not in the rota, as they hear less than"
                words += f" {fit:.0%} of what the best hears"
                say(notes_text([f"{words} (--fit): {', '.join(unfit)}.", ""]))
        else:
            say(notes_text(["No rota: net.toml has no [schedule] table.", ""]))
        say(notes_text([*warnings, *assumed_in_short(net), SHORT]))

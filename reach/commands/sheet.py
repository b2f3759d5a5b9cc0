"""`reach sheet`: the page a net is run from, as text, HTML or PDF."""

from __future__ import annotations

import datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    DAY,
    channel_option,
    check_outputs,
    deliver,
    deliver_bytes,
    folder_argument,
    replace_option,
    say,
    speak,
    stamp_option,
)
from reach.commands.plan_options import (
    RuleChoice,
    control_option,
    file_of,
    rule_options,
    rules_for,
    survey,
    survey_repeaters,
)
from reach.files import Existing

if TYPE_CHECKING:
    from reach.inputs.planning import Schedule


@click.command("sheet")
@folder_argument
@channel_option
@control_option
@rule_options
@click.option(
    "--date",
    "day",
    type=DAY,
    metavar="YYYY-MM-DD",
    default=None,
    help="Day of the net; the next one of [schedule] unless given.",
)
@click.option(
    "--page", "page_file", metavar="FILE", default=None, help="Write the sheet as a page to print, .html."
)
@click.option("--pdf", "pdf_file", metavar="FILE", default=None, help="Write the sheet as PDF.")
@click.option("--text", "text_file", metavar="FILE", default=None, help="Write the sheet as plain text.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the PDF."
)
@click.option(
    "--own-words",
    is_flag=True,
    help="Put script.txt, the spoken wording, into FOLDER to be edited; no sheet.",
)
@stamp_option
@replace_option
def command(
    folder: Path,
    channel_name: str | None,
    control: str | None,
    readability: int | None,
    chance: float | None,
    longest_chain: int | None,
    chains: str,
    day: datetime.datetime | None,
    page_file: str | None,
    pdf_file: str | None,
    text_file: str | None,
    paper: str,
    own_words: bool,
    planned: str,
    existing: Existing,
) -> None:
    """The sheet net control runs the net from: what to say, whom to call, who relays, room to write.

    Without --page, --pdf or --text it is shown here. FOLDER/script.txt, when there, holds the wording.
    """
    check_outputs(page_file, pdf_file, text_file, existing=existing)
    from reach.drawings.papers.run_sheet import SCRIPT_FILE, Occasion, default_script, run_sheet, sheet_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_station
    from reach.inputs.planning import read_planning, read_schedule
    from reach.plans.relays.evening import plan_evening
    from reach.plans.relays.net_control import rank_controls
    from reach.plans.relays.plan import plan_relays

    net = read_net(folder)
    if own_words:
        deliver(default_script(), str(folder / SCRIPT_FILE), existing=existing)
        speak(f"{folder / SCRIPT_FILE} is there to be edited.")
        return
    planning = read_planning(folder)
    schedule = read_schedule(folder)
    channel = find_channel(net, channel_name)
    rules = rules_for(planning, net, RuleChoice(readability, chance, longest_chain, chains))
    if control is not None:
        control = find_station(net, control).call_sign
    now = datetime.datetime.now(datetime.UTC)
    date, time = _when(schedule, day, now)
    script = file_of(folder, SCRIPT_FILE)
    network, _ = survey(net, channel)
    controls = rank_controls(network, rules)
    plan = plan_relays(network, rules, control=control or controls[0].call_sign)
    stand_in = next((choice.call_sign for choice in controls if choice.call_sign != plan.control), "")
    evening = plan_evening(plan, survey_repeaters(net)) if net.repeaters else None
    made_from = (
        f"{planned} from {folder.resolve().name}/net.toml and roster.csv"
        f" ({len(net.stations)} stations) with path-loss model {network.model or net.model};"
        f" a link counts from {rules.threshold.words}."
    )
    occasion = Occasion(made_from=made_from, date=date, time=time, stand_in=stand_in)
    sheet = run_sheet(net, plan, channel, occasion, script=script, evening=evening, repeaters=net.repeaters)
    if page_file is not None:
        from reach.drawings.papers.sheet_page import sheet_page

        deliver(sheet_page(sheet), page_file, existing=existing)
    if pdf_file is not None:
        from reach.drawings.papers.paper import Paper
        from reach.drawings.papers.sheet_pdf import sheet_pdf

        deliver_bytes(sheet_pdf(sheet, Paper[paper.upper()]), pdf_file, existing=existing)
    deliver(sheet_text(sheet), text_file, existing=existing)
    if not (page_file or pdf_file or text_file):
        from reach.drawings.tables.terminal import notes_text

        say(notes_text(sheet_text(sheet).splitlines()))


def _when(
    schedule: Schedule | None, day: datetime.datetime | None, now: datetime.datetime
) -> tuple[str, str]:
    """Date and local start in words; '' where nothing says."""
    from reach.plans.relays.rota import net_dates

    if schedule is None:
        return (f"{day:%a %Y-%m-%d}" if day else ""), ""
    start = net_dates(schedule, start=(day or now).date(), count=1)[0]
    return f"{day or start:%a %Y-%m-%d}", f"{start:%H:%M %Z}"

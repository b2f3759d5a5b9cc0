"""`reach kit`: one printed page an operator, to take along when the repeater or the mains are gone."""

from __future__ import annotations

from pathlib import Path

import click

from reach.commands.options import (
    channel_option,
    check_outputs,
    deliver,
    deliver_bytes,
    folder_argument,
    replace_option,
    speak,
    stamp_option,
)
from reach.files import Existing


@click.command("kit")
@folder_argument
@click.argument("call_signs", nargs=-1, metavar="[CALL]...")
@channel_option
@click.option(
    "--page", "page_file", metavar="FILE", default=None, help="Write the sheets as pages to print, .html."
)
@click.option("--pdf", "pdf_file", metavar="FILE", default=None, help="Write the sheets as PDF.")
@click.option("--text", "text_file", metavar="FILE", default=None, help="Write the sheets as plain text.")
@click.option(
    "--paper", type=click.Choice(["a4", "letter"]), default="a4", show_default=True, help="Paper of the PDF."
)
@stamp_option
@replace_option
def command(
    folder: Path,
    call_signs: tuple[str, ...],
    channel_name: str | None,
    page_file: str | None,
    pdf_file: str | None,
    text_file: str | None,
    paper: str,
    planned: str,
    existing: Existing,
) -> None:
    """One page an operator for the go-kit: frequencies, whom to call in which case, whom one hears.

    Name call signs for their pages only; without any there is a page for every member. Without --page, --pdf
    or --text the sheets are shown here.
    """
    check_outputs(page_file, pdf_file, text_file, existing=existing)
    from reach.commands.net_folder import open_terrain
    from reach.commands.surveys import survey_net
    from reach.drawings.papers.go_kit import kit_page
    from reach.drawings.papers.go_kit_text import kit_text
    from reach.inputs.club import read_net
    from reach.inputs.lookup import find_channel, find_station
    from reach.inputs.planning import read_planning
    from reach.plans.outages.backup import likely_outages, plan_outages
    from reach.plans.relays.rules import rules_of

    net = read_net(folder)
    planning = read_planning(folder)
    rules = rules_of(planning)
    channel = find_channel(net, channel_name)
    named = {find_station(net, call).call_sign: None for call in call_signs}
    stations = [net.station(call) for call in named] or list(net.stations)
    with open_terrain(net) as terrain:
        survey = survey_net(net, terrain, channel)
    plans = plan_outages(survey, likely_outages(survey), rules, planning.battery)
    made_from = (
        f"{planned} from {folder.resolve().name}/net.toml and roster.csv, path-loss model "
        f"{survey.simplex.model or net.model}; a link counts from {rules.threshold.words}."
    )
    pages = [
        kit_page(survey, plans, station.call_sign, battery=planning.battery, made_from=made_from)
        for station in stations
    ]
    if page_file is not None:
        from reach.drawings.papers.go_kit_page import kit_pages_html

        deliver(kit_pages_html(pages), page_file, existing=existing)
    if pdf_file is not None:
        from reach.drawings.papers.go_kit_pdf import kit_pages_pdf
        from reach.drawings.papers.paper import Paper

        deliver_bytes(kit_pages_pdf(pages, Paper[paper.upper()]), pdf_file, existing=existing)
    text = "\f".join(kit_text(page) for page in pages)
    deliver(text, text_file, existing=existing)
    if not (page_file or pdf_file or text_file):
        speak("\n".join(kit_text(page) for page in pages).rstrip("\n"))

"""`reach demo`: the main job on an invented club, everything drawn."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import progress_bar, replace_option, speak
from reach.errors import OutputProblem
from reach.files import Existing, write_bytes, write_text

if TYPE_CHECKING:
    from reach.api import Club
    from reach.links.network import RepeaterNetwork, SimplexNetwork
    from reach.plans.outages.failures import NetSurvey
    from reach.stations import Repeater

# members whose paths are drawn: one over the ridge on simplex, one to a repeater that does not hear it
DRAWN_PATHS = (("QK3CDR", "QK3MPL"), ("QK3YEW", "QK3RA"))
ROTA_FROM = datetime.date(2027, 1, 1)  # a fixed day, so that the demo draws the same on any day
ROTA_NETS = 8


@click.command("demo")
@click.argument("folder", type=click.Path(path_type=Path), default=Path("reach-demo"))
@replace_option
def command(folder: Path, existing: Existing) -> None:
    """Plan an invented club on invented terrain: its net folder, and every map and table in FOLDER/maps.

    FOLDER is reach-demo unless named.
    """
    from reach.api import load
    from reach.demo.folder import make_demo_folder

    _prepare(folder, existing)
    with progress_bar("making the terrain") as progress:
        make_demo_folder(folder, existing=existing, progress=progress)
    maps = folder / "maps"
    maps.mkdir(exist_ok=True)
    with load(folder) as club:
        _draw_everything(club, maps, existing)
    speak()
    speak(f"Everything is in {folder}: open {maps / 'simplex.html'} in a browser, and try")
    speak(f"  reach check {folder}")
    speak(f"  reach simplex {folder}")
    speak(f"  reach path {folder} QK3CDR QK3MPL")
    from reach.drawings.style.cautions import SHORT

    speak(SHORT)


def _prepare(folder: Path, existing: Existing) -> None:
    if folder.exists() and not folder.is_dir():
        raise OutputProblem(f"{folder} is a file; name another folder for the demo.")
    if folder.is_dir() and any(folder.iterdir()) and existing is Existing.KEEP:
        raise OutputProblem(
            f"{folder} already holds files; name another folder, or add --replace to write over the demo's."
        )
    from reach.demo.folder import CLUB_FILES, is_demo_folder

    if any((folder / name).exists() for name in CLUB_FILES) and not is_demo_folder(folder):
        raise OutputProblem(f"{folder} holds another net; name another folder for the demo.")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise OutputProblem(
            f"{folder} cannot be made ({error.strerror or error}); choose another."
        ) from error


def _told(sentence: str, *files: Path) -> None:
    speak(sentence)
    speak(f"    {', '.join(str(file) for file in files)}")


def _draw_everything(club: Club, maps: Path, existing: Existing) -> None:
    from reach.links.path_study import study_path
    from reach.links.words import path_sentence
    from reach.plans.outages.failures import NetSurvey

    repeaters = [_draw_repeater(club, maps, repeater, existing) for repeater in club.net.repeaters]
    network = _draw_simplex(club, maps, existing)
    for left, right in DRAWN_PATHS:
        study = study_path(club.net, club.terrain, left=left, right=right, models=())
        picture = club.draw_path(study).save(maps / f"path-{left}-{right}.png", existing=existing)
        _told(path_sentence(study.there, study.back), picture)
    _draw_papers(club, maps, network, repeaters, existing)
    _draw_backup(club, maps, NetSurvey(network, tuple(repeaters)), existing)


def _draw_repeater(club: Club, maps: Path, repeater: Repeater, existing: Existing) -> RepeaterNetwork:
    from reach.drawings.exports.machine import repeater_sheet
    from reach.links.outcome import outcome_sentence

    with progress_bar(f"paths to {repeater.call_sign}") as progress:
        reached = club.repeater(repeater.call_sign, progress=progress)
    name = f"repeater-{repeater.call_sign}"
    page = club.draw_repeater(reached).save(maps / f"{name}.html", existing=existing)
    write_text(maps / f"{name}.csv", repeater_sheet(reached).csv_text(), existing)
    _told(outcome_sentence(reached), page, maps / f"{name}.csv")
    return reached


def _draw_simplex(club: Club, maps: Path, existing: Existing) -> SimplexNetwork:
    from reach.drawings.exports.machine import simplex_sheet

    with progress_bar("paths on simplex") as progress:
        network = club.simplex(progress=progress)
    plan = club.plan(network)
    page = club.draw_simplex(network, plan=plan).save(maps / "simplex.html", existing=existing)
    write_text(maps / "simplex.csv", simplex_sheet(network).csv_text(), existing)
    _told(plan.sentence, page, maps / "simplex.csv")
    return network


def _draw_papers(
    club: Club,
    maps: Path,
    network: SimplexNetwork,
    repeaters: Sequence[RepeaterNetwork],
    existing: Existing,
) -> None:
    """The run sheet of the first net of the rota, and the rota for the calendar."""
    from reach.drawings.exports.calendar import rota_calendar

    turns = club.rota(network, start=ROTA_FROM, count=ROTA_NETS)
    first = turns[0].start
    plan = club.plan(network, control=turns[0].control)
    sheet = club.sheet(
        plan, network, date=f"{first:%a %Y-%m-%d}", time=f"{first:%H:%M %Z}", repeaters=repeaters
    )
    files = [sheet.save(maps / f"sheet{ending}", existing=existing) for ending in (".pdf", ".html", ".txt")]
    _told(f"The page to run the net of {first:%A %d %B %Y} from.", *files)
    calendar = rota_calendar(
        turns,
        net_name=club.net.name,
        channel=f"{network.channel.frequency_mhz:g} MHz",
        duration_h=1.0 if club.schedule is None else club.schedule.duration_h,
        stamp=datetime.datetime.combine(ROTA_FROM, datetime.time(), datetime.UTC),
        names={station.call_sign: station.name for station in club.net.stations},
    )
    write_bytes(maps / "rota.ics", calendar, existing)
    shared = ", ".join(dict.fromkeys(turn.control for turn in turns))
    _told(f"{shared} take turns as net control over {len(turns)} nets.", maps / "rota.ics")


def _draw_backup(club: Club, maps: Path, survey: NetSurvey, existing: Existing) -> None:
    from reach.drawings.maps.backup_map import backup_map
    from reach.drawings.maps.ground import places_of, relief_around
    from reach.links.assumed import assumed_notes
    from reach.plans.outages.backup import likely_outages, plan_outages
    from reach.plans.relays.rules import rules_of

    rules = rules_of(club.rules)
    plans = plan_outages(survey, likely_outages(survey), rules, club.rules.battery)
    relief = relief_around(club.terrain, places_of(club.net))
    page = backup_map(survey, plans[-1], rules, relief=relief, notes=assumed_notes(club.net))
    write_text(maps / "backup.html", page, existing)
    _told(plans[-1].sentence, maps / "backup.html")

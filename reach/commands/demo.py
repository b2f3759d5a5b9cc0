"""`reach demo`: the main job on an invented club, everything drawn."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import progress_bar, replace_option
from reach.errors import OutputProblem
from reach.files import Existing

if TYPE_CHECKING:
    from reach.api import Club

# members whose paths are drawn: one over the ridge on simplex, one to a repeater that does not hear it
DRAWN_PATHS = (("QK3CDR", "QK3MPL"), ("QK3YEW", "QK3RA"))


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
    click.echo()
    click.echo(f"Everything is in {folder}: open {maps / 'simplex.html'} in a browser, and try")
    click.echo(f"  reach check {folder}")
    click.echo(f"  reach simplex {folder}")
    click.echo(f"  reach path {folder} QK3CDR QK3MPL")
    from reach.drawings.cautions import SHORT

    click.echo(SHORT)


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


def _draw_everything(club: Club, maps: Path, existing: Existing) -> None:
    from reach.drawings.machine import repeater_sheet, simplex_sheet
    from reach.files import write_text
    from reach.links.outcome import outcome_sentence
    from reach.links.path_study import study_path
    from reach.links.words import path_sentence

    def told(sentence: str, *files: Path) -> None:
        click.echo(sentence)
        click.echo(f"    {', '.join(str(file) for file in files)}")

    for repeater in club.net.repeaters:
        with progress_bar(f"paths to {repeater.call_sign}") as progress:
            reached = club.repeater(repeater.call_sign, progress=progress)
        page = club.draw_repeater(reached).save(
            maps / f"repeater-{repeater.call_sign}.html", existing=existing
        )
        table = maps / f"repeater-{repeater.call_sign}.csv"
        write_text(table, repeater_sheet(reached).csv_text(), existing)
        told(outcome_sentence(reached), page, table)
    with progress_bar("paths on simplex") as progress:
        network = club.simplex(progress=progress)
    plan = club.plan(network)
    page = club.draw_simplex(network, plan=plan).save(maps / "simplex.html", existing=existing)
    table = maps / "simplex.csv"
    write_text(table, simplex_sheet(network).csv_text(), existing)
    told(plan.sentence, page, table)
    for left, right in DRAWN_PATHS:
        study = study_path(club.net, club.terrain, left=left, right=right, models=())
        picture = club.draw_path(study).save(maps / f"path-{left}-{right}.png", existing=existing)
        told(path_sentence(study.there, study.back), picture)

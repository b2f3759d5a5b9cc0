"""The starter net: a folder that runs as it is, written whole or not at all."""

from __future__ import annotations

import os
from contextlib import ExitStack
from dataclasses import dataclass
from importlib import resources
from pathlib import Path

from reach.demo.relief import make_relief
from reach.errors import OutputProblem
from reach.files import temporary_folder
from reach.inputs.club import read_net
from reach.machinery.progress import Progress
from reach.terrain.tiles import Terrain


@dataclass(frozen=True)
class Starter:
    """What a starter net holds."""

    members: int
    tiles: int


def write_starter(folder: Path, *, progress: Progress | None = None) -> Starter:
    """Write the starter net. Interrupted or failing, it leaves nothing behind.

    Raises : OutputProblem when the folder is there with something in it, or cannot be written.
    """
    folder = Path(os.path.abspath(folder))
    _refuse_taken(folder)
    with ExitStack() as stack:
        try:
            workplace = stack.enter_context(temporary_folder(folder.parent))
        except OSError as error:
            raise OutputProblem(
                f"{folder} cannot be made ({error.strerror or error}); choose another."
            ) from error
        try:
            starter = workplace / "starter"
            starter.mkdir()
            made = _fill(starter, progress)
            if folder.is_dir():
                _move_into(folder, starter)
            else:
                starter.rename(folder)
        except OSError as error:
            if isinstance(error, OutputProblem):
                raise
            raise OutputProblem(
                f"{folder} could not be made ({error.strerror or error}); nothing was left behind."
            ) from error
    return made


def _refuse_taken(folder: Path) -> None:
    if folder.is_dir():
        if any(folder.iterdir()):
            raise OutputProblem(f"{folder} already holds files; choose a new folder, nothing was changed.")
    elif folder.exists() or folder.is_symlink():
        raise OutputProblem(f"{folder} is a file; choose a new folder.")
    if not folder.parent.is_dir():
        raise OutputProblem(f"the folder {folder.parent} does not exist; make it first or choose another.")


def _move_into(folder: Path, starter: Path) -> None:
    """Move the starter's files into an empty folder that stays (someone may stand in it), all or none."""
    _refuse_taken(folder)  # something may have come into it since
    moved: list[Path] = []
    try:
        for source in sorted(starter.iterdir(), reverse=True):  # net.toml, which makes it a net folder, last
            target = folder / source.name
            source.rename(target)
            moved.append(target)
    except BaseException:
        for target in moved:
            target.rename(starter / target.name)
        raise


def _fill(starter: Path, progress: Progress | None) -> Starter:
    """Put the starter's files into an empty folder; of the invented land only the tiles its members need."""
    for name in ("net.toml", "roster.csv"):
        text = resources.files("reach.inputs").joinpath("starter", name).read_text(encoding="utf-8")
        (starter / name).write_text(text, encoding="utf-8", newline="")
    terrain_folder = starter / "terrain"
    terrain_folder.mkdir()
    make_relief(terrain_folder, progress=progress)
    net = read_net(starter)
    places = [s.position for s in net.stations if s.has_radio_path] + [r.position for r in net.repeaters]
    west, east = min(p.longitude_deg for p in places), max(p.longitude_deg for p in places)
    south, north = min(p.latitude_deg for p in places), max(p.latitude_deg for p in places)
    kept = 0
    with Terrain.open([terrain_folder]) as terrain:
        tiles = terrain.tiles
    for tile in tiles:
        tile_west, tile_south, tile_east, tile_north = tile.bounds
        if tile_west < east and west < tile_east and tile_south < north and south < tile_north:
            kept += 1
        else:
            Path(tile.path).unlink()
    return Starter(len(net.stations), kept)

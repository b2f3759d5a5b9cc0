"""The net folder of the invented club, laid out as a user's own would be."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

from reach.demo.relief import make_relief
from reach.errors import OutputProblem
from reach.files import Existing, write_text
from reach.machinery.progress import Progress

CLUB_FILES = ("net.toml", "roster.csv", "places.csv")


def is_demo_folder(folder: Path) -> bool:
    """Whether the folder's net.toml begins as the demo's does: then it is the demo's to write over."""
    try:
        with open(folder / CLUB_FILES[0], encoding="utf-8") as there:
            return there.readline().rstrip() == _club_text(CLUB_FILES[0]).splitlines()[0]
    except (OSError, UnicodeDecodeError):
        return False


def _club_text(name: str) -> str:
    return resources.files("reach.demo").joinpath("club", name).read_text(encoding="utf-8")


def claim_demo_folder(folder: Path, *, existing: Existing = Existing.KEEP) -> None:
    """Make the folder where it is not there yet; refuse one that is not the demo's to write into.

    Raises : OutputProblem.
    """
    if folder.exists() and not folder.is_dir():
        raise OutputProblem(f"{folder} is a file; name another folder for the demo.")
    if folder.is_dir() and any(folder.iterdir()) and existing is Existing.KEEP:
        raise OutputProblem(
            f"{folder} already holds files; name another folder, or add --replace to write over the demo's."
        )
    if any((folder / name).exists() for name in CLUB_FILES) and not is_demo_folder(folder):
        raise OutputProblem(f"{folder} holds another net; name another folder for the demo.")
    try:
        folder.mkdir(exist_ok=True)
    except OSError as error:
        raise OutputProblem(
            f"{folder} cannot be made ({error.strerror or error}); choose another."
        ) from error


def make_demo_folder(
    folder: Path, *, existing: Existing = Existing.KEEP, progress: Progress | None = None
) -> None:
    """Write net.toml, roster.csv, places.csv and the terrain tiles into a folder that is there.

    existing : what to do with such files already in it. Raises : OutputProblem.
    """
    for name in CLUB_FILES:
        write_text(folder / name, _club_text(name), existing)
    terrain = folder / "terrain"
    terrain.mkdir(exist_ok=True)
    make_relief(terrain, progress=progress, existing=existing)

"""The ground a net still needs, from an open data set: what would be fetched, and fetching it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from pathlib import Path

from reach.errors import Fault, InputProblem, OutputProblem
from reach.files import Existing, write_text
from reach.geodesy import METRES_PER_DEGREE
from reach.lists import did_you_mean_or, named
from reach.machinery.progress import Watch, unwatched
from reach.stations import Net
from reach.terrain.credits import CREDITS_FILE, with_credit
from reach.terrain.fetching.fetch import Box, common, covers, fetch_part, write_sea
from reach.terrain.fetching.remote_file import NotThere, Tally, check_address
from reach.terrain.fetching.sources import SOURCES, Ground, Part, TileSource, source_named

COVER_FOLDER = "land-cover"
_MOST_NAMED = 6


class PartState(Enum):
    """What is to be done for a part; the value is how it is said."""

    WANTED = "to be fetched"
    THERE = "there already"
    TOO_SMALL = "there, but does not reach over the net any more"


@dataclass(frozen=True)
class WantedPart:
    """One file. box : the part of it the net needs."""

    part: Part
    box: Box
    file: Path
    state: PartState


@dataclass(frozen=True)
class TilesWork:
    """What would be fetched, settled without asking anyone.

    parts : every file the net touches. sea : cells the user says are sea. credits : files the credit goes to.
    """

    net: Net
    source: TileSource
    folder: Path
    parts: tuple[WantedPart, ...]
    sea: tuple[str, ...]
    credits: tuple[Path, ...]

    def to_fetch(self, existing: Existing) -> tuple[WantedPart, ...]:
        """Files still missing; with REPLACE those that are too small too."""
        states = {PartState.WANTED} | ({PartState.TOO_SMALL} if existing is Existing.REPLACE else set())
        return tuple(part for part in self.parts if part.state in states)

    def expected_bytes(self, existing: Existing) -> int:
        """About how much that takes, over the network and on disk alike."""
        return sum(self.source.expected_bytes(part.box) for part in self.to_fetch(existing))


@dataclass(frozen=True)
class TilesAnswer:
    """What was fetched. absent : parts the source does not have; bytes : that came over the network."""

    work: TilesWork
    fetched: tuple[str, ...]
    absent: tuple[str, ...]
    bytes: int
    requests: int

    @property
    def headline(self) -> str:
        """The answer in a sentence."""
        there = sum(part.state is PartState.THERE for part in self.work.parts)
        parts = [f"{len(self.fetched)} fetched ({self.bytes / 1e6:.1f} MB)"]
        if there:
            parts.append(f"{there} there already")
        if self.absent:
            parts.append(f"{len(self.absent)} not in the data set")
        return f"{self.work.source.title}: {', '.join(parts)}; in {self.work.folder}."


def tiles_work(
    net: Net, *, source: str, around_m: float, server: str = "", sea: Sequence[str] = ()
) -> TilesWork:
    """The files of a source over all members with a radio path, all repeaters and so far around them.

    server : another one that holds the same files. sea : cells such as N41W039 that are open sea.
    Raises : InputProblem for an unknown source, nobody on the air, or a cell that is none; FetchProblem for
    an address nothing is fetched from.
    """
    known = source_named(source)
    if known is None:
        names = [one.name for one in SOURCES]
        fix = did_you_mean_or(source, names, otherwise=f"write one of: {', '.join(names)}")
        raise InputProblem(Fault(f'"{source}" is no source known here', fix, column="--source"))
    check_address(server or known.server)
    box = needed_box(net, around_m=around_m)
    is_cover = known.ground is Ground.COVER
    terrain = Path(net.terrain_folders[0])
    folder = Path(net.folder) / COVER_FOLDER if is_cover else terrain
    parts = []
    for part in known.parts(box, server=server):
        wanted = common(_beside(box, part.bounds), part.bounds)
        if wanted is None:
            continue
        file = folder / part.name
        state = PartState.WANTED
        if file.exists():
            state = PartState.THERE if covers(file, wanted) else PartState.TOO_SMALL
        parts.append(WantedPart(part, wanted, file, state))
    beside = dict.fromkeys((folder / CREDITS_FILE, terrain / CREDITS_FILE))
    cells = tuple(_cell(text) for text in sea)
    return TilesWork(net, known, folder, tuple(parts), cells, tuple(beside))


def needed_box(net: Net, *, around_m: float) -> Box:
    """West, south, east, north round everyone on the air, a margin more; east beyond 180 over the date line.

    Raises : InputProblem with nobody on the air.
    """
    places = [s.position for s in net.stations if s.has_radio_path] + [r.position for r in net.repeaters]
    if not places:
        raise InputProblem(Fault("nobody of this net is on the air", "give a member with a radio a position"))
    latitudes = [place.latitude_deg for place in places]
    longitudes = [place.longitude_deg for place in places]
    turned = [longitude % 360.0 for longitude in longitudes]
    if max(turned) - min(turned) < max(longitudes) - min(longitudes):
        longitudes = turned
    up = around_m / METRES_PER_DEGREE
    south, north = max(min(latitudes) - up, -89.999), min(max(latitudes) + up, 89.999)
    across = up / math.cos(math.radians(min(max(abs(south), abs(north)), 85.0)))
    return min(longitudes) - across, south, max(longitudes) + across, north


def fetch_tiles(
    work: TilesWork, *, existing: Existing = Existing.KEEP, watch: Watch = unwatched, pause_s: float = 0.5
) -> TilesAnswer:
    """Fetch what is missing, file by file, each whole or not at all; what is there is not asked for again.

    pause_s : before a broken connection is tried again.
    Raises : FetchProblem, OutputProblem; files done before it stay.
    """
    tally = Tally()
    fetched: list[str] = []
    absent: list[str] = []
    _make(work.folder)
    for wanted in work.to_fetch(existing):
        with watch(wanted.part.name) as progress:
            try:
                fetch_part(
                    work.source, wanted.part, wanted.box, wanted.file,
                    existing=existing, tally=tally, progress=progress, pause_s=pause_s,
                )  # fmt: skip
            except NotThere:
                absent.append(wanted.part.name)
                continue
        fetched.append(wanted.part.name)
    if fetched:
        for file in work.credits:
            _make(file.parent)
            write_text(file, with_credit(file, work.source.credit), Existing.REPLACE)
    for cell in work.sea:
        file = work.folder / f"{cell}_sea.tif"
        if not file.exists() or existing is Existing.REPLACE:
            write_sea(cell, file, existing=existing)
            fetched.append(file.name)
    return TilesAnswer(work, tuple(fetched), tuple(absent), tally.bytes, tally.requests)


def next_steps(found: TilesAnswer) -> tuple[str, ...]:
    """What the user should know or do now."""
    lines = []
    source = found.work.source
    if found.absent:
        listed = named(found.absent, most=_MOST_NAMED)
        lines.append(
            f"Not in the data set: {listed}. That is open sea, or a land that is left out. Where you know it"
            " is sea, --sea with the cell's name (N41W039, say) writes it as flat water at 0 m."
        )
    if source.ground is Ground.COVER and found.fetched:
        lines.append(
            f'To use it write  land_cover = "{COVER_FOLDER}/{found.fetched[0]}"  under [terrain] in net.toml.'
        )
        if len(found.work.parts) > 1:
            lines.append(
                "The net lies over several of its files; net.toml takes one: name that of most members."
            )
    if source.ground is Ground.SURFACE:
        lines.append(
            "These heights include trees and roofs: fit to plan by, a little wrong in woods and towns."
            " Bare-ground data is better where there is some. Do not add land cover to it."
        )
    lines.append("Next: reach check says whether all is there.")
    return tuple(lines)


def _beside(box: Box, other: Box) -> Box:
    """The same box counted round the globe so that it lies beside another."""
    west, south, east, north = box
    turns = round(((other[0] + other[2]) / 2.0 - (west + east) / 2.0) / 360.0) * 360.0
    return west + turns, south, east + turns, north


def _cell(text: str) -> str:
    cell = text.strip().upper()
    fits = (
        len(cell) == 7 and cell[0] in "NS" and cell[3] in "EW" and cell[1:3].isdigit() and cell[4:].isdigit()
    )
    if not fits or int(cell[1:3]) > 90 or int(cell[4:]) > 180:
        raise InputProblem(Fault(f'"{text}" is no cell', "write it as N41W039", column="--sea"))
    return cell


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise OutputProblem(f"the folder {folder} could not be made ({problem.strerror}).") from None

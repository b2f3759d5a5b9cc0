"""A net folder read once, with its elevation tiles open: what every question is asked of."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from reach.answers.coming import who_came, with_expected
from reach.answers.learned import Basis, Learned
from reach.errors import Fault, InputProblem
from reach.inputs.net_folder import NetFolder, read_net_folder
from reach.learning.attendance import Attendance
from reach.links.misplaced import misplaced
from reach.lists import did_you_mean_or
from reach.propagation.choose import AUTO, MODEL_NAMES
from reach.reports.store import stored_reports
from reach.stations import Net
from reach.terrain.tiles import Terrain


@dataclass(frozen=True)
class OpenNet:
    """The folder's records and its terrain, open until whoever opened it closes it.

    learned : what reports of who was heard have taught; empty where there are none. came : who came to
    earlier nets; forecasts take the attendance they expect from it.
    """

    folder: NetFolder
    terrain: Terrain
    learned: Learned
    came: Attendance

    @property
    def net(self) -> Net:
        """Members, repeaters, channels."""
        return self.folder.net

    @property
    def warnings(self) -> tuple[str, ...]:
        """What the files as a whole and the tiles opened so far give to beware of."""
        return (*self.net.warnings, *self.folder.planning.warnings, *self.terrain.warnings)


@contextmanager
def open_net(folder: Path | NetFolder, *, basis: Basis = Basis.HEARD) -> Iterator[OpenNet]:
    """Read a net folder, or take one already read, and open its terrain for the time of a `with`.

    basis : whether reports of who was heard correct its plans.
    Raises : InputProblem with every fault of the folder, also for a path-loss model nobody knows.
    """
    read = folder if isinstance(folder, NetFolder) else read_net_folder(folder)
    with open_terrain(read.net) as terrain:
        yield opened_with(read, terrain, basis=basis)


def opened_with(read: NetFolder, terrain: Terrain, *, basis: Basis = Basis.HEARD) -> OpenNet:
    """A folder and its open terrain with the folder's reports, of those away tonight too.

    Raises : OutputProblem for a store that is none.
    """
    reports = stored_reports(Path(read.net.folder))
    came = who_came(read.whole or read, reports)
    if basis is Basis.HEARD:
        read = with_expected(read, came)
    return OpenNet(read, terrain, Learned(read.whole or read, terrain, reports, basis), came)


def open_terrain(net: Net) -> Terrain:
    """The net's elevation tiles.

    Raises : InputProblem, also for a path-loss model nobody knows and for swapped or mirrored positions.
    """
    if fault := model_fault(net):
        raise InputProblem(fault)
    terrain = Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)
    if faults := misplaced(net, terrain):
        terrain.close()
        raise InputProblem(faults)
    return terrain


def model_fault(net: Net) -> Fault | None:
    """What is wrong with the name of the net's path-loss model, None when it is known."""
    names = (AUTO, *MODEL_NAMES)
    if net.model in names:
        return None
    fix = did_you_mean_or(net.model, names, otherwise=f"write one of: {', '.join(names)}")
    return Fault(f'"{net.model}" is not a path-loss model', fix, file="net.toml", key="net.model")

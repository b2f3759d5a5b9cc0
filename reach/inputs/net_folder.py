"""A net folder as a whole: the net, the rules its plans keep to, when it meets, its own wording."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from reach.inputs.club import read_tables
from reach.inputs.planning import PlanningRules, Schedule
from reach.inputs.text_files import read_text_file
from reach.stations import Net

SCRIPT_FILE = "script.txt"


@dataclass(frozen=True)
class NetFolder:
    """Everything a net folder says, read once.

    schedule : None when net.toml does not say when the net meets.
    whole : the folder with all its members where some were left out for tonight, otherwise None.
    script : the club's own wording of the run sheet, None for the built-in one.
    """

    net: Net
    planning: PlanningRules
    schedule: Schedule | None = None
    script: str | None = None
    whole: NetFolder | None = None


def read_net_folder(folder: str | Path) -> NetFolder:
    """net.toml, roster.csv and, where it is there, script.txt. The terrain is not opened.

    Raises : InputProblem with every fault.
    """
    folder = Path(folder)
    net, planning, schedule = read_tables(folder)
    script = folder / SCRIPT_FILE
    return NetFolder(net, planning, schedule, read_text_file(script) if script.exists() else None)

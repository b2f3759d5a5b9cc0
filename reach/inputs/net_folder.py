"""A net folder as a whole: the net, the rules its plans keep to, when it meets, its own wording."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.club import read_tables
from reach.inputs.lookup import find_channel, find_repeater, unknown_name
from reach.inputs.nets import ClubNet
from reach.inputs.planning import PlanningRules, Schedule
from reach.inputs.text_files import read_text_file
from reach.stations import Net

SCRIPT_FILE = "script.txt"


@dataclass(frozen=True)
class NetFolder:
    """Everything a net folder says, read once.

    schedule : None when net.toml does not say when the net meets.
    script : the club's own wording of the run sheet, None for the built-in one.
    whole : the folder with all its members where some were left out for tonight, otherwise None.
    nets : the club's nets where [[nets]] tell of several; empty otherwise.
    meeting : the one that net, planning, schedule and script are of (`of_net`); None when none is chosen:
    then they are of the club, its schedule and script those of its first net.
    club : the folder before one was chosen, None then.
    """

    net: Net
    planning: PlanningRules
    schedule: Schedule | None = None
    script: str | None = None
    whole: NetFolder | None = None
    nets: tuple[ClubNet, ...] = ()
    meeting: ClubNet | None = None
    club: NetFolder | None = None


def read_net_folder(folder: str | Path) -> NetFolder:
    """net.toml, roster.csv and, where they are there, the scripts. The terrain is not opened.

    Raises : InputProblem with every fault.
    """
    folder = Path(folder)
    tables = read_tables(folder)
    schedule = tables.nets[0].schedule if tables.nets else tables.schedule
    script = _script(folder, tables.nets[0].script if tables.nets else "")
    return NetFolder(tables.net, tables.planning, schedule, script, nets=tables.nets)


def of_net(folder: NetFolder, name: str) -> NetFolder:
    """The folder for one of the club's nets: its channel and repeater first, its day, script and controls.

    Raises : InputProblem when there is no such net.
    """
    club = folder.club or folder
    if not club.nets:
        fix = "this folder has one net only; add [[nets]] blocks to net.toml for several"
        raise InputProblem(Fault(f'there is no net "{name}"', fix))
    meeting = next((one for one in club.nets if one.name.casefold() == name.strip().casefold()), None)
    if meeting is None:
        raise unknown_name(name, (one.name for one in club.nets), what="net", net=club.net)
    net, planning = club.net, club.planning
    first = find_channel(net, meeting.channel)
    repeaters = net.repeaters
    if meeting.repeater:
        own = find_repeater(net, meeting.repeater)
        repeaters = (own, *(one for one in repeaters if one is not own))
    if meeting.control_candidates:
        planning = replace(planning, control_candidates=meeting.control_candidates)
    return NetFolder(
        net=replace(
            net,
            name=meeting.name,
            channels=(first, *(one for one in net.channels if one is not first)),
            repeaters=repeaters,
        ),
        planning=planning,
        schedule=meeting.schedule,
        script=_script(Path(net.folder), meeting.script),
        nets=club.nets,
        meeting=meeting,
        club=club,
    )


def _script(folder: Path, own: str) -> str | None:
    script = folder / (own or SCRIPT_FILE)
    return read_text_file(script) if own or script.exists() else None

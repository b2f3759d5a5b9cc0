"""Who takes part tonight: members who are away taken out of a net before anything is planned."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.columns import heading_key
from reach.inputs.lookup import find_station
from reach.inputs.net_folder import NetFolder
from reach.inputs.text_files import read_text_file
from reach.stations import Net

_HEADINGS = ("call", "call_sign", "callsign", "station")


def present(folder: NetFolder, *, without: Iterable[str] = (), only: Path | None = None) -> NetFolder:
    """The folder with those away left out, and named in `Net.away`, in the order of the roster.

    without : call signs of who is away; several may stand in one text, between commas or spaces.
    only : file of those who are there, a call sign a line, further cells of the line passed over.
    Raises : InputProblem with every call sign that is not in the roster; also when nobody is left, or nobody
    of those whom net.toml names as net control.
    """
    net, faults = folder.net, list[Fault]()
    away: set[str] = set()
    for call in (word for text in without for word in re.split(r"[,\s]+", text) if word):
        try:
            away.add(find_station(net, call).call_sign)
        except InputProblem as problem:
            faults += [replace(fault, column="--without") for fault in problem.faults]
    if only is not None:
        here, unknown = _listed_in(only, net)
        faults += unknown
        away |= {station.call_sign for station in net.stations} - here
    if faults:
        raise InputProblem(faults)
    if not away:
        return folder
    staying = tuple(station for station in net.stations if station.call_sign not in away)
    if not staying:
        raise InputProblem(Fault("nobody of the roster is left", "leave fewer members out"))
    candidates = folder.planning.control_candidates
    left = tuple(call for call in candidates if call not in away)
    if candidates and not left:
        fix = "take others into control_candidates of net.toml, or leave that line out"
        raise InputProblem(Fault("all net controls that net.toml names are away", fix))
    return replace(
        folder,
        net=replace(
            net,
            stations=staying,
            away=tuple(station.call_sign for station in net.stations if station.call_sign in away),
        ),
        planning=replace(folder.planning, control_candidates=left),
        whole=folder.whole or folder,
    )


def _listed_in(file: Path, net: Net) -> tuple[set[str], list[Fault]]:
    """Members a file names, and a fault for each line that names nobody."""
    here: set[str] = set()
    faults: list[Fault] = []
    first = True
    for row, line in enumerate(read_text_file(file).splitlines(), start=1):
        cell = re.split(r"[,;\t]", line.partition("#")[0], maxsplit=1)[0].strip().strip('"').strip()
        if not cell:
            continue
        is_heading, first = first and heading_key(cell) in _HEADINGS, False
        if is_heading:
            continue
        try:
            here.add(find_station(net, cell).call_sign)
        except InputProblem as problem:
            faults += [replace(fault, file=file.name, row=row) for fault in problem.faults]
    if not here and not faults:
        faults.append(Fault("names nobody", "write a call sign of the roster a line", file=file.name))
    return here, faults

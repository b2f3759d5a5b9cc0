"""What most commands begin with: the net folder read and its warnings said, its terrain opened, names looked up."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.stations import Channel, Net, Repeater, Station
from reach.terrain.tiles import Terrain


def open_terrain(net: Net) -> Terrain:
    """The net's elevation tiles. Raises : InputProblem, MissingTerrain."""
    return Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit)


def unknown_call(call_sign: str, known: Iterable[str], *, what: str, folder: Path) -> InputProblem:
    """The error for a call sign that is not there, with the nearest one that is."""
    calls = sorted(known)
    near = difflib.get_close_matches(call_sign.upper(), calls, n=1, cutoff=0.5)
    fix = f"did you mean {near[0]}?" if near else (f"there are {', '.join(calls[:12])}" if calls else "there is none")
    return InputProblem(Fault(f'"{call_sign}" is no {what} of this net', fix, file=str(folder)))


def find_station(net: Net, call_sign: str, folder: Path) -> Station:
    """The member with that call sign. Raises : InputProblem naming the nearest spelling."""
    try:
        return net.station(call_sign)
    except KeyError:
        raise unknown_call(
            call_sign, (s.call_sign for s in net.stations), what="member", folder=folder
        ) from None


def find_repeaters(net: Net, call_signs: Sequence[str], folder: Path) -> tuple[Repeater, ...]:
    """The repeaters named, or all of them. Raises : InputProblem."""
    if not net.repeaters:
        raise InputProblem(
            Fault("this net has no repeater", "add a [[repeaters]] table to net.toml", file=str(folder))
        )
    found = []
    for call_sign in call_signs:
        try:
            found.append(net.repeater(call_sign))
        except KeyError:
            raise unknown_call(
                call_sign, (r.call_sign for r in net.repeaters), what="repeater", folder=folder
            ) from None
    return tuple(found) or net.repeaters


def find_channel(net: Net, name: str | None, folder: Path) -> Channel:
    """The channel of that name or frequency, or the net's first. Raises : InputProblem."""
    if name is None:
        return net.channels[0]
    for channel in net.channels:
        if name.casefold() == channel.name.casefold() or name == f"{channel.frequency_mhz:g}":
            return channel
    names = [channel.name for channel in net.channels]
    near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
    raise InputProblem(
        Fault(
            f'"{name}" is no channel of this net',
            f"did you mean {near[0]}?" if near else f"there are {', '.join(names)}",
            file=str(folder),
        )
    )

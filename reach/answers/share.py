"""Answers fit to be handed round: nobody's place, and no figure it could be worked out from.

A plan is made from where everyone really is. Before anything is drawn or written, every place in the finished
answer is exchanged for one somewhere in the square of a grid it lies in; lengths and bearings of paths are
taken anew from those. What is drawn afterwards has never seen the exact places, so it cannot give them away.
Losses and levels, from which a length could be worked out, are left out of what is written for machines.
"""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import dataclass, fields, is_dataclass, replace
from typing import Any, TypeVar, cast

import numpy as np

from reach.answers.record import Answer
from reach.answers.sheet import Cell, Sheet
from reach.errors import Fault, InputProblem
from reach.geodesy import METRES_PER_DEGREE, distance_and_bearing
from reach.links.network import DirectedLink, SimplexNetwork
from reach.stations import Aim, Antenna, Net, Position, Repeater, Station
from reach.units import length_in_words

SMALLEST_SQUARE_M, LARGEST_SQUARE_M = 500.0, 50_000.0
_BEARING_STEP_DEG = 10.0
_FILES = ("roster.csv", "net.toml")

# columns and keys from which a place could be worked out, whatever stands before them
_HIDING = (
    "latitude_deg", "longitude_deg", "locator", "position", "ground_m", "distance_km", "distance_m",
    "bearing_deg", "bearing_from_talker_deg", "bearing_from_listener_deg", "elevation_deg", "path_loss_db",
    "received_dbm", "received_uv", "s_meter",
    "fresnel_clearance",
)  # fmt: skip

Given = TypeVar("Given", bound=Answer)


@dataclass(frozen=True)
class Share:
    """How an answer is made fit to be handed round. square_m : side of the squares; names : kept."""

    square_m: float = 2_000.0
    names: bool = False

    def __post_init__(self) -> None:
        if not SMALLEST_SQUARE_M <= self.square_m <= LARGEST_SQUARE_M:
            fix = f"write {length_in_words(SMALLEST_SQUARE_M)} to {length_in_words(LARGEST_SQUARE_M)}"
            raise InputProblem(
                Fault(f"squares of {length_in_words(self.square_m)} are no use", fix, column="--square")
            )


def shared(answer: Given, share: Share) -> Given:
    """The answer with every place moved within its square, and what would give it away left out."""
    return cast(Given, _Sharing(share, answer.net).of(answer))


def audience_words(net: Net) -> str:
    """Whom a drawing is for: said on every page and paper."""
    if not net.shared_square_m:
        return "For the planner only: it shows where members live and what they have."
    size = length_in_words(net.shared_square_m)
    return (
        f"Made to be shared: every station stands somewhere in its square of {size}, not where it really is;"
        " the plan was made from the real places."
    )


def audience_in_short(net: Net) -> str:
    """The same for a paper, which shows no places and has little room."""
    return audience_words(net) if net.shared_square_m else "For the planner."


def shared_place(position: Position, *, call_sign: str, square_m: float) -> Position:
    """A place in the same square of a fixed grid, chosen by call sign and square alone.

    The same for every answer, so that laying many over each other tells no more than one.
    """
    if not position.is_known:
        return position
    step_deg = square_m / METRES_PER_DEGREE
    row = math.floor(position.latitude_deg / step_deg)
    row = max(min(row, math.ceil(90.0 / step_deg) - 1), math.floor(-90.0 / step_deg))
    across_deg = step_deg / max(math.cos(math.radians((row + 0.5) * step_deg)), 0.01)
    column = math.floor(position.longitude_deg / across_deg)
    drawn = hashlib.sha256(f"{call_sign}|{row}|{column}|{square_m:g}".encode()).digest()
    up, along = (int.from_bytes(part, "big") / 2**64 for part in (drawn[:8], drawn[8:16]))
    latitude = min(max((row + up) * step_deg, -90.0), 90.0)
    longitude = (column + along) * across_deg
    return Position(round(latitude, 4), round((longitude + 180.0) % 360.0 - 180.0, 4), square_m / 2**0.5)


def shared_sheet(sheet: Sheet) -> Sheet:
    """A table without the columns that give a place away, decibels whole, other figures to two decimals."""
    kept = [at for at, name in enumerate(sheet.columns) if not _hides(name)]
    columns = tuple(sheet.columns[at] for at in kept)
    rows = tuple(tuple(_coarse(sheet.columns[at], row[at]) for at in kept) for row in sheet.rows)
    return Sheet(columns, rows)


def shared_figures(plain: Any, key: str = "") -> Any:
    """The same for what JSON is written from: mappings, lists and plain values."""
    if isinstance(plain, Mapping):
        return {name: shared_figures(value, name) for name, value in plain.items() if not _hides(name)}
    if isinstance(plain, list):
        return [shared_figures(value, key) for value in plain]
    return _coarse(key, plain)


def _hides(name: str) -> bool:
    return name.removeprefix("talk_in_").removeprefix("talk_out_") in _HIDING


def _coarse(name: str, cell: Cell) -> Cell:
    if isinstance(cell, bool) or not isinstance(cell, float) or not math.isfinite(cell):
        return cell
    return float(math.floor(cell)) if name.endswith(("_db", "_dbm")) else round(cell, 2)


class _Sharing:
    """Walks an answer once; what appears twice is exchanged once."""

    def __init__(self, share: Share, net: Net) -> None:
        self._share = share
        parties: tuple[Station | Repeater, ...] = (*net.stations, *net.repeaters)
        self._places = {
            party.call_sign: shared_place(party.position, call_sign=party.call_sign, square_m=share.square_m)
            for party in parties
        }
        self._moved = {
            (party.position.latitude_deg, party.position.longitude_deg): self._places[party.call_sign]
            for party in parties
        }
        self._done: dict[int, tuple[object, object]] = {}  # with what it was, so that its id stays taken

    def of(self, value: Any) -> Any:
        """What is shared in place of a value."""
        if isinstance(value, Position):
            place = (value.latitude_deg, value.longitude_deg)
            return self._moved.get(place, value)
        if isinstance(value, Sheet):
            return shared_sheet(value)
        if isinstance(value, tuple) and hasattr(value, "_fields"):
            return type(value)(*(self.of(item) for item in value))
        if isinstance(value, (tuple, list, frozenset)):
            return type(value)(self.of(item) for item in value)
        if isinstance(value, dict):
            return {key: self.of(item) for key, item in value.items()}
        if not is_dataclass(value) or isinstance(value, type):
            return value
        if id(value) not in self._done:
            self._done[id(value)] = (value, self._record(value))
        return self._done[id(value)][1]

    def _record(self, value: Any) -> Any:
        inside = {field.name: self.of(getattr(value, field.name)) for field in fields(value) if field.init}
        before = {name: getattr(value, name) for name in inside}
        changed = {name: new for name, new in inside.items() if new is not before[name]}
        made = replace(value, **changed) if changed else value
        if isinstance(made, (Station, Repeater)):
            return self._party(made)
        if isinstance(made, Net):
            return replace(
                made,
                folder="",
                terrain_folders=(),
                land_cover=None,
                warnings=(),
                shared_square_m=self._share.square_m,
            )
        if isinstance(made, Antenna) and made.beam is not None and made.beam.aim is Aim.FIXED:
            turned = round(made.beam.bearing_deg / _BEARING_STEP_DEG) * _BEARING_STEP_DEG % 360.0
            return replace(made, beam=replace(made.beam, bearing_deg=turned))
        if isinstance(made, SimplexNetwork):
            return self._network(made)
        if isinstance(made, DirectedLink):
            return self._link(made)
        if isinstance(made, Answer):
            kept = tuple(text for text in made.warnings if not any(file in text for file in _FILES))
            return replace(made, warnings=kept)
        return made

    def _party(self, party: Station | Repeater) -> Station | Repeater:
        place = self._places.get(party.call_sign)
        if place is None:
            place = shared_place(party.position, call_sign=party.call_sign, square_m=self._share.square_m)
        name = party.name if self._share.names or isinstance(party, Repeater) else ""
        return replace(party, position=place, name=name, warnings=())

    def _network(self, network: SimplexNetwork) -> SimplexNetwork:
        places = [self._places.get(call) for call in network.call_signs]
        latitude = np.array([np.nan if place is None else place.latitude_deg for place in places])
        longitude = np.array([np.nan if place is None else place.longitude_deg for place in places])
        distance_m, bearing_deg = distance_and_bearing(
            from_latitude_deg=latitude[:, np.newaxis],
            from_longitude_deg=longitude[:, np.newaxis],
            to_latitude_deg=latitude[np.newaxis, :],
            to_longitude_deg=longitude[np.newaxis, :],
        )
        return replace(
            network,
            distance_m=np.round(distance_m, -2),
            bearing_deg=np.round(bearing_deg),
            elevation_deg=None,
            effective_height_m=None,
        )

    def _link(self, link: DirectedLink) -> DirectedLink:
        ends = [self._places.get(call) for call in (link.tx, link.rx)]
        if ends[0] is None or ends[1] is None:
            return replace(link, distance_m=math.nan, bearing_deg=math.nan, elevation_deg=0.0)
        distance_m, bearing_deg = distance_and_bearing(
            from_latitude_deg=ends[0].latitude_deg,
            from_longitude_deg=ends[0].longitude_deg,
            to_latitude_deg=ends[1].latitude_deg,
            to_longitude_deg=ends[1].longitude_deg,
        )
        return replace(
            link,
            distance_m=round(float(distance_m), -2),
            bearing_deg=round(float(bearing_deg)),
            elevation_deg=0.0,
        )

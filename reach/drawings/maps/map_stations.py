"""Dots and cards that every map shares."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reach.drawings.maps.map_parts import MapStation
from reach.drawings.style.palette import Outline
from reach.drawings.style.symbols import Mark, Symbol
from reach.drawings.style.words import (
    CATEGORY_LETTERS,
    CATEGORY_WORDS,
    clearance_words,
    distance_words,
    height_words,
)
from reach.links.pattern import aim_words
from reach.stations import Net, Position, Repeater, Station, runs_without_mains

QUIET = "\N{NO-BREAK SPACE}"  # a card line that starts with it is set in the quiet ink


def outline_of(station: Station | Repeater) -> Outline:
    """How a station's power shows."""
    return Outline.BACKED_UP if runs_without_mains(station) else Outline.MAINS_ONLY


def title_of(call_sign: str, name: str) -> str:
    """Call sign and name, as a card's heading."""
    return f"{call_sign}, {name}" if name else call_sign


def equipment_lines(station: Station | Repeater) -> list[str]:
    """The quiet lines of a card: antenna, power, what was assumed."""
    lines = [
        f"{QUIET}antenna {height_words(station.antenna.height_m)} above ground; {outline_of(station).words}"
    ]
    if aim := aim_words(station.antenna):
        lines.append(f"{QUIET}{aim}")
    if station.assumed:
        lines.append(f"{QUIET}assumed: {'; '.join(station.assumed)}")
    return lines


def place_dot(
    name: str, position: Position, symbol: Symbol, title: str, lines: Sequence[str], status: str
) -> MapStation:
    """Anything that stands somewhere as a dot."""
    where = (position.latitude_deg, position.longitude_deg)
    return MapStation(name, *where, symbol, title, tuple(lines), status)


def mast_dot(hub: Station | Repeater, mark: Mark, lines: Sequence[str], status: str) -> MapStation:
    """A repeater, or a station the map is about, as a dot without a category."""
    symbol = Symbol(mark, "", outline_of(hub))
    return place_dot(
        hub.call_sign, hub.position, symbol, title_of(hub.call_sign, hub.name),
        [*lines, *equipment_lines(hub)], status,
    )  # fmt: skip


def dot(station: Station, mark: Mark, title: str, lines: Sequence[str], status: str) -> MapStation:
    """A member as a dot."""
    symbol = Symbol(mark, CATEGORY_LETTERS[station.category], outline_of(station))
    return place_dot(station.call_sign, station.position, symbol, title, lines, status)


def no_radio_dots(station: Station) -> list[MapStation]:
    """A member without any radio path; none where nobody said where it is. The map is not widened for it."""
    if not station.position.is_known:
        return []
    lines = [f"{CATEGORY_WORDS[station.category].capitalize()}."]
    made = dot(
        station, Mark.MEMBER, title_of(station.call_sign, station.name), lines, "internet, no radio path"
    )
    return [replace(made, frames=False)]


def not_on_the_map(net: Net) -> list[str]:
    """Who is linked over the internet from a place nobody said, in a sentence, if anybody."""
    calls = [station.call_sign for station in net.stations if not station.position.is_known]
    return (
        [f"Linked over the internet, place not known, not on the map: {', '.join(calls)}."] if calls else []
    )


def path_words(distance_m: float, line_of_sight: bool, clearance: float) -> str:
    """Length and clearance of a path."""
    clear = clearance_words(line_of_sight=line_of_sight, fresnel_clearance=clearance)
    return f"{distance_words(distance_m)}; {clear}"

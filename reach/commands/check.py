"""`reach check FOLDER`: is this net ready to be planned? Faults, members, defaults used, elevation needed."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from reach.commands.options import (
    check_outputs,
    csv_option,
    deliver,
    folder_argument,
    json_option,
    replace_option,
    say,
    speaks_text,
    text_width,
    warn,
)
from reach.errors import InputProblem, ReachError
from reach.files import Existing
from reach.lists import named

if TYPE_CHECKING:
    from rich.console import RenderableType
    from rich.table import Table

    from reach.drawings.exports.machine import Cell, Sheet
    from reach.inputs.planning import PlanningRules
    from reach.stations import Net, Repeater, Station


_MOST_NAMED = 12
_WIDTH_FOR_ALL = 104  # columns of text from which the table of members is whole


@dataclass(frozen=True)
class Tiles:
    """The elevation tiles there are. finest_m, coarsest_m : their pixel sizes; 0 without any."""

    count: int = 0
    finest_m: float = 0.0
    coarsest_m: float = 0.0


@dataclass(frozen=True)
class NetCheck:
    """What a look at a net folder finds.

    needed_cells, missing_cells : one-degree cells by their south-west corner, as N42W072.
    ground_m : ground above sea level at each station and repeater by call sign, None where no tile knows.
    assumed : (what was taken, call signs it was taken for; empty for the net as a whole).
    faults : what stops a plan, one sentence each.
    """

    net: Net
    headline: str
    needed_cells: tuple[str, ...]
    missing_cells: tuple[str, ...]
    tiles: Tiles
    ground_m: dict[str, float | None]
    assumed: tuple[tuple[str, tuple[str, ...]], ...]
    warnings: tuple[str, ...]
    faults: tuple[str, ...]


@click.command("check", short_help="Read a net folder and say whether it is ready.")
@folder_argument
@json_option
@csv_option
@replace_option
def command(folder: Path, json_file: str | None, csv_file: str | None, existing: Existing) -> None:
    """Read a net folder: every fault, the members, the defaults used, the elevation tiles needed.

    FOLDER holds net.toml and roster.csv. The exit code is 0 when the net is ready to be planned, 2 when not.
    """
    check_outputs(json_file, csv_file, existing=existing)
    found = check_net(folder)
    if json_file is not None:
        from reach.drawings.exports.machine import json_text

        deliver(json_text(found), json_file, existing=existing)
    if csv_file is not None:
        deliver(member_sheet(found).csv_text(), csv_file, existing=existing)
    if speaks_text(json_file, csv_file):
        _say_all(found)
    for fault in found.faults:
        warn(fault)
    if found.faults or found.missing_cells:
        raise click.exceptions.Exit(2)


def check_net(folder: Path) -> NetCheck:
    """Read a net folder and look at its terrain, without planning anything.

    Raises : InputProblem with every fault when net.toml or roster.csv cannot be read as a net.
    """
    from reach.commands.net_folder import model_fault
    from reach.inputs.club import read_net
    from reach.inputs.planning import read_planning
    from reach.links.doubts import net_doubts
    from reach.propagation.choose import choose_model
    from reach.terrain.cells import missing_cells, needed_cells
    from reach.terrain.tiles import Terrain

    net = read_net(folder)
    planning = read_planning(folder)
    unknown_model = model_fault(net)
    faults = [str(unknown_model)] if unknown_model else []
    frequencies = {c.frequency_mhz for c in net.channels} | {r.output_mhz for r in net.repeaters}
    for frequency_mhz in () if unknown_model else sorted(frequencies):
        try:
            choose_model(net.model, frequency_mhz)
        except ReachError as problem:
            faults.append(f"net.toml, net.model: {problem}")
    who = [(s.call_sign, s.position) for s in net.stations if s.has_radio_path]
    who += [(r.call_sign, r.position) for r in net.repeaters]
    positions = [position for _, position in who]
    needed = needed_cells(positions)
    missing = needed
    tiles = Tiles()
    ground: dict[str, float | None] = {call_sign: None for call_sign, _ in who}
    warnings = list(net_doubts(net))
    try:
        with Terrain.open(net.terrain_folders, elevation_unit=net.elevation_unit) as terrain:
            sizes = [tile.resolution_m for tile in terrain.tiles]
            tiles = Tiles(len(sizes), min(sizes), max(sizes))
            missing = missing_cells(terrain, positions)
            warnings += terrain.warnings
            heights = terrain.sample(
                [p.latitude_deg for p in positions], [p.longitude_deg for p in positions]
            )
            for (call_sign, _), height in zip(who, heights.tolist()):
                ground[call_sign] = None if height != height else round(height, 1)
    except InputProblem as problem:
        faults += [str(fault) for fault in problem.faults]
    else:
        warnings += [
            f"{call_sign} stands where no tile has elevation; check the position or add the tile."
            for call_sign, height in ground.items()
            if height is None
        ]
    # the same sentence of several frequencies or tiles is said once
    faults = list(dict.fromkeys(faults))
    return NetCheck(
        net=net,
        headline=_headline(net, missing, faults),
        needed_cells=needed,
        missing_cells=missing,
        tiles=tiles,
        ground_m=ground,
        assumed=_assumed(net, planning),
        warnings=tuple(dict.fromkeys(warnings)),
        faults=tuple(faults),
    )


def _counted(number: int, one: str, many: str = "") -> str:
    return f"{number} {one if number == 1 else many or one + 's'}"


def _headline(net: Net, missing: tuple[str, ...], faults: list[str]) -> str:
    holds = f"{_counted(len(net.stations), 'member')}, {_counted(len(net.repeaters), 'repeater')}"
    if faults:
        return f"{net.name} is not ready: {_counted(len(faults), 'fault')} to correct ({holds})."
    if missing:
        cells = named(missing, most=_MOST_NAMED)
        return f"{net.name} is not ready: elevation is missing in {cells} ({holds})."
    return f"{net.name} is ready to plan: {holds}, all the elevation it needs is there."


def _owners(net: Net) -> tuple[Station | Repeater, ...]:
    """Everyone with equipment, members first."""
    return (*net.stations, *net.repeaters)


def _assumed(net: Net, planning: PlanningRules) -> tuple[tuple[str, tuple[str, ...]], ...]:
    """Each assumption once, with those it was made for; the net's own first, then the widest spread."""
    by_text: defaultdict[str, list[str]] = defaultdict(list)
    for owner in _owners(net):
        for text in owner.assumed:
            by_text[text].append(owner.call_sign)
    spread = sorted(by_text.items(), key=lambda item: (-len(item[1]), item[0]))
    return (
        *((text, ()) for text in (*net.assumed, *planning.assumed)),
        *((text, tuple(calls)) for text, calls in spread),
    )


def member_sheet(found: NetCheck) -> Sheet:
    """Members and repeaters for a spreadsheet, units in the headings."""
    from reach.drawings.exports.machine import Sheet
    from reach.inputs.locators import locator_of
    from reach.stations import Station

    frequency_mhz = found.net.channels[0].frequency_mhz
    rows: list[tuple[Cell, ...]] = []
    for owner in _owners(found.net):
        category, frequency = _category(owner), _frequency(owner, frequency_mhz)
        on_air = category != "internet"
        rows.append(
            (
                owner.call_sign,
                owner.name,
                category,
                owner.position.latitude_deg,
                owner.position.longitude_deg,
                locator_of(owner.position, characters=8),
                found.ground_m.get(owner.call_sign),
                owner.antenna.height_m if on_air else None,
                owner.transmit_power_dbm if on_air else None,
                owner.antenna.gain_dbi_at(frequency) if on_air else None,
                owner.feed_line.loss_db(frequency) if on_air else None,
                owner.sensitivity_dbm if on_air else None,
                owner.extra_loss_db if isinstance(owner, Station) and on_air else None,
                " + ".join(surrounding.value for surrounding in owner.surroundings),
                owner.local_noise_db if on_air else None,
                _backup(owner),
                owner.willing_control if isinstance(owner, Station) else None,
                owner.willing_relay if isinstance(owner, Station) else None,
                owner.brief if isinstance(owner, Station) else None,
                "; ".join(owner.assumed),
            )
        )
    columns = (
        "call_sign",
        "name",
        "category",
        "latitude_deg",
        "longitude_deg",
        "locator",
        "ground_m",
        "antenna_height_m",
        "power_dbm",
        "gain_dbi",
        "feed_loss_db",
        "sensitivity_dbm",
        "extra_loss_db",
        "surroundings",
        "local_noise_db",
        "backup",
        "control",
        "relay",
        "brief",
        "assumed",
    )
    return Sheet(columns, tuple(rows))


def _category(owner: Station | Repeater) -> str:
    from reach.stations import Station

    return owner.category.value if isinstance(owner, Station) else "repeater"


def _frequency(owner: Station | Repeater, channel_mhz: float) -> float:
    from reach.stations import Repeater

    return owner.output_mhz if isinstance(owner, Repeater) else channel_mhz


def _backup(owner: Station | Repeater) -> str:
    backup = owner.backup
    if backup is None:
        return "no"
    parts = []
    if backup.hours is not None:
        parts.append(f"{backup.hours:g} h")
    if backup.battery_ah is not None:
        parts.append(f"{backup.battery_ah:g} Ah")
    return ", ".join(parts) or "yes"


def _say_all(found: NetCheck) -> None:
    from reach.drawings.style.cautions import SHORT
    from reach.drawings.tables.terminal import answer, notes_text

    width = text_width()
    parts: list[RenderableType] = [
        answer(found.headline),
        notes_text(_overview(found)),
        notes_text([""]),
        _member_table(found, width=width),
    ]
    if width < _WIDTH_FOR_ALL:
        parts.append(notes_text(["(a wider window or --csv shows more columns)"]))
    for title, lines in (
        ("Taken where nothing was said:", _assumed_lines(found)),
        ("Worth a second look:", [f"- {text}" for text in found.warnings]),
    ):
        if lines:
            parts.append(notes_text(["", title, *lines]))
    parts.append(notes_text(["", SHORT]))
    say(*parts)


def _overview(found: NetCheck) -> list[str]:
    net = found.net
    counts: defaultdict[str, int] = defaultdict(int)
    for station in net.stations:
        counts[station.category.value] += 1
    lines = ["Members: " + ", ".join(f"{number} {name}" for name, number in counts.items()) + "."]
    for channel in net.channels:
        lines.append(f"Simplex channel: {channel.name}, {channel.frequency_mhz:.10g} MHz.")
    for repeater in net.repeaters:
        tone = f", tone {repeater.tone_hz:g} Hz" if repeater.tone_hz is not None else ""
        lines.append(
            f"Repeater: {repeater.call_sign}, output {repeater.output_mhz:.10g} MHz, "
            f"input {repeater.input_mhz:.10g} MHz{tone}."
        )
    tiles = found.tiles
    if tiles.count:
        size = f"{tiles.finest_m:.3g} m"
        if tiles.coarsest_m > 1.05 * tiles.finest_m:
            size += f" to {tiles.coarsest_m:.3g} m"
        lines.append(f"Elevation: {_counted(tiles.count, 'tile')}, {size} from point to point.")
    needed = named(found.needed_cells, most=_MOST_NAMED) or "none"
    lines.append(f"Elevation cells needed (one degree, by south-west corner): {needed}.")
    if found.missing_cells:
        lines.append(
            f"Missing, wholly or in part: {named(found.missing_cells, most=_MOST_NAMED)}. Put tiles that "
            f"cover them in {', '.join(net.terrain_folders)}."
        )
    return lines


def _assumed_lines(found: NetCheck) -> list[str]:
    everyone = sum(1 for s in found.net.stations if s.has_radio_path)
    lines = []
    for text, calls in found.assumed:
        if not calls:
            lines.append(f"- {text}")
        elif len(calls) >= everyone > 3:
            lines.append(f"- {text}: all {len(calls)} on the air")
        else:
            lines.append(f"- {text}: {named(calls, most=_MOST_NAMED)}")
    return lines


def _member_table(found: NetCheck, *, width: int) -> Table:
    """Members and repeaters; the narrower the terminal, the fewer columns."""
    from reach.drawings.tables.terminal import quiet_table
    from reach.inputs.locators import locator_of
    from reach.inputs.station_fields import watts

    frequency_mhz = found.net.channels[0].frequency_mhz
    columns = [
        ("station", "left", 0),
        ("category", "left", 0),
        ("height m", "right", 0),
        ("power", "right", 0),
        ("name", "left", 60),
        ("locator", "left", 70),
        ("gain dBi", "right", 80),
        ("feed loss dB", "right", 90),
        ("ground m", "right", 76),
        ("backup", "left", 96),
        ("willing", "left", _WIDTH_FOR_ALL),
    ]
    shown = [index for index, (_, _, least) in enumerate(columns) if width >= least]
    rows: list[list[str]] = []
    for owner in _owners(found.net):
        category, frequency = _category(owner), _frequency(owner, frequency_mhz)
        on_air = category != "internet"
        ground = found.ground_m.get(owner.call_sign)
        cells = [
            owner.call_sign,
            category,
            f"{owner.antenna.height_m:.1f}" if on_air else "",
            watts(owner.transmit_power_dbm) if on_air else "",
            owner.name,
            locator_of(owner.position),
            f"{owner.antenna.gain_dbi_at(frequency):.1f}" if on_air else "",
            f"{owner.feed_line.loss_db(frequency):.1f}" if on_air else "",
            f"{ground:.0f}" if ground is not None else ("unknown" if on_air else ""),
            _backup(owner),
            _willing(owner),
        ]
        rows.append([cells[index] for index in shown])
    return quiet_table("Members and repeaters", [columns[index][:2] for index in shown], rows)


def _willing(owner: Station | Repeater) -> str:
    from reach.stations import Station

    if not isinstance(owner, Station):
        return ""
    said = [
        word for word, holds in (("control", owner.willing_control), ("relay", owner.willing_relay)) if holds
    ]
    return ", ".join([*said, "brief"] if owner.brief else said)

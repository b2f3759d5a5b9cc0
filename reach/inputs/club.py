"""A net folder: net.toml and roster.csv together as one `Net`, with every fault of both files at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.aiming import aimed
from reach.inputs.bands import BAND_NAMES, band_name
from reach.inputs.call_signs import parse_name
from reach.inputs.columns import Column, clean_text, read_record, shown_name
from reach.inputs.equipment_cells import parse_noise, parse_polarisation
from reach.inputs.findings import Findings
from reach.inputs.nets import ClubNet, read_nets
from reach.inputs.planning import PlanningRules, Schedule, planning_of, schedule_of
from reach.inputs.quantities import quoted, refuse
from reach.inputs.repeaters import read_repeaters
from reach.inputs.reports import STORE_FILE
from reach.inputs.roster import ROSTER_FILE, RosterRules, read_roster
from reach.inputs.settings import NET_FILE, TABLES, Settings, read_settings
from reach.inputs.station_fields import MEMBER_COLUMNS, EquipmentFields
from reach.lists import did_you_mean, nearest
from reach.stations import (
    Aim,
    Category,
    Channel,
    Net,
    NoiseEnvironment,
    Polarisation,
    Repeater,
    Station,
    Surface,
)

_MOST_FAULTS = 100
DEFAULT_TERRAIN_FOLDER = "terrain"


def _one_of(words: Mapping[str, object], what: str, text: str) -> object:
    key = text.strip().lower().replace("-", "_").replace(" ", "_")
    if key in words:
        return words[key]
    raise refuse(f"{quoted(text)} is not {what}", f"write one of: {', '.join(words)}")


def _whole(text: str, what: str, lowest: int, highest: int) -> int:
    value = q.parse_number(text)
    if value != int(value) or not lowest <= value <= highest:
        raise refuse(f"{quoted(text)} is not {what}", f"write a whole number from {lowest} to {highest}")
    return int(value)


def _k_factor(text: str) -> float:
    value = q.parse_number(text)
    if not 0.3 <= value <= 10.0:
        raise refuse(f"{quoted(text)} is outside 0.3 to 10", "the usual effective-earth factor is 1.333")
    return value


_SURFACES = {surface.value: surface for surface in Surface}
_ELEVATION_UNITS = {"m": "m", "ft": "ft", "metres": "m", "meters": "m", "feet": "ft"}

_AIMS = {"turn": Aim.TURNS, "turns": Aim.TURNS, "rotate": Aim.TURNS, "rotates": Aim.TURNS}
_UNKNOWN = {"unknown": Aim.ANYWHERE}


def _undirected(text: str) -> object:
    word = text.strip().lower()
    if word in _AIMS | _UNKNOWN:
        return (_AIMS | _UNKNOWN)[word]
    raise refuse(
        f"{quoted(text)} does not say how beams count",
        'write "turn" (each towards whoever it works) or "unknown" (its mean gain on every bearing)',
    )


NET_COLUMNS = (
    Column("name", reads=lambda c: parse_name(c.text)),
    Column("region", None, ("iaru_region",), lambda c: _whole(c.text, "an IARU region", 1, 3)),
    Column("noise", None, ("noise_environment",), lambda c: parse_noise(c.text)),
    Column("beams", None, ("beam_direction", "beams_without_direction"), lambda c: _undirected(c.text)),
    Column("model", reads=lambda c: c.text.lower().replace("-", "_").replace(" ", "_")),
    Column("k_factor", None, ("k",), lambda c: _k_factor(c.text)),
)
TERRAIN_COLUMNS = (
    Column(
        "elevation_unit", None, ("unit",), lambda c: _one_of(_ELEVATION_UNITS, "an elevation unit", c.text)
    ),
    Column("land_cover"),
    Column("surface", reads=lambda c: _one_of(_SURFACES, "a surface", c.text)),
)
CHANNEL_COLUMNS = (
    Column("name", reads=lambda c: parse_name(c.text)),
    Column("frequency", q.FREQUENCY, missing="write frequency_mhz = 146.52, say"),
    Column("deviation", q.DEVIATION, (), lambda c: q.parse_deviation_khz(c.text, c.unit)),
    Column("polarisation", None, ("polarization",), lambda c: parse_polarisation(c.text)),
)


@dataclass(frozen=True)
class _NetFields:
    name: str = ""
    region: int = 2
    noise: NoiseEnvironment = NoiseEnvironment.RESIDENTIAL
    beams: Aim = Aim.TURNS
    model: str = "auto"
    k_factor: float = 4.0 / 3.0


@dataclass(frozen=True)
class _TerrainFields:
    elevation_unit: str = ""
    land_cover: str | None = None
    surface: Surface = Surface.TYPICAL


@dataclass(frozen=True, kw_only=True)
class _ChannelFields:
    frequency: float  # MHz
    name: str = ""
    deviation: float = 5.0  # kHz
    polarisation: Polarisation = Polarisation.VERTICAL


@dataclass(frozen=True)
class FolderTables:
    """What net.toml and roster.csv hold. nets : those of a club with several; schedule : of its only one."""

    net: Net
    planning: PlanningRules
    schedule: Schedule | None
    nets: tuple[ClubNet, ...]


def read_net(folder: Path) -> Net:
    """Only the net of a folder; see `read_tables`. Raises : InputProblem with every fault of both files."""
    return read_tables(folder).net


def read_tables(folder: Path) -> FolderTables:
    """All that a folder's net.toml and roster.csv hold, each read once.

    Terrain folders that are relative are taken from the net's folder; nothing of the terrain is opened here.
    Raises : InputProblem with every fault of both files.
    """
    folder = Path(folder)
    settings = read_settings(folder)
    found = Findings()
    for name in settings.tables:
        if name not in TABLES:
            near = nearest(name, TABLES)
            meant = f"did you mean [{near}]?" if near else f"known are {', '.join(TABLES)}."
            found.warnings.append(
                f"{settings.file}, {shown_name(name)} is not a table known here and is ignored; {meant}"
            )
    own_defaults = _defaults(settings, found)
    net = _net_fields(settings, found)
    channels = _channels(settings, found)
    repeaters = read_repeaters(settings, found, undirected=net.beams)
    folders, land_cover, clutter, elevation_unit, surface = _terrain(settings, found, folder)
    stations: tuple[Station, ...] = ()
    try:
        rules = RosterRules(
            own_defaults=own_defaults,
            undirected=net.beams,
            bands=_bands(channels, repeaters),
            hubs={r.call_sign: r.position for r in repeaters if r} if all(repeaters) else None,
        )
        roster = read_roster(folder / ROSTER_FILE, rules=rules)
        stations = roster.stations
        of_members = {text for station in stations for text in station.warnings}
        found.warnings += [text for text in roster.warnings if text not in of_members]
    except InputProblem as problem:
        found.faults += problem.faults
    members = {station.call_sign for station in stations}
    planning = _planning(settings, found, members=members)
    schedule = _schedule(settings, found)
    nets = read_nets(settings, found, channels=channels, repeaters=repeaters, members=members, folder=folder)
    if stations:
        repeaters = _aimed_repeaters(settings, found, repeaters, stations)
    for (path, _), repeater in zip(settings.tables_named("repeaters", []), repeaters):
        if repeater and repeater.call_sign in members:
            found.faults.append(
                settings.place(path).fault(
                    f"{repeater.call_sign} is a member of the roster too",
                    f"call the repeater {repeater.call_sign}/R, say",
                    heading="call_sign",
                )
            )
    if found.faults:
        order = {settings.file: 0, ROSTER_FILE: 1}
        found.faults.sort(key=lambda fault: (order.get(fault.file, 2), fault.row or 0))  # stable: as found
        raise InputProblem(_shortened(found.faults))
    whole = Net(
        name=net.name or folder.resolve().name,
        channels=channels,
        repeaters=tuple(r for r in repeaters if r),
        stations=stations,
        terrain_folders=folders,
        land_cover=land_cover,
        clutter_heights_m=clutter,
        noise=net.noise,
        model=net.model,
        k_factor=net.k_factor,
        region=net.region,
        folder=str(folder.resolve()),
        elevation_unit=elevation_unit,
        surface=surface,
        assumed=tuple(found.assumed),
        warnings=tuple(found.warnings),
    )
    return FolderTables(whole, planning, schedule, nets)


def _bands(channels: Sequence[Channel], repeaters: Sequence[Repeater | None]) -> tuple[str, ...]:
    """The bands a net works on, in their order."""
    frequencies = [channel.frequency_mhz for channel in channels]
    frequencies += [mhz for r in repeaters if r for mhz in (r.input_mhz, r.output_mhz)]
    used = {band_name(frequency_mhz) for frequency_mhz in frequencies}
    return tuple(name for name in BAND_NAMES if name in used)


def _aimed_repeaters(
    settings: Settings,
    found: Findings,
    repeaters: Sequence[Repeater | None],
    stations: Sequence[Station],
) -> list[Repeater | None]:
    """The repeaters with every beam that points at someone on its bearing; what cannot be is a fault."""
    places = {r.call_sign: r.position for r in repeaters if r} | {s.call_sign: s.position for s in stations}
    turned: list[Repeater | None] = []
    for (path, _), repeater in zip(settings.tables_named("repeaters", []), repeaters):
        try:
            turned.append(
                repeater and replace(repeater, antenna=aimed(repeater.antenna, repeater.position, places))
            )
        except InputProblem as problem:
            turned.append(repeater)
            place = settings.place(path)
            found.faults += [place.fault(f.problem, f.fix, heading="direction") for f in problem.faults]
    return turned


def input_places(folder: Path) -> tuple[Path, ...]:
    """Files and folders a net folder is read from, as far as its net.toml can be read, to keep results out.

    Raises : nothing for a folder with faults; those are told by `read_net`.
    """
    own = (folder / NET_FILE, folder / ROSTER_FILE, folder / STORE_FILE)
    try:
        settings = read_settings(folder)
    except InputProblem:
        return (*own, folder / DEFAULT_TERRAIN_FOLDER)
    folders, land_cover, *_ = _terrain(settings, Findings(), folder)
    return (*own, *(Path(place) for place in folders), *([Path(land_cover)] if land_cover else []))


def _planning(settings: Settings, found: Findings, *, members: set[str]) -> PlanningRules:
    """The planning rules, their candidates looked up among the members where there are any."""
    try:
        planning = planning_of(settings)
    except InputProblem as problem:
        found.faults += problem.faults
        return PlanningRules()
    found.warnings += planning.warnings
    for call_sign in planning.control_candidates if members else ():
        if call_sign not in members:
            fix = did_you_mean(call_sign, members, otherwise="write call signs of the roster")
            found.faults.append(
                settings.place("planning").fault(
                    f"{quoted(call_sign)} is not in the roster", fix, heading="control_candidates"
                )
            )
    return planning


def _schedule(settings: Settings, found: Findings) -> Schedule | None:
    try:
        schedule = schedule_of(settings)
    except InputProblem as problem:
        found.faults += problem.faults
        return None
    found.warnings += schedule.warnings if schedule is not None else ()
    return schedule


def _shortened(faults: list[Fault]) -> list[Fault]:
    if len(faults) <= _MOST_FAULTS:
        return faults
    rest = len(faults) - _MOST_FAULTS
    return [
        *faults[:_MOST_FAULTS],
        Fault(f"and {rest} more faults of this kind or others", "correct these first"),
    ]


def _net_fields(settings: Settings, found: Findings) -> _NetFields:
    place = settings.place("net")
    cells = found.cells(settings.table("net", found.faults), NET_COLUMNS, place)
    fields, faults = read_record(_NetFields, NET_COLUMNS, cells, place)
    found.faults += faults
    if fields is None:
        return _NetFields()
    if "region" not in cells:
        found.assumed.append("IARU region 2 (band edges for warnings only)")
    if "noise" not in cells:
        found.assumed.append("noise environment residential")
    if "k_factor" not in cells:
        found.assumed.append("effective-earth factor 4/3")
    if "model" not in cells:
        found.assumed.append("path-loss model auto")
    return fields


def _defaults(settings: Settings, found: Findings) -> dict[Category, EquipmentFields]:
    known = {c.value: c for c in Category if c is not Category.INTERNET}
    result: dict[Category, EquipmentFields] = {}
    for name, table in settings.table("defaults", found.faults).items():
        place = settings.place(f"defaults.{name}")
        if name not in known or not isinstance(table, dict):
            found.faults.append(place.fault("is not a category", f"write one of: {', '.join(known)}"))
            continue
        cells = found.cells(table, MEMBER_COLUMNS, place)
        fields, faults = read_record(EquipmentFields, MEMBER_COLUMNS, cells, place)
        found.faults += faults
        if fields is not None:
            result[known[name]] = fields
    return result


def _channels(settings: Settings, found: Findings) -> tuple[Channel, ...]:
    channels: list[Channel] = []
    tables = settings.tables_named("channels", found.faults)
    if not tables and "channels" not in settings.tables:
        found.faults.append(
            Fault(
                "there is no simplex channel",
                "add [[channels]] with frequency_mhz = 146.52, say",
                file=settings.file,
            )
        )
    for path, table in tables:
        place = settings.place(path)
        cells = found.cells(table, CHANNEL_COLUMNS, place)
        fields, faults = read_record(_ChannelFields, CHANNEL_COLUMNS, cells, place)
        found.faults += faults
        if fields is None:
            continue
        name = fields.name or f"{fields.frequency:.10g} MHz"
        if any(name.lower() == other.name.lower() for other in channels):
            found.faults.append(
                place.fault(
                    f"there are two channels called {quoted(name)}", "give each its own name", heading="name"
                )
            )
        channels.append(Channel(name, fields.frequency, fields.deviation, fields.polarisation))
    return tuple(channels)


def _terrain(
    settings: Settings, found: Findings, folder: Path
) -> tuple[tuple[str, ...], str | None, tuple[tuple[str, float], ...], str, Surface]:
    """(terrain folders, land-cover raster, clutter heights, elevation unit, surface), paths absolute."""
    place = settings.place("terrain")
    table = dict(settings.table("terrain", found.faults))
    folders = table.pop("folders", None)
    heights = table.pop("clutter_heights_m", {})
    cells = found.cells(table, TERRAIN_COLUMNS, place)
    fields, faults = read_record(_TerrainFields, TERRAIN_COLUMNS, cells, place)
    found.faults += faults
    fields = fields or _TerrainFields()
    if folders is None:
        folders = [DEFAULT_TERRAIN_FOLDER]
        found.assumed.append(f"elevation tiles in the folder {DEFAULT_TERRAIN_FOLDER}")
    elif isinstance(folders, str):
        folders = [folders]
    absolute: list[str] = []
    if not isinstance(folders, list) or not folders or not all(isinstance(f, str) for f in folders):
        found.faults.append(
            place.fault("is not a list of folders", 'write folders = ["terrain"]', heading="folders")
        )
    else:
        for name in folders:
            path = _below(folder, name)
            if path is None:
                found.faults.append(
                    place.fault(
                        f"{quoted(name)} is not the name of a folder", "correct it", heading="folders"
                    )
                )
            else:
                absolute.append(str(path))
    land_cover: str | None = None
    if fields.land_cover is not None:
        path = _below(folder, fields.land_cover)
        if path is None or not path.exists():
            found.faults.append(
                place.fault(
                    f"there is no file {quoted(fields.land_cover)}", "check the name", heading="land_cover"
                )
            )
        else:
            land_cover = str(path)
    clutter = _clutter_heights(heights, settings, found)
    return tuple(absolute), land_cover, clutter, fields.elevation_unit, fields.surface


def _below(folder: Path, name: str) -> Path | None:
    """A path of net.toml, from the net's folder when relative; None when no path at all."""
    try:
        return (folder / clean_text(name)).resolve()
    except (InputProblem, OSError, ValueError):
        return None


def _clutter_heights(heights: object, settings: Settings, found: Findings) -> tuple[tuple[str, float], ...]:
    place = settings.place("terrain.clutter_heights_m")
    if not isinstance(heights, dict):
        found.faults.append(
            place.fault("is not a table", "write [terrain.clutter_heights_m] with code = height lines")
        )
        return ()
    result: list[tuple[str, float]] = []
    for code, value in heights.items():
        try:
            if isinstance(value, bool) or not isinstance(value, (int, float, str)):
                raise refuse("is not a height", "write metres, e.g. 12")
            result.append((str(code), q.parse_height_m(str(value), "m")))
        except InputProblem as problem:
            found.faults += [place.located(fault, heading=str(code)) for fault in problem.faults]
    return tuple(result)

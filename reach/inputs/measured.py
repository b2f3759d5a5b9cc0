"""A table of measured paths: who has a measurement campaign can hold the models against it.

    latitude_1,longitude_1,height_1_m,latitude_2,longitude_2,height_2_m,frequency_mhz,loss_db
or, in place of loss_db, level_dbm with power and the gains of both antennas (0 dBi where not said).
"""  # fmt: skip

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.columns import Cell, Column, Place, clean_text, column_for, read_record
from reach.inputs.csv_records import csv_records
from reach.inputs.equipment_cells import parse_land
from reach.inputs.locators import parse_position
from reach.inputs.quantities import refuse
from reach.inputs.text_files import read_text_file
from reach.stations import Land, Position

_LEVEL = replace(q.LOSS, what="a level", example="-97 dBm", units={"dBm": float}, internal="dBm",
                 bare_unit="dBm", lowest=-200.0, highest=60.0)  # fmt: skip
_PATH_LOSS = replace(q.LOSS, what="a path loss", example="132 dB", lowest=0.0, highest=300.0)

COLUMNS: tuple[Column, ...] = (
    Column("name", None, ("path",)),
    Column("latitude_1", None, ("lat_1", "tx_latitude"), missing="write degrees"),
    Column("longitude_1", None, ("lon_1", "tx_longitude"), missing="write degrees"),
    Column("height_1", q.ANTENNA_HEIGHT, ("tx_height",), missing="write the antenna's height above ground"),
    Column("latitude_2", None, ("lat_2", "rx_latitude"), missing="write degrees"),
    Column("longitude_2", None, ("lon_2", "rx_longitude"), missing="write degrees"),
    Column("height_2", q.ANTENNA_HEIGHT, ("rx_height",), missing="write the antenna's height above ground"),
    Column("frequency", q.FREQUENCY, missing="write MHz"),
    Column("loss", _PATH_LOSS, ("path_loss",)),
    Column("level", _LEVEL, ("received",)),
    Column("power", q.POWER, ("tx_power",)),
    Column("gain_1", q.GAIN, ("tx_gain",)),
    Column("gain_2", q.GAIN, ("rx_gain",)),
    Column("line_losses", q.LOSS, ("losses",)),
    Column("land_1", None, (), lambda c: parse_land(c.text)),
    Column("land_2", None, (), lambda c: parse_land(c.text)),
)


@dataclass(frozen=True, kw_only=True)
class _Row:
    latitude_1: str
    longitude_1: str
    height_1: float
    latitude_2: str
    longitude_2: str
    height_2: float
    frequency: float
    name: str = ""
    loss: float | None = None
    level: float | None = None
    power: float | None = None
    gain_1: float = 0.0
    gain_2: float = 0.0
    line_losses: float = 0.0
    land_1: Land | None = None
    land_2: Land | None = None


@dataclass(frozen=True)
class MeasuredPath:
    """One measurement. loss_db : between isotropic antennas (ITU-R P.341). land : what stands at an end."""

    row: int
    name: str
    first: Position
    second: Position
    first_height_m: float
    second_height_m: float
    frequency_mhz: float
    loss_db: float
    first_land: Land | None = None
    second_land: Land | None = None


def read_measured(path: Path) -> tuple[tuple[MeasuredPath, ...], tuple[Fault, ...]]:
    """Good rows and the faults of the others. Raises : InputProblem where the file as a whole is none."""
    return parse_measured(read_text_file(path), file=path.name)


def parse_measured(text: str, *, file: str) -> tuple[tuple[MeasuredPath, ...], tuple[Fault, ...]]:
    """As `read_measured`, of a text."""
    faults: list[Fault] = []
    found: list[MeasuredPath] = []
    columns: list[tuple[Column, str, str] | None] | None = None
    for row, cells in csv_records(text, file=file, faults=faults):
        if columns is None:
            columns = []
            for heading in cells:
                known = column_for(heading, COLUMNS)
                columns.append(None if known is None else (known[0], known[1], heading))
            continue
        place = Place(file, row)
        given: dict[str, Cell] = {}
        for known_column, cell in zip(columns, cells):
            if known_column is not None and (said := clean_text(cell)):
                column, unit, heading = known_column
                given[column.name] = Cell(said, heading, unit)
        record, wrong = read_record(_Row, COLUMNS, given, place)
        faults += wrong
        if record is None:
            continue
        try:
            found.append(_measured(record, row))
        except InputProblem as problem:
            faults += [place.located(fault, heading="") for fault in problem.faults]
    if columns is None:
        raise InputProblem(Fault("is empty", "start with a heading row; `--help` shows it", file=file))
    if not found:
        fault = Fault("holds no measurement that can be used", "see the faults", file=file)
        raise InputProblem([*faults, fault])
    return tuple(found), tuple(faults)


def _measured(row: _Row, number: int) -> MeasuredPath:
    if (row.loss is None) == (row.level is None):
        raise refuse("gives neither a loss nor a level, or both", "write one of them")
    if row.level is not None and row.power is None:
        raise refuse("gives a level without the power", "write power, or the loss itself")
    loss_db = row.loss
    if loss_db is None:
        assert row.power is not None and row.level is not None
        loss_db = row.power + row.gain_1 + row.gain_2 - row.line_losses - row.level
    first = parse_position(f"{row.latitude_1}, {row.longitude_1}")
    second = parse_position(f"{row.latitude_2}, {row.longitude_2}")
    if not math.isfinite(loss_db) or first == second:
        raise refuse("has both ends at one place", "check the positions")
    return MeasuredPath(
        number, row.name, first, second, row.height_1, row.height_2, row.frequency, loss_db,
        row.land_1, row.land_2,
    )  # fmt: skip

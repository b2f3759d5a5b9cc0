"""Results for machines: CSV that no spreadsheet runs, JSON with the unit in every key."""

from __future__ import annotations

import csv
import dataclasses
import io
import json
import math
from collections.abc import Iterable, Mapping, Sequence
from enum import Enum
from pathlib import Path
from typing import Any

import numpy as np

from reach.links.network import DirectedLink, RepeaterNetwork, SimplexNetwork
from reach.links.outcome import RepeaterOutcome, repeater_outcome
from reach.links.s_meter import s_reading
from reach.units import dbm_to_microvolts

Cell = str | float | int | bool | None
_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


@dataclasses.dataclass(frozen=True)
class Sheet:
    """A table for a spreadsheet: column headings with units, and rows of the same length."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    def csv_text(self) -> str:
        """The sheet as CSV; see `csv_text`."""
        return csv_text(self.rows, self.columns)


def csv_text(rows: Iterable[Sequence[Cell]], columns: Sequence[str]) -> str:
    """Rows as CSV after RFC 4180, with the heading line.

    Text that a spreadsheet would take for a formula gets an apostrophe in front. Numbers keep at most six
    decimals; NaN, infinity and None are empty cells; truth values are yes and no.
    Raises : ValueError when a row is not as long as the heading.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow([_csv_cell(name) for name in columns])
    for count, row in enumerate(rows, start=1):
        if len(row) != len(columns):
            raise ValueError(f"row {count} has {len(row)} cells under {len(columns)} headings")
        writer.writerow([_csv_cell(cell) for cell in row])
    return out.getvalue()


def _csv_cell(cell: Cell) -> str:
    if cell is None:
        return ""
    if isinstance(cell, (bool, np.bool_)):
        return "yes" if cell else "no"
    if isinstance(cell, (int, np.integer)):
        return str(int(cell))
    if isinstance(cell, (float, np.floating)):
        value = round(float(cell), 6)
        return repr(value + 0.0) if math.isfinite(value) else ""
    text = cell.replace("\x00", "")
    return (
        f"'{text}"
        if text.lstrip(" ").startswith(_FORMULA_STARTS) or text.startswith(_FORMULA_STARTS)
        else text
    )


def json_text(value: Any) -> str:
    """Any result record as JSON: field order kept, NaN and infinity as null, arrays as lists, enums as words.

    Raises : TypeError for a kind of object that has no JSON form.
    """
    return json.dumps(_plain(value), ensure_ascii=False, indent=2, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, Enum):
        return value.value if isinstance(value.value, str) else value.name.lower()
    if isinstance(value, np.generic):
        return _plain(value.item())
    if isinstance(value, int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: _plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, Mapping):
        return {_key(key): _plain(item) for key, item in value.items()}
    if isinstance(value, (set, frozenset)):
        return [_plain(item) for item in sorted(value)]
    if isinstance(value, (list, tuple)):
        return [_plain(item) for item in value]
    if isinstance(value, Path):
        return str(value)
    raise TypeError(f"{type(value).__name__} has no JSON form")


def _key(key: Any) -> str:
    plain = _plain(key)
    if not isinstance(plain, (str, int)):
        raise TypeError(f"{type(key).__name__} cannot be a JSON key")
    return str(plain)


_LINK_COLUMNS = (
    "frequency_mhz",
    "distance_km",
    "bearing_deg",
    "path_loss_db",
    "received_dbm",
    "received_uv",
    "s_meter",
    "margin_over_workable_db",
    "chance",
    "grade",
    "readability",
    "line_of_sight",
    "fresnel_clearance",
)


def _link_cells(link: DirectedLink) -> tuple[Cell, ...]:
    return (
        link.frequency_mhz,
        link.distance_m / 1000.0,
        link.bearing_deg,
        link.path_loss_db,
        link.received_dbm,
        float(dbm_to_microvolts(link.received_dbm)),
        s_reading(link.received_dbm, frequency_mhz=link.frequency_mhz),
        link.margin_db,
        link.chance,
        link.grade.word,
        link.grade.readability,
        link.line_of_sight,
        link.fresnel_clearance,
    )


def simplex_sheet(network: SimplexNetwork) -> Sheet:
    """One row a direction: `station` hears `talker`. Pairs without a radio path are left out."""
    rows = []
    for rx in network.call_signs:
        for tx in network.call_signs:
            if tx != rx:
                link = network.link(tx, rx)
                if math.isfinite(link.margin_db):
                    rows.append((rx, tx, *_link_cells(link)))
    return Sheet(("station", "hears", *_LINK_COLUMNS), tuple(rows))


def path_sheet(there: DirectedLink, back: DirectedLink) -> Sheet:
    """Two rows, one a direction: `station` hears `talker`."""
    rows = tuple((link.rx, link.tx, *_link_cells(link)) for link in (there, back))
    return Sheet(("station", "hears", *_LINK_COLUMNS), rows)


def repeater_sheet(network: RepeaterNetwork) -> Sheet:
    """One row a member: outcome, then both directions. Members without a radio path come last."""
    outcomes = {
        RepeaterOutcome.GETS_IN_AND_HEARS: "gets in and hears",
        RepeaterOutcome.HEARS_ONLY: "hears only",
        RepeaterOutcome.GETS_IN_ONLY: "gets in only",
        RepeaterOutcome.NEITHER: "neither",
    }
    columns = (
        "station",
        "repeater",
        "outcome",
        *(f"talk_in_{name}" for name in _LINK_COLUMNS),
        *(f"talk_out_{name}" for name in _LINK_COLUMNS),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            member.call_sign,
            network.repeater.call_sign,
            outcomes[repeater_outcome(member)],
            *_link_cells(member.talk_in),
            *_link_cells(member.talk_out),
        )
        for member in network.members
    ]
    blanks: tuple[Cell, ...] = (None,) * (2 * len(_LINK_COLUMNS))
    rows += [(call, network.repeater.call_sign, "no radio path", *blanks) for call in network.no_radio]
    return Sheet(columns, tuple(rows))

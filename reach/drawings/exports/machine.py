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

from reach.answers.record import Answer
from reach.answers.share import audience_words, shared_figures
from reach.answers.sheet import Cell, Sheet
from reach.drawings.style.cautions import EMERGENCY, PROMISE

_FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")


def sheet_csv(sheet: Sheet) -> str:
    """An answer's rows as CSV; see `csv_text`."""
    return csv_text(sheet.rows, sheet.columns)


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


def answer_json(answer: Answer) -> str:
    """An answer as JSON: its figures, what was assumed, what to beware of, and the caution."""
    figures = _plain(answer.figures)
    return json_text(
        {
            "net": answer.net.name,
            "audience": audience_words(answer.net),
            "answers": shared_figures(figures) if answer.net.shared_square_m else figures,
            "assumed": answer.assumed,
            "warnings": answer.warnings,
            "caution": f"{PROMISE} {EMERGENCY}",
        }
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

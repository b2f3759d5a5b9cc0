"""Rows for machines: a table with its headings, as an answer carries it. How it is written is a drawing's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

Cell = str | float | int | bool | None


@dataclass(frozen=True)
class Sheet:
    """A table for a spreadsheet: column headings with units, and rows of the same length."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]

    @property
    def records(self) -> tuple[dict[str, Cell], ...]:
        """One mapping a row, by heading."""
        return tuple(dict(zip(self.columns, row)) for row in self.rows)


def one_sheet(sheets: Sequence[Sheet]) -> Sheet:
    """Sheets of the same columns, one below the other; at least one."""
    return Sheet(sheets[0].columns, tuple(row for sheet in sheets for row in sheet.rows))

"""Rows for machines: a table with its headings, as an answer carries it. How it is written is a drawing's."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import overload

Cell = str | float | int | bool | None
Row = tuple[Cell, ...]


class LateRows(Sequence[Row]):
    """Rows that are made when somebody reads them: a net of 200 has 40,000, two seconds' work for a screen
    that shows none of them."""

    def __init__(self, make: Callable[[], Sequence[Row]]) -> None:
        self._make = make

    @cached_property
    def _made(self) -> tuple[Row, ...]:
        return tuple(self._make())

    @overload
    def __getitem__(self, index: int) -> Row: ...
    @overload
    def __getitem__(self, index: slice) -> Sequence[Row]: ...
    def __getitem__(self, index: int | slice) -> Row | Sequence[Row]:
        return self._made[index]

    def __len__(self) -> int:
        return len(self._made)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Sequence) and self._made == tuple(other)

    def __hash__(self) -> int:
        return hash(self._made)


@dataclass(frozen=True)
class Sheet:
    """A table for a spreadsheet: column headings with units, and rows of the same length."""

    columns: tuple[str, ...]
    rows: Sequence[Row]

    @property
    def records(self) -> tuple[dict[str, Cell], ...]:
        """One mapping a row, by heading."""
        return tuple(dict(zip(self.columns, row)) for row in self.rows)


def one_sheet(sheets: Sequence[Sheet]) -> Sheet:
    """Sheets of the same columns, one below the other; at least one."""
    return Sheet(sheets[0].columns, tuple(row for sheet in sheets for row in sheet.rows))

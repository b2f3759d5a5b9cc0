"""Faults, warnings and assumptions of a whole folder, gathered while it is read."""

from __future__ import annotations

from collections.abc import Mapping

from reach.errors import Fault
from reach.inputs.columns import Cell, Column, Place, table_cells


class Findings:
    """Lists that the readers of a folder's parts add to."""

    def __init__(self) -> None:
        self.faults: list[Fault] = []
        self.warnings: list[str] = []
        self.assumed: list[str] = []

    def cells(
        self, table: Mapping[str, object], columns: tuple[Column, ...], place: Place
    ) -> dict[str, Cell]:
        """The cells of a settings table; what is wrong with it is noted here."""
        cells, warnings, faults = table_cells(table, columns, place)
        self.warnings += warnings
        self.faults += faults
        return cells

"""From headings and keys as people write them to the names used here, with units and nearest spellings.

A heading such as "Antenna height (ft)" or `antenna_height_ft` is a column's name followed by a unit. Keys of
net.toml are read the same way, so that one table of names serves both files. The table also says how a cell
is read and what to do when a needed one is left out: a record's fields are filled from it.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Callable, Container, Iterable, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar, cast

from reach.errors import Fault, InputProblem
from reach.inputs.quantities import Quantity, quoted
from reach.lists import nearest

Record = TypeVar("Record")

_LONGEST_CELL = 1000
_SPREADSHEET_ERROR = re.compile(r"#(N/A|REF!|NAME\?|VALUE!|DIV/0!|NUM!|NULL!|SPILL!|CALC!)")
# marks that reorder or hide text around them: a name could show as another one
_DECEIVING = frozenset(
    "\u061c\u200b\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2060\u2066\u2067\u2068\u2069\ufeff"
)


@dataclass(frozen=True)
class Cell:
    """A text as typed under its heading; unit : what the heading says, empty when it says none."""

    text: str
    heading: str
    unit: str = ""


@dataclass(frozen=True)
class Column:
    """One column or key.

    quantity : None when it carries no unit; also : other headings accepted.
    reads : what a cell means, raising InputProblem; None reads the quantity, or the text as it is.
    missing : what to do when it is left out; empty when it may be.
    """

    name: str
    quantity: Quantity | None = None
    also: tuple[str, ...] = ()
    reads: Callable[[Cell], object] | None = None
    missing: str = ""

    def read(self, cell: Cell) -> object:
        """What a cell means. Raises : InputProblem, place still unknown."""
        if self.reads is not None:
            return self.reads(cell)
        return cell.text if self.quantity is None else self.quantity.parse(cell.text, cell.unit)

    def headings(self) -> tuple[str, ...]:
        """Every heading worth suggesting."""
        units = self.quantity.units if self.quantity else ()
        return (self.name, *self.also, *(f"{self.name}_{unit.lower()}" for unit in units))


@dataclass(frozen=True)
class Place:
    """Where a fault is, apart from its column: a row of a table, or a table of a settings file.

    prefix : 'repeaters[1].' before a key; empty for the rows of a spreadsheet, whose headings are columns.
    lines : line numbers by key where they are known.
    """

    file: str
    row: int | None = None
    prefix: str | None = None
    lines: Mapping[str, int] | None = None

    def fault(self, problem: str, fix: str = "", *, heading: str = "") -> Fault:
        """A fault here."""
        if self.prefix is None:
            return Fault(problem, fix, file=self.file, row=self.row, column=shown_name(heading))
        row = (self.lines or {}).get(heading, self.row)
        key = f"{self.prefix}{heading}" if heading else self.prefix.rstrip(".")
        return Fault(problem, fix, file=self.file, row=row, key=shown_name(key))

    def located(self, fault: Fault, *, heading: str) -> Fault:
        """The same fault with its place filled in; a heading it already names is kept."""
        return replace(self.fault(fault.problem, fault.fix, heading=fault.column or heading))


def shown_name(text: str) -> str:
    """A heading or key for a message: on one line, at most 60 characters, nothing that a terminal obeys."""
    shown = "".join(c if c.isprintable() else "?" for c in text.strip())
    return shown if len(shown) <= 60 else shown[:57] + "..."


def heading_key(text: str) -> str:
    """Lower-case words joined by underscores, e.g. 'antenna_height_ft'."""
    return re.sub(r"[^0-9a-zµ]+", "_", text.strip().lower().replace("μ", "µ")).strip("_")


def column_for(heading: str, columns: Iterable[Column]) -> tuple[Column, str] | None:
    """The column a heading means and the unit it names (or ''); None when it is no known heading."""
    key = heading_key(heading)
    best: tuple[Column, str] | None = None
    for column in columns:
        for name in (column.name, *column.also):
            if key == name:
                return column, ""
            if column.quantity and key.startswith(name + "_"):
                unit = column.quantity.unit_named(key[len(name) + 1 :].replace("_", ""))
                if unit:
                    best = column, unit
    return best


def nearest_heading(heading: str, columns: Iterable[Column]) -> str:
    """The known heading closest in spelling, or '' when none is close."""
    known = [name for column in columns for name in column.headings()]
    return nearest(heading_key(heading), known)


def unknown_heading_warning(heading: str, columns: Iterable[Column], place: Place) -> str:
    """One sentence: the heading is ignored, and which known one it may be meant to be."""
    near = nearest_heading(heading, columns)
    meant = f"did you mean {near}?" if near else "no known name is close."
    where = f"column {shown_name(heading)}" if place.prefix is None else shown_name(place.prefix + heading)
    return f"{place.file}, {where} is not a name known here and is ignored; {meant}"


def clean_text(text: str) -> str:
    """Text on one line, single spaces. Raises : InputProblem for control and text-reordering characters."""
    tidy = re.sub(r"[ \t\r\n\u00a0]+", " ", text).strip()
    for character in tidy:
        if unicodedata.category(character) in ("Cc", "Cs") or character in _DECEIVING:
            raise InputProblem(
                Fault(
                    f"{quoted(tidy)} holds the control character U+{ord(character):04X}",
                    "type the text again",
                )
            )
    if _SPREADSHEET_ERROR.fullmatch(tidy):
        raise InputProblem(
            Fault(f"{quoted(tidy)} is a spreadsheet's own error", "mend its formula or type the value")
        )
    if len(tidy) > _LONGEST_CELL:
        raise InputProblem(
            Fault(f"has {len(tidy)} characters; at most {_LONGEST_CELL} are read", "shorten it")
        )
    return tidy


def table_cells(
    table: Mapping[str, object], columns: Iterable[Column], place: Place
) -> tuple[dict[str, Cell], list[str], list[Fault]]:
    """The scalar values of a settings table as cells by column name, with warnings and faults.

    Numbers and yes/no values are turned into their text, so that one set of readers serves both files.
    """
    columns = tuple(columns)
    cells: dict[str, Cell] = {}
    warnings: list[str] = []
    faults: list[Fault] = []
    for key, value in table.items():
        found = column_for(key, columns)
        if found is None:
            warnings.append(unknown_heading_warning(key, columns, place))
            continue
        column, unit = found
        if isinstance(value, bool):
            text = "yes" if value else "no"
        elif isinstance(value, (str, int, float)):
            text = str(value)
        else:
            faults.append(
                place.fault(
                    "is a list, table or date where one value belongs", "write a single value", heading=key
                )
            )
            continue
        try:
            text = clean_text(text)
        except InputProblem as problem:
            faults += [place.located(fault, heading=key) for fault in problem.faults]
            continue
        if column.name in cells:
            faults.append(
                place.fault(
                    f"says the same as {cells[column.name].heading}", "keep one of the two", heading=key
                )
            )
        elif text:
            cells[column.name] = Cell(text, key, unit)
    return cells, warnings, faults


def read_record(
    kind: type[Record],
    columns: Iterable[Column],
    cells: Mapping[str, Cell],
    place: Place,
    *,
    headings: Mapping[str, str] | None = None,
    told: Container[str] = (),
) -> tuple[Record | None, list[Fault]]:
    """A record from the cells of the columns named as its fields, and every fault with its place.

    kind : a dataclass whose fields have defaults, but for those of columns that may not be left out.
    headings : column name -> heading as typed, where that differs and the cell is empty.
    told : columns whose absence has been told already.
    Returns : None for the record when a cell has a fault or a needed one is missing, told or not.
    """
    wanted = {field.name for field in fields(cast(Any, kind))}
    values: dict[str, object] = {}
    faults: list[Fault] = []
    incomplete = False
    for column in columns:
        if column.name not in wanted:
            continue
        cell = cells.get(column.name)
        if cell is not None:
            try:
                values[column.name] = column.read(cell)
            except InputProblem as problem:
                faults += [place.located(fault, heading=cell.heading) for fault in problem.faults]
        elif column.missing:
            incomplete = True
            if column.name not in told:
                heading = (headings or {}).get(column.name, column.name)
                faults.append(place.fault(f"{column.name} is missing", column.missing, heading=heading))
    if faults or incomplete:
        return None, faults
    return cast(Callable[..., Record], kind)(**values), []

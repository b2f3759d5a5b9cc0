"""net.toml as tables with line numbers, before any meaning is given to them."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.columns import Place, shown_name
from reach.inputs.quantities import quoted
from reach.inputs.text_files import read_text_file
from reach.inputs.toml_lines import TomlLines, toml_lines

NET_FILE = "net.toml"
LARGEST_BYTES = 1_000_000
MOST_KEYS = 1000  # in one table
MOST_ENTRIES = 5000  # in one list
MOST_LEVELS = 50
# reading dotted names takes a time that grows with the square of their levels
_TOO_DEEP = re.compile(rf"""((?:[A-Za-z0-9_-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{MOST_LEVELS},}}""")
TABLES = ("net", "terrain", "channels", "repeaters", "defaults", "planning", "schedule", "nets", "script")


@dataclass(frozen=True)
class Settings:
    """The tables of a net.toml. `lines` says where each key stands."""

    file: str
    tables: dict[str, object]
    lines: TomlLines

    def place(self, path: str) -> Place:
        """Where a table is, e.g. 'net', 'defaults.base', 'repeaters[1]'."""
        return Place(
            self.file, self.lines.tables.get(path), prefix=f"{path}.", lines=self.lines.keys.get(path, {})
        )

    def table(self, name: str, faults: list[Fault]) -> dict[str, object]:
        """A table by name, empty when absent; a value in its place is a fault."""
        value = self.tables.get(name, {})
        if isinstance(value, dict):
            return value
        faults.append(
            self.place(name).fault("is a value where a table belongs", f"write [{name}] on a line of its own")
        )
        return {}

    def tables_named(self, name: str, faults: list[Fault]) -> list[tuple[str, dict[str, object]]]:
        """The tables of an array as (path, table), e.g. ('repeaters[1]', {...}); counted from 1."""
        value = self.tables.get(name, [])
        if (
            isinstance(value, dict)
            or not isinstance(value, list)
            or not all(isinstance(v, dict) for v in value)
        ):
            faults.append(
                self.place(name).fault(
                    "is not a list of tables", f"write [[{name}]] in double brackets for each one"
                )
            )
            return []
        return [(f"{name}[{number}]", table) for number, table in enumerate(value, start=1)]


def read_settings(folder: Path) -> Settings:
    """The tables of FOLDER/net.toml. Raises : InputProblem when the folder or file is missing or no TOML."""
    if not folder.is_dir():
        raise InputProblem(
            Fault(f"there is no folder {folder}", "`reach new FOLDER` makes one to start from")
        )
    return parse_settings(read_text_file(folder / NET_FILE, largest_bytes=LARGEST_BYTES))


def parse_settings(text: str, *, file: str = NET_FILE) -> Settings:
    """The tables of a TOML text. Raises : InputProblem with the row of what is no TOML."""
    # a lone carriage return ends a line for an editor but not for TOML
    text = text.replace("\r\n", "\n")
    if deep := _TOO_DEEP.search(text):
        raise InputProblem(
            Fault(
                f"is nested more than {MOST_LEVELS} levels deep",
                "keep to the tables of the starter file",
                file=file,
                row=text.count("\n", 0, deep.start()) + 1,
            )
        )
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        message = str(error)
        found = re.search(r"\(at line (\d+), column (\d+)\)", message)
        row = int(found.group(1)) if found else None
        told = re.sub(r"\s*\(at .*\)$", "", message)
        if "end of document" in message:
            row = _row_left_open(text)
        shown = quoted(text.split("\n")[row - 1].strip()[:60]) if row else ""
        raise InputProblem(
            Fault(
                f"is not TOML here: {told[:1].lower()}{told[1:]}" + (f" ({shown})" if shown else ""),
                'write key = value, with text in "quotation marks"',
                file=file,
                row=row,
            )
        ) from None
    except RecursionError:
        raise InputProblem(
            Fault("is nested too deeply", "keep to the tables of the starter file", file=file)
        ) from None
    except ValueError as error:  # a date such as 2026-02-30, an integer of too many digits
        raise InputProblem(Fault(f"holds a value that cannot be read ({error})", file=file)) from None
    if absurd := _absurd(tables, "", 1):
        raise InputProblem(Fault(absurd, "keep to the tables of the starter file", file=file))
    return Settings(file, tables, toml_lines(text))


def _absurd(value: object, path: str, level: int) -> str:
    """What of a value has more levels, keys or entries than any net needs; empty when nothing has."""
    name = shown_name(path) or "it"
    if level > MOST_LEVELS:
        return f"{name} is nested more than {MOST_LEVELS} levels deep"
    if isinstance(value, dict):
        if len(value) > MOST_KEYS:
            return f"{name} has {len(value)} keys; at most {MOST_KEYS} are read"
        within = ((f"{path}.{key}".lstrip("."), item) for key, item in value.items())
    elif isinstance(value, list):
        if len(value) > MOST_ENTRIES:
            return f"{name} has {len(value)} entries; at most {MOST_ENTRIES} are read"
        within = ((path, item) for item in value)
    else:
        return ""
    found = (_absurd(item, where, level + 1) for where, item in within)
    return next((told for told in found if told), "")


def _row_left_open(text: str) -> int:
    """The row where a text is most likely left open: the last with an odd number of quotation marks."""
    lines = text.split("\n")
    filled = [row for row, line in enumerate(lines, start=1) if line.strip()]
    odd = [row for row in filled if any(lines[row - 1].count(mark) % 2 for mark in "\"'")]
    return (odd or filled or [1])[-1]

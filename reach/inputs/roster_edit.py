"""Changes written into roster.csv: only the cells they are about, every other byte as it was.

A change is worked out from a roster read at one moment and carries its digest; it is written only while the
file is still that one. The file before is kept beside it. Nothing is written that does not read back.
"""

from __future__ import annotations

import codecs
import csv
import datetime
import hashlib
import io
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reach.errors import Fault, InputProblem, OutputProblem
from reach.files import Existing, whole_file, write_bytes
from reach.inputs.columns import column_for
from reach.inputs.csv_records import csv_records, is_passed_over
from reach.inputs.quantities import refuse
from reach.inputs.roster import ROSTER_COLUMNS, ROSTER_FILE
from reach.inputs.text_files import decoded

KEPT = 20  # copies of earlier rosters
_ASPECT_COLUMNS = {
    "height": "antenna_height", "power": "power", "antenna": "antenna", "relay": "relay",
    "control": "control", "backup": "backup", "direction": "direction", "line": "feed_line",
}  # fmt: skip


@dataclass(frozen=True)
class CellChange:
    """One cell. row : as an editor counts; column : its heading as written."""

    call_sign: str
    row: int
    column: str
    before: str
    after: str

    @property
    def words(self) -> str:
        """'QK3ABC, antenna height m: 9 becomes 15'."""
        return f"{self.call_sign}, {self.column}: {self.before or 'empty'} becomes {self.after or 'empty'}"


@dataclass(frozen=True)
class RosterEdit:
    """What is to be written. digest : SHA-256 of the file it was worked out from."""

    digest: str
    changes: tuple[CellChange, ...]
    written: bytes


@dataclass(frozen=True)
class _Span:
    """A cell in the text: where it begins and ends, quotation marks included, and what it says."""

    start: int
    end: int
    text: str


def digest_of(raw: bytes) -> str:
    """SHA-256, in hexadecimal."""
    return hashlib.sha256(raw).hexdigest()


def roster_edit(raw: bytes, changes: Sequence[str]) -> RosterEdit:
    """Work out what changes such as "QK3ABC height 15 m" write into a roster.

    Raises : InputProblem for a change that no cell can hold, a column that is not there, or a file whose
    cells cannot be told apart without doubt.
    """
    text = decoded(raw, file=ROSTER_FILE)
    if _encoded(text, raw) != raw:
        raise refuse("roster.csv is encoded in a way that cannot be kept", "change it in your own editor")
    separator, records = _spans(text)
    _check_against_reader(text, records)
    heading, members = records[0][1], records[1:]
    at = _columns(heading)
    if "call_sign" not in at:
        raise refuse("roster.csv has no column call_sign")
    rows = {_cell(cells, at["call_sign"]).strip().upper(): (row, cells) for row, cells in members}
    wanted: dict[tuple[str, int], str] = {}
    for change in changes:
        for call, column, value in _cells_of(change, at):
            if call not in rows:
                raise refuse(f"{call} is not in roster.csv")
            wanted[call, column] = value
    made: list[CellChange] = []
    patches: list[tuple[_Span, str]] = []
    for (call, column), value in wanted.items():
        row, cells = rows[call]
        if column >= len(cells):
            fix = "fill the row up to its last column in your own editor first"
            raise refuse(f"the row of {call} ends before its column {heading[column].text}", fix)
        span = cells[column]
        if span.text.strip() != value:
            made.append(CellChange(call, row, heading[column].text.strip(), span.text.strip(), value))
            patches.append((span, _quoted(value, separator, was=text[span.start : span.end])))
    for span, patch in sorted(patches, key=lambda one: -one[0].start):
        text = text[: span.start] + patch + text[span.end :]
    return RosterEdit(digest_of(raw), tuple(made), _encoded(text, raw))


def write_edit(folder: Path, edit: RosterEdit, *, now: datetime.datetime) -> Path:
    """Write it, keeping the file before; returns where that is.

    Raises : InputProblem when the roster is no longer the one it was worked out from; OutputProblem.
    """
    place = (folder / ROSTER_FILE).resolve()  # through a link its target is written
    before = _still(place, edit)
    kept = place.with_name(f"{place.name}.before-{now:%Y-%m-%d-%H%M%S}")
    number = 1
    while kept.exists():
        number += 1
        kept = place.with_name(f"{place.name}.before-{now:%Y-%m-%d-%H%M%S}-{number}")
    write_bytes(kept, before)
    mode = place.stat().st_mode & 0o777
    with whole_file(place, Existing.REPLACE) as beside:
        beside.write_bytes(edit.written)
        if beside.read_bytes() != edit.written:
            raise OutputProblem(f"{place} did not read back as it was written; it was left alone.")
        _still(place, edit)
    place.chmod(mode)
    for old in sorted(place.parent.glob(f"{place.name}.before-*"))[:-KEPT]:
        old.unlink(missing_ok=True)
    return kept


def _still(place: Path, edit: RosterEdit) -> bytes:
    raw = place.read_bytes()
    if digest_of(raw) != edit.digest:
        fix = "look at it, then work out the change anew"
        raise InputProblem(Fault("was changed by somebody else meanwhile", fix, file=ROSTER_FILE))
    return raw


def _encoded(text: str, raw: bytes) -> bytes:
    """As the file was: its mark and its order of bytes."""
    for mark, name in ((codecs.BOM_UTF16_LE, "utf-16-le"), (codecs.BOM_UTF16_BE, "utf-16-be")):
        if raw.startswith(mark):
            return mark + text.encode(name)
    return (codecs.BOM_UTF8 if raw.startswith(codecs.BOM_UTF8) else b"") + text.encode("utf-8")


def _spans(text: str) -> tuple[str, list[tuple[int, list[_Span]]]]:
    """Separator, and (row, cells) of every record that is neither blank nor a comment, as `csv_records`."""
    lines = [(m.start(), m.group(0)) for m in re.finditer(r"[^\r\n]*(?:\r\n|\r|\n|$)", text) if m.group(0)]
    separator = ","
    records: list[tuple[int, list[_Span]]] = []
    at, first = 0, True
    while at < len(lines):
        start, line = lines[at]
        row, body = at + 1, line.rstrip("\r\n")
        if is_passed_over(body):
            at += 1
            continue
        if first:
            first = False
            if declared := re.fullmatch(r'"?sep=(.)"?', body.strip(" "), re.IGNORECASE):
                separator = declared.group(1)
                at += 1
                continue
            outside = re.sub(r'"[^"]*"', "", body)
            separator = max((",", ";", "\t"), key=outside.count)
        cells, end = _record(text, start, separator)
        records.append((row, cells))
        at = next((k for k, (begin, _) in enumerate(lines) if begin >= end), len(lines))
    if not records:
        raise refuse("roster.csv has no rows")
    return separator, records


def _record(text: str, start: int, separator: str) -> tuple[list[_Span], int]:
    """The cells of the record that begins there, and where the next line begins."""
    cells: list[_Span] = []
    at = start
    while True:
        begin = at
        while at < len(text) and text[at] == " " and separator != " ":
            at += 1
        if at < len(text) and text[at] == '"':
            at += 1
            while at < len(text) and (text[at] != '"' or text[at + 1 : at + 2] == '"'):
                at += 2 if text[at] == '"' else 1
            at += 1
        while at < len(text) and text[at] not in (separator, "\r", "\n"):
            at += 1
        said = text[begin:at].lstrip(" ")
        whole = said.startswith('"')
        cells.append(_Span(begin, at, said[1:-1].replace('""', '"') if whole else said))
        if at >= len(text) or text[at] != separator:
            while at < len(text) and text[at] in "\r\n":
                at += 1
                if text[at - 1] == "\n" or text[at : at + 1] != "\n":
                    break
            return cells, at
        at += 1


def _check_against_reader(text: str, records: list[tuple[int, list[_Span]]]) -> None:
    """Refuse where this reading and that of every plan differ in anything."""
    faults: list[Fault] = []
    read = list(csv_records(text, file=ROSTER_FILE, faults=faults))
    ours = [(row, [_unix(cell.text) for cell in cells]) for row, cells in records]
    ours = [one for one in ours if any(cell.strip() for cell in one[1])]
    if faults or [(row, [_unix(cell) for cell in cells]) for row, cells in read] != ours:
        raise refuse("the cells of roster.csv cannot be told apart without doubt", "change it in your editor")


def _unix(text: str) -> str:
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _columns(heading: Sequence[_Span]) -> Mapping[str, int]:
    """Column of the roster -> its place; a name that stands there twice is none."""
    found: dict[str, list[int]] = {}
    for place, span in enumerate(heading):
        if (known := column_for(span.text, ROSTER_COLUMNS)) is not None:
            found.setdefault(known[0].name, []).append(place)
    return {name: places[0] for name, places in found.items() if len(places) == 1}


def _cell(cells: Sequence[_Span], column: int) -> str:
    return cells[column].text if column < len(cells) else ""


def _cells_of(change: str, at: Mapping[str, int]) -> list[tuple[str, int, str]]:
    """(call sign, column, value) of each cell that a change is about."""
    words = change.split()
    call, aspect, value = words[0].upper(), words[1].lower() if len(words) > 1 else "", " ".join(words[2:])
    if aspect == "place":
        if "latitude" in at and "longitude" in at:
            numbers = re.fullmatch(r"([-+0-9.]+)\s*,\s*([-+0-9.]+)", value)
            if numbers is None:
                raise refuse(f'"{change}": write latitude and longitude in degrees')
            return [(call, at["latitude"], numbers[1]), (call, at["longitude"], numbers[2])]
        return [(call, _there("position", at, change), value)]
    if aspect not in _ASPECT_COLUMNS:
        raise refuse(f'"{change}" is of tonight only', "it cannot be written into the roster")
    return [(call, _there(_ASPECT_COLUMNS[aspect], at, change), value)]


def _there(name: str, at: Mapping[str, int], change: str) -> int:
    if name not in at:
        raise refuse(f'roster.csv has no column for "{change}"', f"add a column {name} to it first")
    return at[name]


def _quoted(value: str, separator: str, *, was: str) -> str:
    """A cell as a spreadsheet writes it; blanks before the cell and its quotation marks stay."""
    blank = was[: len(was) - len(was.lstrip(" "))]
    out = io.StringIO()
    if was.lstrip(" ").startswith('"'):
        csv.writer(out, delimiter=separator, quoting=csv.QUOTE_ALL, lineterminator="").writerow([value])
    elif value:
        csv.writer(out, delimiter=separator, lineterminator="").writerow([value])
    return blank + out.getvalue()

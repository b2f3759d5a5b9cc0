"""Spreadsheets saved as CSV: separator found, blanks and comments passed over, rows as an editor counts."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator

from reach.errors import Fault

# a note starts with #; a lone # heads a column of numbers, and a spreadsheet's own errors start with it too
_NOTE = re.compile(r'\s*"?#(?![,;\t"]|N/A|REF!|NAME\?|VALUE!|DIV/0!|NUM!|NULL!|SPILL!|CALC!)')


def is_passed_over(line: str) -> bool:
    """Whether a line is blank or a comment."""
    return not line.strip() or _NOTE.match(line) is not None


def csv_records(text: str, *, file: str, faults: list[Fault]) -> Iterator[tuple[int, list[str]]]:
    """(row number, cells) of every record that is neither blank nor a comment; a broken quotation ends it."""
    lines = re.split(r"\r\n|\r|\n", text)
    at = 0
    start = 0
    between_records = True

    def feed() -> Iterator[str]:
        nonlocal at, between_records, start
        while at < len(lines):
            line = lines[at]
            at += 1
            if between_records:
                if is_passed_over(line):
                    continue
                between_records = False
                start = at
            yield line + "\n"

    separator = ","
    for index, line in enumerate(lines):
        if is_passed_over(line):
            continue
        if declared := re.fullmatch(r'"?sep=(.)"?', line.strip(" "), re.IGNORECASE):
            separator = declared.group(1)
            lines[index] = ""
            break
        outside_quotes = re.sub(r'"[^"]*"', "", line)
        separator = max((",", ";", "\t"), key=outside_quotes.count)
        break
    reader = csv.reader(feed(), delimiter=separator, strict=True, skipinitialspace=True)
    while True:
        between_records = True
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            if "field larger" in str(error):
                limit = csv.field_size_limit()
                faults.append(
                    Fault(
                        f"a cell is longer than {limit} characters",
                        "check its quotation marks; rows below were not read",
                        file=file,
                        row=start,
                    )
                )
                return
            faults.append(
                Fault(
                    "a quotation mark is opened and not closed, or closed amid a cell",
                    "double the quotation marks that belong to the text; rows below were not read",
                    file=file,
                    row=start,
                )
            )
            return
        if any(cell.strip() for cell in cells):
            yield start, cells

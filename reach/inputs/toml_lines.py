"""Line numbers of the keys of a TOML text, so that a fault can say where it is; tomllib keeps none."""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass, field

_TABLE = re.compile(r"^\s*(\[\[?)\s*([^\[\]]+?)\s*\]\]?\s*(#.*)?$")
_KEY = re.compile(r"^\s*(\"[^\"]*\"|'[^']*'|[A-Za-z0-9_\-]+)\s*=")


@dataclass
class TomlLines:
    """For each table path, as 'net' or 'repeaters[1]' (counted from 1), its own line and its keys' lines."""

    tables: dict[str, int] = field(default_factory=dict)
    keys: dict[str, dict[str, int]] = field(default_factory=lambda: defaultdict(dict))


def toml_lines(text: str) -> TomlLines:
    """The lines of the plain tables and keys of a TOML text; dotted and inline keys are left out."""
    lines = TomlLines()
    counts: dict[str, int] = defaultdict(int)
    table = ""
    within = ""  # the triple quote a multi-line string is waiting for
    for number, line in enumerate(text.splitlines(), start=1):
        if within:
            if within in line:
                within = ""
            continue
        if heading := _TABLE.match(line):
            name = re.sub(r"[\"'\s]", "", heading.group(2))
            if heading.group(1) == "[[":
                counts[name] += 1
                name = f"{name}[{counts[name]}]"
            table = name
            lines.tables.setdefault(table, number)
        elif key := _KEY.match(line):
            lines.keys[table].setdefault(key.group(1).strip("\"'"), number)
        for quote in ('"""', "'''"):
            if line.count(quote) % 2:
                within = quote
    return lines

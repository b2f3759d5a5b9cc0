"""Every column and key has its meaning on the reference page, and nothing stands there that is not read."""

from __future__ import annotations

import tomllib
from importlib.resources import files

import pytest

from reach.inputs.columns import column_for
from reach.inputs.reference import MEANINGS, sections
from reach.inputs.roster import ROSTER_COLUMNS


@pytest.mark.parametrize("number", range(len(MEANINGS)))
def test_meanings_and_columns_are_the_same(number: int) -> None:
    meanings, columns, beside = MEANINGS[number]
    assert {column.name for column in columns} | set(beside) == set(meanings)


def test_what_the_starter_writes_is_on_the_page() -> None:
    text = (files("reach.inputs") / "starter" / "net.toml").read_text(encoding="utf-8")
    shown = {section.title: {entry.name for entry in section.entries} for section in sections()}
    by_table = {title.strip("[]"): names for title, names in shown.items()}
    columns = {name: cols for name, (_, cols, _) in zip(
        ("roster", "net", "terrain", "channels", "repeaters", "defaults", "planning", "schedule"), MEANINGS
    )}  # fmt: skip
    for table, value in tomllib.loads(text).items():
        for block in value if isinstance(value, list) else [value]:
            for key in block:
                found = column_for(key, columns[table])
                assert (found[0].name if found else key) in by_table[table], f"{table}.{key}"


def test_needed_columns_are_marked() -> None:
    needed = {entry.name for entry in sections()[0].entries if entry.needed}
    assert needed == {column.name for column in ROSTER_COLUMNS if column.missing} == {"call_sign", "category"}

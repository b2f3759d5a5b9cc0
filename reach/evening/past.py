"""Evenings of a folder that are over, as their journals tell them."""

from __future__ import annotations

import datetime
import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path

from reach.errors import OutputProblem
from reach.evening.fold import Evening, fold
from reach.evening.journal import FOLDER, events_of


def past_evenings(folder: Path, *, days: int) -> Iterator[tuple[datetime.date, Evening]]:
    """(day, evening), in order; a file that is no journal is passed over.

    days : how far back from the newest one. Nothing is locked or changed: files are read as they lie, so
    one that is open lacks its newest events.
    """
    found: dict[datetime.date, Path] = {}
    for place in (folder / FOLDER).glob("????-??-??.sqlite"):
        with suppress(ValueError):  # named like a day that there is not
            found[datetime.date.fromisoformat(place.stem)] = place
    for day, place in sorted(found.items()):
        if (max(found) - day).days > days:
            continue
        try:
            with closing(sqlite3.connect(f"{place.resolve().as_uri()}?immutable=1", uri=True)) as connection:
                yield day, fold(events_of(connection, place))
        except (sqlite3.Error, OutputProblem):
            continue

"""What the commands hand to machines and say in common: answers as records, sheets joined, defaults told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reach.answers.sheet import Cell, Sheet
from reach.drawings.style.cautions import EMERGENCY, PROMISE
from reach.links.assumed import assumed_in_short, assumed_notes

__all__ = [
    "NetAnswer",
    "PathAnswer",
    "RepeaterAnswer",
    "assumed_in_short",
    "assumed_notes",
    "one_sheet",
    "records",
    "said_once",
]


@dataclass(frozen=True)
class NetAnswer:
    """The JSON a command writes: its answers, what was assumed, what to beware of."""

    net: str
    answers: Any
    assumed: tuple[str, ...]
    warnings: tuple[str, ...]
    caution: str = f"{PROMISE} {EMERGENCY}"


@dataclass(frozen=True)
class RepeaterAnswer:
    """One repeater: the answer in a sentence, then a record a member."""

    repeater: str
    headline: str
    members: tuple[dict[str, Cell], ...]
    no_radio_path: tuple[str, ...]


@dataclass(frozen=True)
class PathAnswer:
    """One path: the answer, clearance, both directions, every model and their spread, keep-away distances."""

    headline: str
    clearance: Any
    directions: tuple[dict[str, Cell], ...]
    budgets: Any
    models: Any
    models_spread: Any
    keep_away: Any


def said_once(*groups: Iterable[str]) -> tuple[str, ...]:
    """Warnings of several sources in their order, each sentence once."""
    return tuple(dict.fromkeys(sentence for group in groups for sentence in group))


def records(sheet: Sheet) -> tuple[dict[str, Cell], ...]:
    """A sheet as one mapping a row."""
    return tuple(dict(zip(sheet.columns, row)) for row in sheet.rows)


def one_sheet(sheets: Sequence[Sheet]) -> Sheet:
    """Sheets of the same columns, one below the other."""
    return Sheet(sheets[0].columns, tuple(row for sheet in sheets for row in sheet.rows))

"""What the commands hand to machines and say in common: answers as records, sheets joined, defaults told."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from reach.drawings.exports.machine import Cell, Sheet
from reach.drawings.style.cautions import EMERGENCY, PROMISE
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.notes import Note, texts

__all__ = [
    "BackupAnswer",
    "NetAnswer",
    "PathAnswer",
    "RepeaterAnswer",
    "SimplexAnswer",
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
class SimplexAnswer:
    """A simplex channel: the answer, the ranking of net controls, the relay plan, a record a direction."""

    channel: str
    frequency_mhz: float
    headline: str
    controls: Any
    plan: Any
    links: tuple[dict[str, Cell], ...]


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


@dataclass(frozen=True)
class BackupAnswer:
    """The backup plan: for each case a sentence, a plan, remedies and batteries that help; single losses."""

    channel: str
    headlines: tuple[str, ...]
    cases: Any
    remedies: Any
    batteries_more: Any
    single_losses: Any


def said_once(*groups: Iterable[Note | str]) -> tuple[str, ...]:
    """Warnings of several sources in their order, each sentence once."""
    return texts(*groups)


def records(sheet: Sheet) -> tuple[dict[str, Cell], ...]:
    """A sheet as one mapping a row."""
    return tuple(dict(zip(sheet.columns, row)) for row in sheet.rows)


def one_sheet(sheets: Sequence[Sheet]) -> Sheet:
    """Sheets of the same columns, one below the other."""
    return Sheet(sheets[0].columns, tuple(row for sheet in sheets for row in sheet.rows))

"""What every answer carries beside its own results."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from reach.answers.sheet import Sheet
from reach.stations import Net


@dataclass(frozen=True, kw_only=True)
class Answer:
    """The part all answers share.

    headline : the answer in one sentence.
    assumed : every default it stands on, with those it was taken for; in_short : the same, long lists cut.
    warnings : what to beware of, each sentence once.
    rows : the result as a table for a spreadsheet.
    """

    net: Net
    headline: str
    assumed: tuple[str, ...]
    in_short: tuple[str, ...]
    warnings: tuple[str, ...]
    rows: Sheet

    @property
    def figures(self) -> Any:
        """The result as records and plain values, for JSON."""
        raise NotImplementedError


def said_once(*groups: Iterable[str]) -> tuple[str, ...]:
    """Sentences of several sources in their order, each once."""
    return tuple(dict.fromkeys(sentence for group in groups for sentence in group))

"""The errors this package raises on purpose: each says what is wrong, where, and what to do."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from reach.visible import shortened_words, visible


class ReachError(Exception):
    """Root of every error raised on purpose; its text is fit to show to a user as it is."""


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one place of a user's input.

    problem : the value as typed and what is wrong with it, e.g. '"35 fee" is not a length'.
    fix     : what to do, e.g. 'write 35 ft or 10.7 m'. May be empty when the problem says it all.
    file    : file name as the user knows it; empty when the input was not a file.
    row     : line number as an editor shows it (header is row 1); None when it does not apply.
    column  : column heading, e.g. 'antenna_height_ft'.
    key     : key in a settings file, e.g. 'repeaters[1].tone_hz'; shown as it is.
    """

    problem: str
    fix: str = ""
    file: str = ""
    row: int | None = None
    column: str = ""
    key: str = ""

    def __str__(self) -> str:
        where = [self.file] if self.file else []
        if self.row is not None:
            where.append(f"row {self.row}")
        if self.column:
            where.append(f"column {self.column}" if self.row is not None else self.column)
        if self.key:
            where.append(self.key)
        place = ", ".join(where)
        text = self.problem.rstrip(".; ")
        if self.fix:
            text = f"{text}; {self.fix}"
        if not text.endswith("?"):
            text = text.rstrip(".") + "."
        return visible(
            shortened_words(f"{place}: {text}" if place else text)
        )  # it quotes what may be anything


class InputProblem(ReachError, ValueError):
    """Everything wrong with what the user gave, gathered in one pass; one line a fault."""

    def __init__(self, faults: Fault | Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = (faults,) if isinstance(faults, Fault) else tuple(faults)
        super().__init__("\n".join(str(fault) for fault in self.faults))


class OutOfRange(ReachError, ValueError):
    """A physical quantity lies outside the range a formula is valid for; says value and limits."""


class MissingTerrain(ReachError, LookupError):
    """Elevation is needed where no tile has any; names the area."""


class NoPlan(ReachError):
    """No plan can satisfy what was asked; says which single change would make one where known."""


class OutputProblem(ReachError, OSError):
    """A result could not be written (it exists, folder read-only, disk full); nothing was left behind."""

"""The legend of a map: the symbols that are on it, and no others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.drawings.maps.map_parts import MapStation
from reach.drawings.style.palette import Outline
from reach.drawings.style.symbols import Mark, Symbol
from reach.drawings.style.words import CATEGORY_LETTERS, CATEGORY_WORDS

MARK_WORDS: dict[Mark, str] = {
    Mark.MEMBER: "member",
    Mark.RELAY: "second ring: relay",
    Mark.CONTROL: "filled square: net control",
    Mark.HEARS_ONLY: "hears only, or gets in only",
    Mark.CUT_OFF: "cut off",
    Mark.OUTSIDE: "outside the coverage",
    Mark.SILENT: "struck out: off the air",
    Mark.REPEATER: "repeater",
    Mark.SITE: "where the coverage is from",
    Mark.PROPOSED: "filled diamond: place to go",
    Mark.ALTERNATIVE: "hollow diamond: place instead",
}
OUTLINE_WORDS: dict[Outline, str] = {
    Outline.MAINS_ONLY: "thin outline: mains only",
    Outline.BACKED_UP: "thick outline: backup power",
}


@dataclass(frozen=True)
class SymbolRow:
    """A symbol and what it means."""

    symbol: Symbol
    words: str


def symbol_rows(stations: Sequence[MapStation]) -> tuple[SymbolRow, ...]:
    """What the dots mean: first the marks, then the outlines of those with a category."""
    marks = {s.symbol.mark for s in stations} - {Mark.MEMBER}
    outlines = {s.symbol.outline for s in stations if s.symbol.letter}
    return (
        *(SymbolRow(Symbol(mark), MARK_WORDS[mark]) for mark in Mark if mark in marks),
        *(
            SymbolRow(Symbol(Mark.MEMBER, "", outline), OUTLINE_WORDS[outline])
            for outline in Outline
            if outline in outlines
        ),
    )


def letter_words(stations: Sequence[MapStation]) -> str:
    """'b base, m mobile': the letters on these dots; empty without any."""
    letters = {s.symbol.letter for s in stations}
    return ", ".join(
        f"{letter} {CATEGORY_WORDS[category].split(',')[0].removesuffix(' station')}"
        for category, letter in CATEGORY_LETTERS.items()
        if letter in letters
    )

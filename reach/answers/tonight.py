"""What is said of tonight's net: who is away, ahead of the answer."""

from __future__ import annotations

from reach.lists import named
from reach.stations import Net

_MOST_NAMED = 6


def away_words(net: Net) -> str:
    """'Without QK3ABC, QK3DEF: 20 of 22 members.' '' when nobody was left out."""
    if not net.away:
        return ""
    there = len(net.stations)
    return f"Without {named(net.away, most=_MOST_NAMED)}: {there} of {there + len(net.away)} members."


def tonight_headline(net: Net, sentence: str) -> str:
    """The answer, with who was left out ahead of it."""
    away = away_words(net)
    return f"{away} {sentence}" if away else sentence

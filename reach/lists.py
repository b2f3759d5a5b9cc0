"""Lists of names as they are said to people: long ones cut short, and saying so."""

from __future__ import annotations

from collections.abc import Sequence


def named(names: Sequence[str], *, most: int) -> str:
    """'A, B, C and 4 more' for more than `most` names, otherwise all of them."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")


def counted(number: int, thing: str) -> str:
    """'1 report', '2 reports'."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"

"""Lists of names as they are said to people: long ones cut short, and saying so."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence


def named(names: Sequence[str], *, most: int) -> str:
    """'A, B, C and 4 more' for more than `most` names, otherwise all of them."""
    rest = len(names) - most
    return ", ".join(names[:most]) + (f" and {rest} more" if rest > 0 else "")


def counted(number: int, thing: str) -> str:
    """'1 report', '2 reports'."""
    return f"{number} {thing}" if number == 1 else f"{number} {thing}s"


def nearest(name: str, known: Iterable[str]) -> str:
    """The known name closest in spelling, whatever its case; '' when none is close."""
    as_written = {other.casefold(): other for other in sorted(known, reverse=True)}
    close = difflib.get_close_matches(name.casefold(), as_written, n=1, cutoff=0.6)
    return as_written[close[0]] if close else ""


def did_you_mean(name: str, known: Iterable[str], *, otherwise: str) -> str:
    """What to do about a name nobody knows: take the nearest, or what to do where none is near."""
    near = nearest(name, known)
    return f"did you mean {near}?" if near else otherwise


def did_you_mean_or(name: str, known: Iterable[str], *, otherwise: str, kinds: str = "") -> str:
    """The same where something else may be meant: the nearest, and what may be written in any case.

    kinds : the list of all that are known, said where none is near.
    """
    near = nearest(name, known)
    return f"did you mean {near}? If not, {otherwise}" if near else otherwise + kinds

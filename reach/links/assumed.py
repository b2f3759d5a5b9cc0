"""Which values nobody gave: said beside every result they touched."""

from __future__ import annotations

from collections.abc import Sequence

from reach.lists import named
from reach.stations import Net, Repeater, Station

NAMED_AT_MOST = 6


def assumed_notes(net: Net, parties: Sequence[Station | Repeater] = ()) -> tuple[str, ...]:
    """Every default used, what the same members share in one sentence, so that nobody takes it for a fact.

    parties : only these; empty for everyone.
    """
    return tuple(
        f"Assumed for {', '.join(calls) or 'the net'}: {words}." for words, calls in _shared(net, parties)
    )


def assumed_in_short(net: Net, parties: Sequence[Station | Repeater] = ()) -> tuple[str, ...]:
    """The same for people to read beside an answer: long lists of members are cut short, and it says so."""
    lines, cut = [], False
    for words, calls in _shared(net, parties):
        most = NAMED_AT_MOST if len(calls) > NAMED_AT_MOST + 1 else len(calls)
        cut = cut or most < len(calls)
        lines.append(f"Assumed for {named(calls, most=most) or 'the net'}: {words}.")
    return (*lines, "`reach check` names everyone.") if cut else tuple(lines)


def _shared(net: Net, parties: Sequence[Station | Repeater]) -> list[tuple[str, list[str]]]:
    """(what was taken, for whom), one entry for each set of members; the net's own first, nobody named."""
    touched: dict[str, list[str]] = {}
    for who in parties or (*net.repeaters, *net.stations):
        for text in who.assumed:
            touched.setdefault(text, []).append(who.call_sign)
    alike: dict[tuple[str, ...], list[str]] = {}
    for text, calls in touched.items():
        alike.setdefault(tuple(calls), []).append(text)
    shared = [("; ".join(net.assumed), list[str]())] if net.assumed else []
    return shared + [(_with_source_once(texts), list(calls)) for calls, texts in alike.items()]


def _with_source_once(texts: Sequence[str]) -> str:
    """'height 2 m (default)' and 'power 5 W (default)' as 'height 2 m, power 5 W (default)'."""
    by_source: dict[str, list[str]] = {}
    for text in texts:
        what, bracket, source = text.rpartition(" (")
        by_source.setdefault(bracket + source if bracket else "", []).append(what if bracket else text)
    return "; ".join(", ".join(whats) + source for source, whats in by_source.items())

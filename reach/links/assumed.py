"""Which values nobody gave: said beside every result they touched."""

from __future__ import annotations

from collections.abc import Sequence

from reach.stations import Net, Repeater, Station

_IN_FULL, _IN_SHORT = 2, 3  # stations told in full; values named otherwise
_LAND = "round it"  # what stands round a station moves results most, so it is said first


def assumed_notes(net: Net, parties: Sequence[Station | Repeater] = ()) -> tuple[str, ...]:
    """Every default used, what the same members share in one sentence, so that nobody takes it for a fact.

    parties : only these; empty for everyone.
    """
    return tuple(
        f"Assumed for {', '.join(calls) or 'the net'}: {words}." for words, calls in _shared(net, parties)
    )


def assumed_in_short(net: Net, parties: Sequence[Station | Repeater] = ()) -> tuple[str, ...]:
    """The same beside an answer: of one path in full, of a net in a sentence, widest spread first."""
    if parties and len(parties) <= _IN_FULL:
        return assumed_notes(net, parties)
    touched: dict[str, int] = {}
    for who in parties or (*net.repeaters, *net.stations):
        for text in who.assumed:
            touched[text] = touched.get(text, 0) + 1
    if not touched:
        return assumed_notes(net, parties)
    widest = sorted(touched.items(), key=lambda item: (_LAND not in item[0], -item[1]))
    said = [
        f"{text.rpartition(' (')[0] or text} ({count} station{'' if count == 1 else 's'})"
        for text, count in widest[:_IN_SHORT]
    ]
    rest = len(widest) - len(said) + len(net.assumed)
    more = f" and {rest} more usual values" if rest else ""
    return (f"Assumed where nothing was said: {', '.join(said)}{more}; `reach check` lists them all.",)


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

"""Which values nobody gave: said beside every result they touched."""

from __future__ import annotations

from collections.abc import Sequence

from reach.stations import Net, Repeater, Station


def assumed_notes(net: Net, parties: Sequence[Station | Repeater] = ()) -> tuple[str, ...]:
    """Every default used, one sentence a kind with whom it touched, so that nobody takes it for a fact.

    parties : only these; empty for everyone.
    """
    touched: dict[str, list[str]] = {}
    for who in parties or (*net.repeaters, *net.stations):
        for text in who.assumed:
            touched.setdefault(text, []).append(who.call_sign)
    notes = [f"Assumed for the net: {'; '.join(net.assumed)}."] if net.assumed else []
    return (*notes, *(f"Assumed {text}: {', '.join(calls)}." for text, calls in touched.items()))

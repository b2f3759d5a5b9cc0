"""Go-kit sheets as plain text, for a terminal or a plain printer."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from reach.drawings.papers.go_kit import (
    AS_USUAL,
    ASKED,
    FREQUENCIES,
    LEADS,
    NO_NET,
    NOBODY,
    OFF_AIR,
    KitCase,
    KitPage,
    heard_words,
    worked_words,
)
from reach.visible import visible


def kit_pages_text(pages: Sequence[KitPage]) -> str:
    """The pages one after the other, with a form feed between them."""
    return "\f".join(kit_text(page) for page in pages)


def kit_text(page: KitPage, *, width: int = 78) -> str:
    """The page for a terminal or a plain printer."""
    lines = [f"{page.call_sign}  {page.name}".rstrip(), f"{page.net}: go-kit sheet ({page.spoken})", ""]

    def wrapped(text: str, indent: str = "") -> None:
        lines.extend(textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent or "  "))

    wrapped(page.headline)
    lines += ["", "Emergency number: ______________   then this net.", "", f"{FREQUENCIES}:"]
    names = max(len(channel.name) for channel in page.channels)
    for channel in page.channels:
        lines.append(
            f" {channel.order} {channel.name:<{names}}  listen {channel.listen_mhz:>8}"
            f"  send {channel.send_mhz:>8}  tone {channel.tone}"
        )
        lines.append(f"   {channel.use}")
    lines += ["", "What to do when:"]
    for case in page.cases:
        wrapped(case_words(case), " ")
    if page.on_radio:
        lines += ["", f"{worked_words(page)}:"]
        lines += _heard_lines(page, width)
        wrapped(heard_words(page))
    lines.append("")
    for text in (page.station, page.battery, "", page.made_from, *page.cautions):
        if text:
            wrapped(text)
        elif lines[-1]:
            lines.append("")
    return "\n".join(map(visible, lines)) + "\n"


def _heard_lines(page: KitPage, width: int) -> list[str]:
    """Those worked with a box to tick, in columns, best first downwards."""
    heard = [f"[ ] {h.call_sign} {h.name} {h.grade}" for h in page.works]
    if page.more:
        heard.append(f"and {page.more} more")
    if not heard:
        return [" nobody"]
    cell = max(len(text) for text in heard) + 2
    down = -(-len(heard) // max(width // cell, 1))
    return [" " + "".join(f"{text:<{cell}}" for text in heard[row::down]).rstrip() for row in range(down)]


def case_words(case: KitCase) -> str:
    """One case on one line: 'no repeater: on 146.520 call QK3JUN (relay); if it is missing, QK3CDR'."""
    if case.where in (AS_USUAL, OFF_AIR):
        text = f"{case.situation}: {case.where}"
    elif case.where == NO_NET:
        text = f"{case.situation}: no net comes together"
    elif case.whom == NOBODY:
        text = f"{case.situation}: listen on {case.where}, no way in is predicted"
    elif case.whom in (LEADS, ASKED):
        text = f"{case.situation}: {case.whom} on {case.where}"
    else:
        text = f"{case.situation}: on {case.where} call {case.whom}"
    return f"{text}; {case.note}" if case.note else text

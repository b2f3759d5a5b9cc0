"""The sheet for the wall: every case in a line, what to do in each, frequencies, cautions; one page.

Built once as plain text in records (`wall_sheet`), then drawn as text, as a page of HTML (`wall_page`) and as
PDF (`wall_pdf`).
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.backup import BackupAnswer
from reach.answers.outages import Case, change_sentences, frequency_words, relay_sentences
from reach.answers.share import audience_in_short
from reach.drawings.style.cautions import AGENCY, EMERGENCY, MASTS, PROMISE
from reach.lists import named
from reach.stations import Channel

WALL_CAUTIONS = (EMERGENCY, PROMISE, AGENCY, MASTS)
HEADINGS = ("", "when", "net control", "stand-in", "meet on", "reached", "lasts")
MOST_OUT = 6  # call signs named as left out


@dataclass(frozen=True)
class WallCase:
    """One case. row : a cell for each of HEADINGS; steps : what to do, a sentence each."""

    row: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True)
class WallSheet:
    """The sheet as plain text. lacks : what has to be settled beforehand; channels : (name, listen, send,
    tone).
    """  # fmt: skip

    net: str
    headline: str
    lacks: tuple[str, ...]
    cases: tuple[WallCase, ...]
    channels: tuple[tuple[str, str, str, str], ...]
    made_from: str
    cautions: tuple[str, ...] = WALL_CAUTIONS


def wall_sheet(found: BackupAnswer) -> WallSheet:
    """The sheet of a backup plan."""
    return WallSheet(
        net=found.net.name,
        headline=found.headline,
        lacks=found.lacks,
        cases=tuple(_case(case, found.channel) for case in found.cases),
        channels=_channels(found),
        made_from=f"{found.made_from} {audience_in_short(found.net)}",
    )


def _case(case: Case, channel: Channel) -> WallCase:
    plan = case.plan
    row = (
        case.letter,
        plan.outage.words,
        case.control_words or "no net",
        case.stand_in_words,
        (plan.hub or frequency_words(channel)) if plan.control else "",
        f"{len(plan.in_net)} of {plan.total}",
        case.lasts_words,
    )
    return WallCase(
        row, (*relay_sentences(plan, channel), *_outside(case), *change_sentences(case.timeline, channel))
    )


def _outside(case: Case) -> list[str]:
    plan = case.plan
    if not plan.control:
        return [plan.lack] if plan.lack else []
    found = []
    if plan.cut_off:
        found.append(f"Out of reach: {named(plan.cut_off, most=MOST_OUT)}.")
    if plan.standing.dark:
        found.append(f"No power: {named(plan.standing.dark, most=MOST_OUT)}.")
    if plan.standing.dark_repeaters:
        found.append(f"Dark: {', '.join(plan.standing.dark_repeaters)}.")
    if plan.standing.absent:
        found.append(f"Absent: {named(plan.standing.absent, most=MOST_OUT)}.")
    return found


def _channels(found: BackupAnswer) -> tuple[tuple[str, str, str, str], ...]:
    lines = []
    for repeater in found.net.repeaters:
        name = f"{repeater.call_sign} {repeater.name}".strip()
        tone = f"{repeater.tone_hz:.1f}" if repeater.tone_hz else "none"
        lines.append((name, _mhz(repeater.output_mhz), _mhz(repeater.input_mhz), tone))
    others = (channel for channel in found.net.channels if channel != found.channel)
    for channel in (found.channel, *others):
        mhz = _mhz(channel.frequency_mhz)
        lines.append((f"simplex, {channel.name}" if channel.name else "simplex", mhz, mhz, "none"))
    return tuple(lines)


def _mhz(frequency_mhz: float) -> str:
    text = f"{frequency_mhz:.4f}"
    return text[:-1] if text.endswith("0") else text


def wall_text(sheet: WallSheet, *, width: int = 78) -> str:
    """The sheet for a plain printer: a block a case."""
    lines = [f"{sheet.net}: when something fails", ""]

    def wrapped(text: str, indent: str = "") -> None:
        lines.extend(textwrap.wrap(text, width, initial_indent=indent, subsequent_indent=indent + "  "))

    wrapped(sheet.headline)
    for text in sheet.lacks:
        wrapped(text)
    lines += ["", "Emergency number: ______________   then this net.", ""]
    for case in sheet.cases:
        wrapped(case_line(case))
        for step in case.steps:
            wrapped(step, "   ")
    lines += ["", "Frequencies, MHz:"]
    names = max(len(channel[0]) for channel in sheet.channels)
    for name, listen, send, tone in sheet.channels:
        lines.append(f" {name:<{names}}  listen {listen:>8}  send {send:>8}  tone {tone}")
    lines.append("")
    for text in (sheet.made_from, *sheet.cautions):
        wrapped(text)
    return (
        "\n".join("".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in t) for t in lines)
        + "\n"
    )


def case_line(case: WallCase) -> str:
    """'B  QK3RA down: net control QK3ABC (stand-in QK3DEF) on 146.520 MHz simplex; 8 of 8 reached'."""
    letter, when, control, stand_in, place, reached, lasts = case.row
    if not place:
        return f"{letter}  {when}: no net."
    text = f"{letter}  {when}: net control {control} (stand-in {stand_in}) on {place}; {reached} reached"
    return f"{text}; lasts {lasts}." if lasts else f"{text}."


def steps_of(cases: Sequence[WallCase]) -> tuple[tuple[str, str], ...]:
    """(letter, what to do) of every case that has more to say than its row."""
    return tuple((case.row[0], " ".join(case.steps)) for case in cases if case.steps)

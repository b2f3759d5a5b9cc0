"""Tables for the terminal. Functions give renderables; `terminal_text` turns them into text; commands print.

Text from users is never read as markup, and control characters in it never reach the terminal.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Iterator, Sequence
from enum import Enum

import numpy as np
from rich import box
from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.segment import Segment, Segments
from rich.table import Table
from rich.text import Text

from reach.answers.link_rows import repeater_rows, simplex_rows
from reach.answers.sheet import Sheet
from reach.drawings.exports.machine import csv_text, json_text
from reach.drawings.maps.plan_marks import PlanMarks
from reach.drawings.style.palette import ACCENT
from reach.drawings.style.words import (
    CATEGORY_WORDS,
    clearance_words,
    distance_words,
    grade_words,
    microvolt_figure,
    number,
    plain,
    signed,
)
from reach.links.grade import Grade, grade_of
from reach.links.network import DirectedLink, RepeaterNetwork, SimplexNetwork
from reach.links.outcome import RepeaterOutcome, with_outcome
from reach.links.s_meter import s_reading
from reach.links.sayings import chance_in_words, margin_in_words
from reach.units import dbm_to_microvolts
from reach.visible import in_ascii, visible_lines

__all__ = [
    "Charset",
    "Colour",
    "Sheet",
    "answer",
    "csv_text",
    "json_text",
    "matrix_text",
    "notes_text",
    "path_table",
    "plan_table",
    "quiet_table",
    "repeater_rows",
    "repeater_table",
    "simplex_rows",
    "station_table",
    "terminal_text",
]


class Charset(Enum):
    """What the terminal or file can take."""

    UNICODE = "unicode"
    ASCII = "ascii"


class Colour(Enum):
    """Whether to use colour and bold; NONE for files and pipes."""

    NONE = "none"
    ANSI = "ansi"


_ATTENTION = ACCENT
_OUTCOME_WORDS = {
    RepeaterOutcome.GETS_IN_AND_HEARS: "Get in and hear",
    RepeaterOutcome.HEARS_ONLY: "Hear it but do not get in",
    RepeaterOutcome.GETS_IN_ONLY: "Get in but do not hear it",
    RepeaterOutcome.NEITHER: "Neither get in nor hear it",
}


def terminal_text(
    *parts: RenderableType, width: int, charset: Charset = Charset.UNICODE, colour: Colour = Colour.NONE
) -> str:
    """Renderables as text of at most `width` columns, one below the other; no trailing spaces."""
    out = io.StringIO()
    console = Console(
        file=out,
        width=max(width, 20),
        force_terminal=colour is Colour.ANSI,
        color_system="256" if colour is Colour.ANSI else None,
        legacy_windows=False,
        highlight=False,
        markup=False,
        emoji=False,
    )
    for part in parts:
        console.print(Segments(_harmless(console.render(part))), end="")
    text = "\n".join(line.rstrip() for line in out.getvalue().splitlines()) + "\n"
    if charset is Charset.ASCII:
        text = in_ascii(text)
    return text


def _harmless(segments: Iterable[Segment]) -> Iterator[Segment]:
    """Only text and its style, whatever a renderable was made from."""
    for segment in segments:
        if not segment.control:
            yield Segment(visible_lines(segment.text), segment.style)


def answer(headline: str) -> Text:
    """The answer in a sentence, for the first line."""
    return Text(plain(headline), style="bold")


def notes_text(notes: Sequence[str]) -> Text:
    """Plain sentences, one a line: assumptions, warnings, cautions."""
    return Text("\n".join(plain(note) for note in notes))


def quiet_table(title: str, columns: Sequence[tuple[str, str]], rows: Sequence[Sequence[str]]) -> Table:
    """Any table in the house's form. columns : (heading, 'left' or 'right'); rows : one text a column."""
    table = _table(title, *((heading, side, 0) for heading, side in columns))
    for row in rows:
        table.add_row(*(_said(cell) for cell in row))
    return table


class _TitledTable(Table):
    """A table whose title may be wider than the table: it uses the whole width of the terminal."""

    def __init__(self, heading: str) -> None:
        super().__init__(box=_QUIET_BOX, show_edge=False, pad_edge=False)
        self.heading = heading

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        if self.heading:
            yield Text(plain(self.heading))
        yield from super().__rich_console__(console, options)


def _table(title: str, *columns: tuple[str, str, int]) -> Table:
    """A table without vertical rules. columns : (heading, 'left' or 'right', least width, 0 for any)."""
    table = _TitledTable(title)
    for heading, side, least in columns:
        table.add_column(
            Text(plain(heading)),
            justify="right" if side == "right" else "left",
            overflow="fold",
            min_width=least or None,
            header_style="",
        )
    return table


# a single rule of hyphens under the headings: the same on every terminal and in every file
_QUIET_BOX = box.Box("    \n    \n -- \n    \n    \n    \n    \n    \n", ascii=True)


def _said(text: str, style: str = "") -> Text:
    return Text(plain(text), style=style)


def repeater_table(network: RepeaterNetwork, *, width: int = 80) -> Group:
    """Members by outcome, strongest first: chance and grade of the weaker direction, margin of each.

    On less than 66 columns the grade and the distance are left out, on less than 56 the chance too.
    """
    parts: list[RenderableType] = []
    longest = max((len(m.call_sign) for m in network.members), default=7)
    for outcome in RepeaterOutcome:
        members = with_outcome(network, outcome)
        if not members:
            continue
        style = "" if outcome is RepeaterOutcome.GETS_IN_AND_HEARS else _ATTENTION
        table = _table(
            "",
            ("station", "left", min(max(longest, 7), 14)),
            *([("chance", "left", 16)] if width >= 56 else []),
            *([("grade", "left", 11)] if width >= 66 else []),
            ("in, dB", "right", 6),
            ("out, dB", "right", 7),
            *([("km", "right", 5)] if width >= 66 else []),
        )
        for member in members:
            cells = [_said(member.call_sign, style)]
            tail = []
            if width >= 56:
                cells.append(_said(chance_in_words(member.chance)))
            if width >= 66:
                cells.append(_said(grade_words(grade_of(member.weaker_margin_db))))
                tail.append(Text(number(member.talk_in.distance_m / 1000.0, 1)))
            cells += [Text(signed(member.talk_in.margin_db)), Text(signed(member.talk_out.margin_db)), *tail]
            table.add_row(*cells)
        parts += [Text(f"{_OUTCOME_WORDS[outcome]} ({len(members)})", style="bold"), table, Text("")]
    if network.no_radio:
        parts.append(_said(f"Linked over the internet, no radio path: {', '.join(network.no_radio)}"))
    hub = plain(network.repeater.call_sign)
    parts.append(
        Text(f"in: {hub} hears the member; out: the member hears {hub}; dB over (+) or under workable.")
    )
    return Group(*parts)


def matrix_text(network: SimplexNetwork, *, width: int) -> Text:
    """Who hears whom, one character a direction: the row hears the column at R2 to R5, '.' not at all.

    Call signs of the columns are written downwards. Too wide for `width`, it goes on in further blocks.
    Members without any radio path are named below, not in the rows.
    """
    on_the_air = [i for i, row in enumerate(network.margin_db) if not np.isnan(row).all()]
    calls = {i: plain(network.call_signs[i]) for i in on_the_air}
    longest = max((len(call) for call in calls.values()), default=0)
    groups = max(5, (max(width, 24) - longest - 2) * 5 // 6 // 5 * 5)  # a gap after every fifth column
    lines = ["Who hears whom: the row hears the column, R2 to R5; . is not at all."]
    for first in range(0, len(on_the_air), groups):
        block = on_the_air[first : first + groups]
        for depth in range(longest):
            letters = [calls[c].rjust(longest)[depth] for c in block]
            lines.append(" " * (longest + 2) + _in_fives(letters))
        for r, call in calls.items():
            cells = [_cell(float(network.margin_db[c, r]), same=c == r) for c in block]
            lines.append(f"{call:<{longest}}  {_in_fives(cells)}")
        lines.append("")
    silent = [plain(call) for i, call in enumerate(network.call_signs) if i not in calls]
    if silent:
        lines.append(f"No radio path: {', '.join(silent)}.")
    return Text("\n".join(lines).rstrip("\n"))


def _in_fives(cells: Sequence[str]) -> str:
    return " ".join("".join(cells[i : i + 5]) for i in range(0, len(cells), 5))


def _cell(margin_db: float, *, same: bool) -> str:
    if same:
        return "-"
    if math.isnan(margin_db):
        return "x"
    grade = grade_of(margin_db)
    return "." if grade is Grade.NONE else str(grade.readability)


def station_table(network: SimplexNetwork) -> Table:
    """Each station: how many hear it, how many it hears (workable and up), and how many links are one-way."""
    table = _table(
        "'heard by' and 'hears' count links that are workable or better",
        ("station", "left", 7),
        ("kind", "left", 0),
        ("heard by", "right", 8),
        ("hears", "right", 5),
        ("one way", "right", 7),
    )
    counts = network.margin_db >= 0.0  # NaN compares false
    known = {station.call_sign: station for station in network.net.stations}
    for i, call in enumerate(network.call_signs):
        station = known[call]
        kind = CATEGORY_WORDS[station.category].split(",")[0]
        heard, hears = int(counts[i].sum()), int(counts[:, i].sum())
        one_way = int((counts[i] != counts[:, i]).sum())
        style = _ATTENTION if station.has_radio_path and not heard else ""
        table.add_row(_said(call, style), _said(kind), str(heard), str(hears), str(one_way))
    return table


def plan_table(network: SimplexNetwork, marks: PlanMarks, *, width: int = 80) -> Group:
    """Net control, relays and who is heard how; chance, grade and margin of the hop's weaker direction.

    On less than 72 columns the grade is left out, on less than 58 the chance too.
    """
    columns = (
        ("station", "left", 7),
        ("part", "left", 11),
        ("via", "left", 7),
        ("chance", "left", 16),
        ("grade", "left", 11),
        ("dB", "right", 3),
    )
    shown = [i for i in range(len(columns)) if (i != 4 or width >= 72) and (i != 3 or width >= 58)]
    table = _table("", *(columns[i] for i in shown))

    def add_row(*cells: Text | str) -> None:
        table.add_row(*(cells[i] for i in shown))

    known = {station.call_sign: station for station in network.net.stations}
    order = {call: 2 for call in network.call_signs} | {call: 1 for call in marks.relays}
    order |= {entry.call_sign: 3 for entry in marks.cut_off}
    if marks.control is not None:
        order[marks.control] = 0
    for call in sorted(order, key=lambda c: (order[c], c)):
        if call == marks.control:
            add_row(_said(call), _said("net control"), "", "", "", "")
        elif marks.missed(call) is not None:
            add_row(_said(call, _ATTENTION), _said("cut off", _ATTENTION), "", "", "", "")
        elif not known[call].has_radio_path:
            add_row(_said(call), _said("internet"), "", _said("no radio path"), "", "")
        else:
            via = marks.relay_of(call) or marks.control
            part = f"relay for {len(marks.served_by.get(call, ()))}" if call in marks.relays else "member"
            add_row(_said(call), _said(part), *_hop_cells(network, call, via))
    named = [columns[i][0] for i in shown[3:]]
    parts: list[RenderableType] = [
        table,
        Text(f"{', '.join(named)} over workable: the weaker direction between the station and its 'via'."),
    ]
    parts += [
        _said(f"{entry.call_sign} is cut off. {entry.near_miss}".rstrip(), _ATTENTION)
        for entry in marks.cut_off
    ]
    return Group(*parts)


def _hop_cells(network: SimplexNetwork, call: str, via: str | None) -> tuple[Text, Text, Text, str]:
    if via is None:
        return Text(""), Text(""), Text(""), ""
    hop = min(network.link(call, via), network.link(via, call), key=lambda link: _sortable(link.margin_db))
    return (
        _said(via),
        _said(chance_in_words(hop.chance)),
        _said(grade_words(hop.grade)),
        signed(hop.margin_db),
    )


def _sortable(margin_db: float) -> float:
    return margin_db if math.isfinite(margin_db) else -math.inf


def path_table(there: DirectedLink, back: DirectedLink) -> Table:
    """One path, both directions side by side; rows carry their units."""
    table = _table(
        f"{plain(there.tx)} and {plain(there.rx)}: {distance_words(there.distance_m)}; "
        + clearance_words(line_of_sight=there.line_of_sight, fresnel_clearance=there.fresnel_clearance),
        ("", "left", 16),
        (f"{plain(there.rx)} hears {plain(there.tx)}", "left", 0),
        (f"{plain(back.rx)} hears {plain(back.tx)}", "left", 0),
    )
    rows: list[tuple[str, list[str]]] = [
        ("chance", [chance_in_words(x.chance) for x in (there, back)]),
        ("grade", [grade_words(x.grade) for x in (there, back)]),
        ("margin", [margin_in_words(x.margin_db) for x in (there, back)]),
        ("signal, dBm", [number(x.received_dbm, 1) for x in (there, back)]),
        (
            "signal, \N{MICRO SIGN}V",
            [microvolt_figure(float(dbm_to_microvolts(x.received_dbm))) for x in (there, back)],
        ),
        ("S-meter", [s_reading(x.received_dbm, frequency_mhz=x.frequency_mhz) for x in (there, back)]),
        ("path loss, dB", [number(x.path_loss_db, 1) for x in (there, back)]),
        ("frequency, MHz", [f"{x.frequency_mhz:.8g}" for x in (there, back)]),
        ("bearing, degrees", [number(x.bearing_deg) for x in (there, back)]),
    ]
    for heading, cells in rows:
        table.add_row(heading, *(_said(cell) for cell in cells))
    return table

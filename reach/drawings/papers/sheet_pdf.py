"""The run sheet as PDF, A4 or Letter: one page for a club's net, more when the list is longer."""

from __future__ import annotations

import io
from dataclasses import dataclass
from enum import Enum

from matplotlib.backends.backend_pdf import PdfPages

from reach.drawings.papers.paper import (
    BOTTOM,
    FOOT,
    POINTS_PER_MM,
    SIDE,
    SIZE,
    SMALL,
    TOP,
    Block,
    Paper,
    Pen,
    Word,
    paginated,
    paragraph,
    rule,
)
from reach.drawings.papers.run_sheet import RunSheet, SheetGroup, SheetRow, sheet_text
from reach.drawings.papers.typeface import undrawn_words

_LOWEST_ROW, _AIRY_ROW, _FLOWING_ROW, _HIGHEST_ROW = (mm * POINTS_PER_MM for mm in (5.5, 6.5, 6.8, 8.0))
_ASIDE = 10.0  # type size beside the name, points


class _Headings(Enum):
    """Which groups have their heading on a line of its own; the kinds stand beside each row anyway."""

    ALL = "all"
    RELAYS = "relays"


def sheet_pdf(sheet: RunSheet, paper: Paper = Paper.A4) -> bytes:
    """PDF of the sheet; the same sheet gives the same bytes."""
    pen = Pen(paper)
    head, tail = _head(sheet, pen), _tail(sheet, pen)
    table = _table(sheet, pen, _FLOWING_ROW, _Headings.ALL)
    blocks = [*head, *table, *tail]
    for headings, lowest in ((_Headings.ALL, _AIRY_ROW), (_Headings.RELAYS, _LOWEST_ROW)):
        fixed = sum(block.height for block in [*head, *_table(sheet, pen, 0.0, headings), *tail])
        row_height = min(
            (pen.room - fixed) / max(sum(len(group.rows) for group in sheet.groups), 1), _HIGHEST_ROW
        )
        if row_height >= lowest:
            blocks = [*head, *_table(sheet, pen, row_height, headings), *tail]
            break
    pages = paginated(blocks, pen.room)
    if len(pages) > 1:
        name, labels = _continued(sheet, pen), _labels(_columns(sheet, pen), sheet.pens)
        pages = paginated(blocks, pen.room - name.height - labels.height)
        for page in pages[1:]:
            page[:0] = [name, labels] if any(block in table for block in page) else [name]
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None, "Title": f"{sheet.title}: run sheet"}) as pdf:
        for number, page in enumerate(pages, start=1):
            pen.start_page()
            y = pen.height - TOP
            for block in page:
                block.draw(pen, y)
                y -= block.height
            if len(pages) > 1:
                pen.text(
                    pen.width - SIDE,
                    BOTTOM * 0.4,
                    f"page {number} of {len(pages)}",
                    size=FOOT,
                    side="right",
                )
            pdf.savefig(pen.figure)
    return out.getvalue()


def _said(heading: str, text: str) -> list[Word]:
    return [Word(word, "bold") for word in heading.split()] + [Word(word) for word in text.split()]


def _head(sheet: RunSheet, pen: Pen) -> list[Block]:
    title = pen.shortened(sheet.title, pen.column, 15.0)

    def draw_title(pen: Pen, top: float) -> None:
        pen.text(SIDE, top - 13.0, title, size=15.0, weight="bold")

    blocks = [Block(19.0, draw_title), _facts(sheet, pen), rule(1.4, 6.0)]
    if sheet.before:
        blocks += [
            paragraph(pen, _said(f"{sheet.before_title}:", " ".join(sheet.before))),
            rule(0.5, 5.0),
        ]
    for heading, text in (
        ("Opening:", sheet.opening),
        ("Priority:", sheet.priority),
        ("Check-ins:", sheet.check_in),
    ):
        if text:
            blocks.append(paragraph(pen, _said(heading, text)))
    return blocks


def _facts(sheet: RunSheet, pen: Pen) -> Block:
    """Label and text kept together, several to a line."""
    gap, step = 14.0, SIZE * 1.3
    lines: list[list[tuple[float, str, str, float]]] = [[]]
    x = 0.0
    for label, text in sheet.facts:
        text = pen.shortened(text, pen.column * 0.8)
        label_width = pen.measure(f"{label}:", SIZE, "bold") + 4.0
        width = label_width + pen.measure(text, SIZE)
        if lines[-1] and x + width > pen.column:
            lines.append([])
            x = 0.0
        lines[-1].append((x, f"{label}:", text, label_width))
        x += width + gap

    def draw(pen: Pen, top: float) -> None:
        for number, line in enumerate(lines):
            for at, label, text, label_width in line:
                baseline = top - SIZE - number * step
                pen.text(SIDE + at, baseline, label, weight="bold")
                pen.text(SIDE + at + label_width, baseline, text)

    return Block(len(lines) * step + 1.0, draw)


def _tail(sheet: RunSheet, pen: Pen) -> list[Block]:
    blocks = [rule(0.0, 3.0)]
    if sheet.closing:
        blocks.append(paragraph(pen, _said("Closing:", sheet.closing)))
    foot = " ".join((undrawn_words(sheet_text(sheet)), sheet.made_from, *sheet.cautions))
    blocks += [rule(0.5, 5.0), paragraph(pen, [Word(word) for word in foot.split()], FOOT, 0.0)]
    together = [Block(block.height, block.draw, together=True) for block in blocks[:-1]]
    return [*together, blocks[-1]]


@dataclass(frozen=True)
class _Columns:
    """Left edges of the table's columns, points from the margin."""

    call: float
    spoken: float
    name: float
    hear: float
    hears_me: float
    time: float
    end: float


def _columns(sheet: RunSheet, pen: Pen) -> _Columns:
    rows = [row for group in sheet.groups for row in group.rows]
    call = 6.5 * POINTS_PER_MM
    spoken = call + max((pen.measure(row.call_sign, SIZE, "bold") for row in rows), default=40.0) + 7.0
    widest = max((pen.measure(row.spoken, SIZE) for row in rows), default=150.0)
    name = spoken + min(widest, pen.column * 0.42) + 7.0
    time = pen.column - 14.0 * POINTS_PER_MM
    hears_me = time - 13.0 * POINTS_PER_MM
    hear = hears_me - 12.0 * POINTS_PER_MM
    return _Columns(call, spoken, name, hear, hears_me, time, pen.column)


def _table(sheet: RunSheet, pen: Pen, row_height: float, headings: _Headings) -> list[Block]:
    columns = _columns(sheet, pen)
    blocks = [_labels(columns, sheet.pens)]
    for group in sheet.groups:
        if headings is _Headings.ALL or not group.is_kind:
            blocks.append(_group_heading(group, pen, headings))
        elif group is not sheet.groups[0]:
            blocks.append(rule(1.2, 1.6))
        blocks += [_row(row, columns, pen, row_height) for row in group.rows]
    return blocks


def _continued(sheet: RunSheet, pen: Pen) -> Block:
    """Name and date at the head of a further page."""
    text = ", ".join([sheet.title, *(said for label, said in sheet.facts if label == "Date")])
    text = pen.shortened(text, pen.column)

    def draw(pen: Pen, top: float) -> None:
        pen.text(SIDE, top - 10.0, text, weight="bold")

    return Block(16.0, draw)


def _labels(columns: _Columns, pens: tuple[str, str, str]) -> Block:
    """The line over the table. pens : what is written by hand."""

    def draw_heading(pen: Pen, top: float) -> None:
        labels = [(columns.call, "call sign"), (columns.spoken, "as spoken"), (columns.name, "name")]
        if columns.name - columns.spoken < 20.0:  # no call sign is spelt
            del labels[1]
        for at, label in (
            *labels,
            (columns.hear + 3, pens[0]),
            (columns.hears_me + 3, pens[1]),
            (columns.time + 3, pens[2]),
        ):
            pen.text(SIDE + at, top - 9.0, label, size=SMALL)
        pen.text(SIDE + columns.hear - 4.0, top - 9.0, "kind, if not heard", size=SMALL, side="right")
        pen.line(SIDE, top - 12.0, pen.width - SIDE, top - 12.0, 0.8)

    return Block(13.0, draw_heading, together=True)


def _group_heading(group: SheetGroup, pen: Pen, headings: _Headings) -> Block:
    heading = (
        [Word(word, "bold") for word in f"{group.heading}.".split()]
        if group.words
        else [Word(word, "bold") for word in group.heading.split()]
    )
    words = [*heading, *(Word(word, style="italic") for word in group.words.split())]
    if headings is _Headings.ALL:
        words += [Word(word) for word in group.remark.split()]
    text = paragraph(pen, words, gap=0.0)

    def draw(pen: Pen, top: float) -> None:
        text.draw(pen, top - 4.0)

    return Block(text.height + 5.0, draw, together=True)


def _row(row: SheetRow, columns: _Columns, pen: Pen, height: float) -> Block:
    aside_room = pen.measure(row.aside, _ASIDE)
    room = columns.hear - columns.name - 4.0
    below = pen.measure(row.name, SIZE) + aside_room + 5.0 > room  # the aside gets a line of its own
    name = pen.shortened(row.name, room)
    said = pen.shortened(row.spoken, columns.name - columns.spoken - 4.0)

    line = height
    if below:
        height += _ASIDE

    def draw(pen: Pen, top: float) -> None:
        baseline = top - line / 2 - SIZE * 0.34
        side = 10.5
        pen.box(SIDE + 1.0, top - line / 2 - side / 2, side)
        pen.text(SIDE + columns.call, baseline, row.call_sign, weight="bold")
        pen.text(SIDE + columns.spoken, baseline, said)
        pen.text(SIDE + columns.name, baseline, name)
        aside_at = baseline - (_ASIDE if below else 0.0)
        pen.text(SIDE + columns.hear - aside_room - 4.0, aside_at, row.aside, size=_ASIDE)
        for at in (columns.hear, columns.hears_me, columns.time):
            pen.line(SIDE + at, top, SIDE + at, top - height, 0.4)
        pen.line(SIDE, top - height, pen.width - SIDE, top - height, 0.4)

    return Block(height, draw)

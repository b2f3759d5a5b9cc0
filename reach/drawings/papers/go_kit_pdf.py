"""Go-kit sheets as PDF, A4 or Letter, one page an operator."""

from __future__ import annotations

import io
from collections.abc import Sequence

from matplotlib.backends.backend_pdf import PdfPages

from reach.drawings.papers.go_kit import FREQUENCIES, KitHeard, KitPage, heard_words, worked_words
from reach.drawings.papers.go_kit_text import kit_text
from reach.drawings.papers.paper import (
    BOTTOM,
    SIDE,
    SIZE,
    TOP,
    Block,
    Paper,
    Pen,
    paragraph,
    rule,
)
from reach.drawings.papers.rows import Cell, danger, heading, height_of, row_of, space, words_of
from reach.drawings.papers.typeface import undrawn_words

_ROW = 15.5  # height of a table's row, points
_LEAST_ROW = 13.5
_ACROSS = 3  # columns of stations worked
_GAP = 12.0  # between those columns, points


def kit_pages_pdf(pages: Sequence[KitPage], paper: Paper = Paper.A4) -> bytes:
    """PDF of the sheets in the order given; the same sheets give the same bytes.

    A page that would run over loses its note space, then closes its rows up.
    Raises : ValueError without any sheet.
    """
    if not pages:
        raise ValueError("no sheet to draw")
    pen = Pen(paper)
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None, "Title": f"{pages[0].net}: go-kit sheets"}) as pdf:
        for page in pages:
            pen.start_page()
            head, foot = _head(page, pen), _foot(page, pen)
            body = _body(page, pen, _ROW)
            if height_of([*head, *body, *foot]) > pen.room:
                body = _body(page, pen, _LEAST_ROW)
            y = pen.height - TOP
            for block in (*head, *body):
                block.draw(pen, y)
                y -= block.height
            bottom = BOTTOM + height_of(foot)
            if y - bottom > 3 * _ROW:
                _notes(pen, y - 2.0, bottom + 5.0)
            for block in foot:
                block.draw(pen, bottom)
                bottom -= block.height
            pdf.savefig(pen.figure)
    return out.getvalue()


def _head(page: KitPage, pen: Pen) -> list[Block]:
    call_width = pen.measure(page.call_sign, 22.0, "bold")
    net = pen.shortened(page.net, pen.column * 0.45)
    aside = max(pen.measure(net, SIZE), pen.measure(page.spoken, SIZE))
    name = pen.shortened(page.name, pen.column - call_width - aside - 20.0, 14.0)

    def draw(pen: Pen, top: float) -> None:
        pen.text(SIDE, top - 24.0, page.call_sign, size=22.0, weight="bold")
        pen.text(SIDE + call_width + 8.0, top - 24.0, name, size=14.0)
        right = pen.width - SIDE
        pen.text(right, top - 11.0, net, side="right")
        pen.text(right, top - 24.0, page.spoken, side="right")

    return [
        Block(29.0, draw),
        rule(1.7, 4.0),
        paragraph(pen, words_of(page.headline, "bold"), 14.0, 5.0),
        danger(pen),
    ]


def _body(page: KitPage, pen: Pen, row: float) -> list[Block]:
    blocks = [heading(pen, FREQUENCIES), *_frequencies(page, pen, row), space(6.0)]
    blocks += [heading(pen, "What to do"), *_cases(page, pen, row), space(6.0)]
    if page.on_radio:
        blocks.append(heading(pen, worked_words(page)))
        blocks += _worked(page, pen, row) if page.works else [paragraph(pen, words_of("Nobody."))]
        if page.more:
            blocks.append(paragraph(pen, words_of(f"and {page.more} more.")))
        blocks.append(space(3.0))
        if heard_words(page):
            blocks.append(paragraph(pen, words_of(heard_words(page))))
    return [*blocks, paragraph(pen, words_of(f"{page.station} {page.battery}"))]


def _frequencies(page: KitPage, pen: Pen, row: float) -> list[Block]:
    name = 12.0 if len(page.channels) < 10 else 18.0
    listen = pen.column * 0.36
    send, tone, use = listen + 62.0, listen + 124.0, listen + 176.0
    head = row_of(
        pen,
        [
            Cell(listen, 58.0, "listen MHz", side="right"),
            Cell(send, 58.0, "send MHz", side="right"),
            Cell(tone, 42.0, "tone Hz", side="right"),
            Cell(use, pen.column - use, "you there"),
        ],
        row,
        0.8,
    )
    rows = [
        row_of(
            pen,
            [
                Cell(0.0, name, str(channel.order)),
                Cell(name, listen - name, pen.shortened(channel.name, listen - name - 4.0), "bold"),
                Cell(listen, 58.0, channel.listen_mhz, "bold", "right"),
                Cell(send, 58.0, channel.send_mhz, "bold", "right"),
                Cell(tone, 42.0, channel.tone, side="right"),
                Cell(use, pen.column - use, channel.use),
            ],
            row,
            0.4,
        )
        for channel in page.channels
    ]
    return [head, *rows]


def _cases(page: KitPage, pen: Pen, row: float) -> list[Block]:
    situation = min(
        max(pen.measure(case.situation, SIZE, "bold") for case in page.cases) + 8.0, pen.column * 0.27
    )
    where = max(pen.measure(case.where, SIZE) for case in page.cases) + 10.0
    whom = min(max(pen.measure(case.whom, SIZE) for case in page.cases) + 10.0, pen.column * 0.27)
    at = (0.0, situation, situation + where, situation + where + whom)

    def cells(texts: Sequence[str], weight: str) -> list[Cell]:
        ends = (*at[1:], pen.column)
        return [
            Cell(x, end - x - 4.0, text, weight if x == 0.0 else "normal")
            for x, end, text in zip(at, ends, texts)
        ]

    head = row_of(pen, cells(("when", "go to", "call", "and mind"), "normal"), row, 0.8)
    rows = [
        row_of(pen, cells((case.situation, case.where, case.whom, case.note), "bold"), row, 0.4)
        for case in page.cases
    ]
    return [head, *rows]


def _worked(page: KitPage, pen: Pen, row: float) -> list[Block]:
    down = -(-len(page.works) // _ACROSS)
    width = (pen.column - (_ACROSS - 1) * _GAP) / _ACROSS
    call = max(pen.measure(heard.call_sign, SIZE, "bold") for heard in page.works)

    def draw_line(heard_in_row: Sequence[KitHeard]) -> Block:
        def draw(pen: Pen, top: float) -> None:
            for column, heard in enumerate(heard_in_row):
                left = SIDE + column * (width + _GAP)
                baseline = top - row * 0.72
                pen.box(left + 0.5, baseline - 1.5, 9.5)
                pen.text(left + 15.0, baseline, heard.call_sign, weight="bold")
                name = pen.shortened(heard.name, width - call - 38.0)
                pen.text(left + 19.0 + call, baseline, name)
                pen.text(left + width, baseline, heard.grade, side="right")
                pen.line(left, top - row, left + width, top - row, 0.3)

        return Block(row, draw)

    return [draw_line(page.works[first::down]) for first in range(down)]


def _notes(pen: Pen, top: float, bottom: float) -> None:
    """An empty box with faint lines to write on, from top down to bottom."""
    left, right = SIDE, pen.width - SIDE
    pen.text(left, top - 10.0, "Notes", weight="bold")
    line = top - 28.0
    while line > bottom:
        pen.line(left, line, right, line, 0.25)
        line -= 20.0


def _foot(page: KitPage, pen: Pen) -> list[Block]:
    text = " ".join((*page.cautions, page.made_from, undrawn_words(kit_text(page))))
    return [rule(0.8, 4.0), paragraph(pen, words_of(text), gap=0.0)]

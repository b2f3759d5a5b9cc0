"""The sheet for the wall as PDF, A4 or Letter; one page for any usual number of cases."""

from __future__ import annotations

import io
from collections.abc import Sequence

from matplotlib.backends.backend_pdf import PdfPages

from reach.drawings.papers.paper import BOTTOM, SIDE, TOP, Block, Paper, Pen, paginated, paragraph, rule
from reach.drawings.papers.rows import Cell, danger, heading, height_of, row_of, space, words_of
from reach.drawings.papers.typeface import undrawn_words
from reach.drawings.papers.wall import HEADINGS, WallSheet, steps_of, wall_text

_ROWS = (16.0, 13.2)  # height of a row, points; the second where the first runs over a page
_SHARES = (0.03, 0.2, 0.15, 0.16, 0.2, 0.1, 0.16)  # of the column, for each of HEADINGS


def wall_pdf(sheet: WallSheet, paper: Paper = Paper.A4) -> bytes:
    """PDF of the sheet; the same sheet gives the same bytes."""
    pen = Pen(paper)
    last = " ".join((*sheet.cautions, sheet.made_from, undrawn_words(wall_text(sheet))))
    foot = [rule(0.8, 4.0), paragraph(pen, words_of(last), gap=0.0)]
    room = pen.room - height_of(foot)
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None, "Title": f"{sheet.net}: when something fails"}) as pdf:
        bodies = [_body(sheet, pen, row) for row in _ROWS]
        body = next((b for b in bodies if height_of(b) <= room), bodies[-1])
        for blocks in paginated(body, room):
            pen.start_page()
            y = pen.height - TOP
            for block in blocks:
                block.draw(pen, y)
                y -= block.height
            y = BOTTOM + height_of(foot)
            for block in foot:
                block.draw(pen, y)
                y -= block.height
            pdf.savefig(pen.figure)
    return out.getvalue()


def _body(sheet: WallSheet, pen: Pen, row: float) -> list[Block]:
    blocks = [_title(sheet, pen), rule(1.7, 4.0), paragraph(pen, words_of(sheet.headline, "bold"), 14.0, 4.0)]
    blocks += [paragraph(pen, words_of(text, "bold"), gap=4.0) for text in sheet.lacks]
    blocks += [danger(pen), *_cases(sheet, pen, row), space(row - 8.0)]
    steps = steps_of(sheet.cases)
    if steps:
        blocks += [heading(pen, "What to do, and who is out")]
        blocks += [
            row_of(pen, [Cell(0.0, 18.0, letter, "bold"), Cell(18.0, pen.column - 18.0, text)], row, 0.3)
            for letter, text in steps
        ]
        blocks.append(space(row - 8.0))
    return [*blocks, *_frequencies(sheet, pen, row)]


def _title(sheet: WallSheet, pen: Pen) -> Block:
    aside = "When something fails"
    name = pen.shortened(sheet.net, pen.column - pen.measure(aside, 14.0) - 20.0, 20.0)

    def draw(pen: Pen, top: float) -> None:
        pen.text(SIDE, top - 20.0, name, size=20.0, weight="bold")
        pen.text(pen.width - SIDE, top - 20.0, aside, size=14.0, side="right")

    return Block(25.0, draw)


def _cases(sheet: WallSheet, pen: Pen, row: float) -> list[Block]:
    starts = [sum(_SHARES[:k]) * pen.column for k in range(len(_SHARES))]

    def cells(texts: Sequence[str], bold: Sequence[int]) -> list[Cell]:
        return [
            Cell(x, share * pen.column - 6.0, text, "bold" if k in bold else "normal")
            for k, (x, share, text) in enumerate(zip(starts, _SHARES, texts))
        ]

    head = row_of(pen, cells(HEADINGS, ()), row, 0.8)
    return [head, *(row_of(pen, cells(case.row, (0, 1, 2, 4)), row, 0.4) for case in sheet.cases)]


def _frequencies(sheet: WallSheet, pen: Pen, row: float) -> list[Block]:
    name = pen.column * 0.5
    columns = ((name, 76.0), (name + 80.0, 76.0), (name + 160.0, 60.0))

    def line(first: str, figures: Sequence[str], weight: str, width: float) -> Block:
        cells = [Cell(0.0, name - 6.0, first, weight)]
        cells += [Cell(x, room, text, weight, "right") for (x, room), text in zip(columns, figures)]
        return row_of(pen, cells, row, width)

    head = line("", ("listen MHz", "send MHz", "tone Hz"), "normal", 0.8)
    rows = [line(first, figures, "bold", 0.4) for first, *figures in sheet.channels]
    return [heading(pen, "Frequencies"), head, *rows]

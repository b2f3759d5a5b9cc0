"""What papers written as PDF are laid out with: rows of cells, headings, the emergency box."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.drawings.papers.paper import LEADING, SIDE, SIZE, Block, Pen, Word, paragraph


def height_of(blocks: Sequence[Block]) -> float:
    """Points that blocks take together."""
    return sum(block.height for block in blocks)


def words_of(text: str, weight: str = "normal") -> list[Word]:
    """A text as words of one weight."""
    return [Word(word, weight) for word in text.split()]


def danger(pen: Pen) -> Block:
    """The box for the emergency number."""
    text = "Someone in danger? Call the emergency number first:"
    width = pen.measure(text, SIZE, "bold")

    def draw(pen: Pen, top: float) -> None:
        left, right, bottom = SIDE, pen.width - SIDE, top - 20.0
        for x1, y1, x2, y2 in (
            (left, top, right, top),
            (left, bottom, right, bottom),
            (left, top, left, bottom),
            (right, top, right, bottom),
        ):
            pen.line(x1, y1, x2, y2, 1.2)
        pen.text(left + 6.0, top - 14.0, text, weight="bold")
        pen.line(left + width + 12.0, top - 15.5, right - 6.0, top - 15.5, 0.5)

    return Block(27.0, draw)


def heading(pen: Pen, text: str) -> Block:
    """A heading over a table."""
    return paragraph(pen, words_of(text, "bold"), gap=1.0)


def space(height: float) -> Block:
    """Nothing, so high."""
    return Block(height, lambda pen, top: None)


@dataclass(frozen=True)
class Cell:
    """One cell of a row: x from the margin, points; room for it; figures stand to the right of x + room."""

    x: float
    room: float
    text: str
    weight: str = "normal"
    side: str = "left"


def row_of(pen: Pen, cells: Sequence[Cell], height: float, line: float) -> Block:
    """A row as high as its longest cell needs, with a line below."""
    wrapped = [(cell, lines_of(pen, cell)) for cell in cells]
    most = max(len(lines) for _, lines in wrapped)
    full = height + (most - 1) * SIZE * LEADING

    def draw(pen: Pen, top: float) -> None:
        for cell, lines in wrapped:
            x = SIDE + cell.x + (cell.room if cell.side == "right" else 0.0)
            for number, text in enumerate(lines):
                baseline = top - height * 0.72 - number * SIZE * LEADING
                pen.text(x, baseline, text, weight=cell.weight, side=cell.side)
        pen.line(SIDE, top - full, pen.width - SIDE, top - full, line)

    return Block(full, draw)


def lines_of(pen: Pen, cell: Cell) -> list[str]:
    """The text of a cell, wrapped to its room."""
    lines = [""]
    for word in cell.text.split():
        longer = f"{lines[-1]} {word}".strip()
        if lines[-1] and pen.measure(longer, SIZE, cell.weight) > cell.room:
            lines.append(word)
        else:
            lines[-1] = longer
    return lines

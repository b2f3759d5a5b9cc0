"""Paper and pen for the sheets written as PDF: text, lines and boxes in points, on A4 or Letter."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Any, Literal

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from reach.drawings.papers.typeface import PDF_FAMILIES, drawable

POINTS_PER_MM = 72.0 / 25.4
SIDE, TOP, BOTTOM = 13.0 * POINTS_PER_MM, 9.0 * POINTS_PER_MM, 9.0 * POINTS_PER_MM
SIZE, SMALL, FOOT = 11.0, 9.0, 8.5  # type sizes, points
LEADING = 1.18
_ROUNDING = 0.01  # points
Style = Literal["normal", "italic"]
_FAMILY = list(PDF_FAMILIES)


class Paper(Enum):
    """Sheet sizes, (width, height) in mm: ISO 216 A4 and ANSI Letter."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)


@dataclass(frozen=True)
class Block:
    """Something of a known height that is drawn with its top at a given y. together : keeps with the next."""

    height: float
    draw: Callable[[Pen, float], None]
    together: bool = False


@dataclass(frozen=True)
class Word:
    """One word of a paragraph."""

    text: str
    weight: str = "normal"
    style: Style = "normal"


def paginated(blocks: Sequence[Block], room: float) -> list[list[Block]]:
    """Blocks on pages of that much room, points; those that keep together are not parted."""
    pages: list[list[Block]] = [[]]
    used = 0.0
    for place, block in enumerate(blocks):
        need, follower = block.height, place
        while blocks[follower].together and follower + 1 < len(blocks):
            follower += 1
            need += blocks[follower].height
        if pages[-1] and used + need > room + _ROUNDING:
            pages.append([])
            used = 0.0
        pages[-1].append(block)
        used += block.height
    return pages


class Pen:
    """Draws in points from the lower left corner and measures text."""

    def __init__(self, paper: Paper) -> None:
        self.width, self.height = (mm * POINTS_PER_MM for mm in paper.value)
        self.column = self.width - 2 * SIDE
        self.room = self.height - TOP - BOTTOM
        self._ruler = FigureCanvasAgg(Figure(dpi=72)).get_renderer()
        self._widths: dict[tuple[str, float, str, str], float] = {}
        self.figure = Figure()
        self.start_page()

    def start_page(self) -> None:
        """A fresh sheet of paper."""
        self.figure = Figure(figsize=(self.width / 72.0, self.height / 72.0), dpi=72)

    def measure(self, text: str, size: float, weight: str = "normal", style: Style = "normal") -> float:
        """Width of a text, points."""
        text = drawable(text)
        key = (text, size, weight, style)
        if key not in self._widths:
            font = FontProperties(family=_FAMILY, size=size * 16, weight=weight, style=style)
            width, _, _ = self._ruler.get_text_width_height_descent(text or " ", font, ismath=False)
            self._widths[key] = float(width) / 16.0 if text else 0.0
        return self._widths[key]

    def text(self, x: float, baseline: float, text: str, *, size: float = SIZE, weight: str = "normal",
             style: Style = "normal", side: str = "left") -> None:  # fmt: skip
        """One line of text, never read as a formula."""
        drawn = Text(
            x,
            baseline,
            drawable(text),
            ha=side,
            va="baseline",
            family=_FAMILY,
            size=size,
            weight=weight,
            style=style,
        )
        drawn.set_parse_math(False)
        self._put(drawn)

    def line(self, x1: float, y1: float, x2: float, y2: float, width: float = 0.4) -> None:
        """A black line."""
        self._put(Line2D([x1, x2], [y1, y2], color="black", linewidth=width))

    def box(self, x: float, y: float, size: float) -> None:
        """A square to tick, (x, y) its lower left corner."""
        self._put(Rectangle((x, y), size, size, fill=False, edgecolor="black", linewidth=0.9))

    def _put(self, artist: Any) -> None:
        self.figure.add_artist(artist)
        artist.set_transform(self.figure.dpi_scale_trans.frozen() + _points(self.figure))

    def shortened(self, text: str, room: float, size: float = SIZE) -> str:
        """The text, cut with an ellipsis where it does not fit."""
        if self.measure(text, size) <= room:
            return text
        while text and self.measure(text + "…", size) > room:
            text = text[:-1]
        return text.rstrip() + "…"


def _points(figure: Figure) -> Any:
    from matplotlib.transforms import Affine2D

    return Affine2D().scale(1.0 / 72.0)


def paragraph(
    pen: Pen, words: Sequence[Word], size: float = SIZE, gap: float = 2.0, indent: float = 0.0
) -> Block:
    """Words wrapped to the column."""
    space = pen.measure("n n", size) - pen.measure("nn", size)
    lines: list[list[tuple[float, Word]]] = [[]]
    x = 0.0
    for word in words:
        width = pen.measure(word.text, size, word.weight, word.style)
        if lines[-1] and x + width > pen.column - indent:
            lines.append([])
            x = 0.0
        lines[-1].append((x, word))
        x += width + space
    step = size * LEADING

    def draw(pen: Pen, top: float) -> None:
        for number, line in enumerate(lines):
            for at, word in line:
                pen.text(
                    SIDE + indent + at,
                    top - size * 0.9 - number * step,
                    word.text,
                    size=size,
                    weight=word.weight,
                    style=word.style,
                )

    return Block(len(lines) * step + gap, draw)


def rule(width: float, gap: float) -> Block:
    """A line across the column, `gap` points high in all."""

    def draw(pen: Pen, top: float) -> None:
        pen.line(SIDE, top - gap / 2, pen.width - SIDE, top - gap / 2, width)

    return Block(gap, draw)

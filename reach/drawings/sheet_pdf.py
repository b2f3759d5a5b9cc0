"""The run sheet as PDF, A4 or Letter: one page for a club's net, more when the list is longer."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from typing import Any, Literal

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.font_manager import FontProperties, findfont, get_font
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

from reach.drawings.run_sheet import RunSheet, SheetGroup, SheetRow

_POINTS_PER_MM = 72.0 / 25.4
_SIDE, _TOP, _BOTTOM = 13.0 * _POINTS_PER_MM, 9.0 * _POINTS_PER_MM, 9.0 * _POINTS_PER_MM
_SIZE, _SMALL, _FOOT = 11.0, 9.0, 8.5  # type sizes, points
_LEADING = 1.18
_ROUNDING = 0.01  # points
_LOWEST_ROW, _AIRY_ROW, _FLOWING_ROW, _HIGHEST_ROW = (mm * _POINTS_PER_MM for mm in (5.5, 6.5, 6.8, 8.0))
_Style = Literal["normal", "italic"]
_FAMILY = [
    "STIXGeneral",
    "DejaVu Sans",
]  # a narrow face, then one with more letters; both come with matplotlib


class Paper(Enum):
    """Sheet sizes, (width, height) in mm: ISO 216 A4 and ANSI Letter."""

    A4 = (210.0, 297.0)
    LETTER = (215.9, 279.4)


class _Headings(Enum):
    """Which groups have their heading on a line of its own; the kinds stand beside each row anyway."""

    ALL = "all"
    RELAYS = "relays"


@dataclass(frozen=True)
class _Block:
    """Something of a known height that is drawn with its top at a given y. together : keeps with the next."""

    height: float
    draw: Callable[[_Pen, float], None]
    together: bool = False


def drawable(text: str) -> str:
    """The text with a stand-in for each character that neither typeface has (the HTML page shows them
    all)."""
    return "".join(c if ord(c) in _letters() else "\N{REPLACEMENT CHARACTER}" for c in text)


@lru_cache(maxsize=1)
def _letters() -> frozenset[int]:
    return frozenset(code for family in _FAMILY for code in get_font(findfont(family)).get_charmap())


def sheet_pdf(sheet: RunSheet, paper: Paper = Paper.A4) -> bytes:
    """PDF of the sheet; the same sheet gives the same bytes."""
    pen = _Pen(paper)
    head, tail = _head(sheet, pen), _tail(sheet, pen)
    blocks = [*head, *_table(sheet, pen, _FLOWING_ROW, _Headings.ALL), *tail]
    for headings, lowest in ((_Headings.ALL, _AIRY_ROW), (_Headings.RELAYS, _LOWEST_ROW)):
        fixed = sum(block.height for block in [*head, *_table(sheet, pen, 0.0, headings), *tail])
        row_height = min(
            (pen.room - fixed) / max(sum(len(group.rows) for group in sheet.groups), 1), _HIGHEST_ROW
        )
        if row_height >= lowest:
            blocks = [*head, *_table(sheet, pen, row_height, headings), *tail]
            break
    pages = _pages(blocks, pen.room)
    out = io.BytesIO()
    with PdfPages(out, metadata={"CreationDate": None, "Title": f"{sheet.title}: run sheet"}) as pdf:
        for number, page in enumerate(pages, start=1):
            pen.start_page()
            y = pen.height - _TOP
            for block in page:
                block.draw(pen, y)
                y -= block.height
            if len(pages) > 1:
                pen.text(
                    pen.width - _SIDE,
                    _BOTTOM * 0.4,
                    f"page {number} of {len(pages)}",
                    size=_FOOT,
                    side="right",
                )
            pdf.savefig(pen.figure)
    return out.getvalue()


def _pages(blocks: Sequence[_Block], room: float) -> list[list[_Block]]:
    pages: list[list[_Block]] = [[]]
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


class _Pen:
    """Draws in points from the lower left corner and measures text."""

    def __init__(self, paper: Paper) -> None:
        self.width, self.height = (mm * _POINTS_PER_MM for mm in paper.value)
        self.column = self.width - 2 * _SIDE
        self.room = self.height - _TOP - _BOTTOM
        self._ruler = FigureCanvasAgg(Figure(dpi=72)).get_renderer()
        self._widths: dict[tuple[str, float, str, str], float] = {}
        self.figure = Figure()
        self.start_page()

    def start_page(self) -> None:
        """A fresh sheet of paper."""
        self.figure = Figure(figsize=(self.width / 72.0, self.height / 72.0), dpi=72)

    def measure(self, text: str, size: float, weight: str = "normal", style: _Style = "normal") -> float:
        """Width of a text, points."""
        text = drawable(text)
        key = (text, size, weight, style)
        if key not in self._widths:
            font = FontProperties(family=_FAMILY, size=size * 16, weight=weight, style=style)
            width, _, _ = self._ruler.get_text_width_height_descent(text or " ", font, ismath=False)
            self._widths[key] = float(width) / 16.0 if text else 0.0
        return self._widths[key]

    def text(self, x: float, baseline: float, text: str, *, size: float = _SIZE, weight: str = "normal",
             style: _Style = "normal", side: str = "left") -> None:  # fmt: skip
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

    def shortened(self, text: str, room: float, size: float = _SIZE) -> str:
        """The text, cut with an ellipsis where it does not fit."""
        if self.measure(text, size) <= room:
            return text
        while text and self.measure(text + "…", size) > room:
            text = text[:-1]
        return text.rstrip() + "…"


def _points(figure: Figure) -> Any:
    from matplotlib.transforms import Affine2D

    return Affine2D().scale(1.0 / 72.0)


@dataclass(frozen=True)
class _Word:
    text: str
    weight: str = "normal"
    style: _Style = "normal"


def _paragraph(
    pen: _Pen, words: Sequence[_Word], size: float = _SIZE, gap: float = 2.0, indent: float = 0.0
) -> _Block:
    """Words wrapped to the column."""
    space = pen.measure("n n", size) - pen.measure("nn", size)
    lines: list[list[tuple[float, _Word]]] = [[]]
    x = 0.0
    for word in words:
        width = pen.measure(word.text, size, word.weight, word.style)
        if lines[-1] and x + width > pen.column - indent:
            lines.append([])
            x = 0.0
        lines[-1].append((x, word))
        x += width + space
    step = size * _LEADING

    def draw(pen: _Pen, top: float) -> None:
        for number, line in enumerate(lines):
            for at, word in line:
                pen.text(
                    _SIDE + indent + at,
                    top - size * 0.9 - number * step,
                    word.text,
                    size=size,
                    weight=word.weight,
                    style=word.style,
                )

    return _Block(len(lines) * step + gap, draw)


def _said(heading: str, text: str) -> list[_Word]:
    return [_Word(word, "bold") for word in heading.split()] + [_Word(word) for word in text.split()]


def _rule(width: float, gap: float) -> _Block:
    def draw(pen: _Pen, top: float) -> None:
        pen.line(_SIDE, top - gap / 2, pen.width - _SIDE, top - gap / 2, width)

    return _Block(gap, draw)


def _head(sheet: RunSheet, pen: _Pen) -> list[_Block]:
    title = pen.shortened(sheet.title, pen.column, 15.0)

    def draw_title(pen: _Pen, top: float) -> None:
        pen.text(_SIDE, top - 13.0, title, size=15.0, weight="bold")

    blocks = [_Block(19.0, draw_title), _facts(sheet, pen), _rule(1.4, 6.0)]
    if sheet.before:
        blocks += [
            _paragraph(pen, _said("Before leaving the repeater:", " ".join(sheet.before))),
            _rule(0.5, 5.0),
        ]
    for heading, text in (
        ("Opening:", sheet.opening),
        ("Priority:", sheet.priority),
        ("Check-ins:", sheet.check_in),
    ):
        if text:
            blocks.append(_paragraph(pen, _said(heading, text)))
    return blocks


def _facts(sheet: RunSheet, pen: _Pen) -> _Block:
    """Label and text kept together, several to a line."""
    gap, step = 14.0, _SIZE * 1.3
    lines: list[list[tuple[float, str, str, float]]] = [[]]
    x = 0.0
    for label, text in sheet.facts:
        text = pen.shortened(text, pen.column * 0.8)
        label_width = pen.measure(f"{label}:", _SIZE, "bold") + 4.0
        width = label_width + pen.measure(text, _SIZE)
        if lines[-1] and x + width > pen.column:
            lines.append([])
            x = 0.0
        lines[-1].append((x, f"{label}:", text, label_width))
        x += width + gap

    def draw(pen: _Pen, top: float) -> None:
        for number, line in enumerate(lines):
            for at, label, text, label_width in line:
                baseline = top - _SIZE - number * step
                pen.text(_SIDE + at, baseline, label, weight="bold")
                pen.text(_SIDE + at + label_width, baseline, text)

    return _Block(len(lines) * step + 1.0, draw)


def _tail(sheet: RunSheet, pen: _Pen) -> list[_Block]:
    blocks = [_rule(0.0, 3.0)]
    if sheet.closing:
        blocks.append(_paragraph(pen, _said("Closing:", sheet.closing)))
    foot = " ".join((sheet.made_from, *sheet.cautions))
    blocks += [_rule(0.5, 5.0), _paragraph(pen, [_Word(word) for word in foot.split()], _FOOT, 0.0)]
    together = [_Block(block.height, block.draw, together=True) for block in blocks[:-1]]
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


def _columns(sheet: RunSheet, pen: _Pen) -> _Columns:
    rows = [row for group in sheet.groups for row in group.rows]
    call = 6.5 * _POINTS_PER_MM
    spoken = call + max((pen.measure(row.call_sign, _SIZE, "bold") for row in rows), default=40.0) + 7.0
    widest = max((pen.measure(row.spoken, _SIZE) for row in rows), default=150.0)
    name = spoken + min(widest, pen.column * 0.42) + 7.0
    time = pen.column - 15.0 * _POINTS_PER_MM
    hears_me = time - 14.0 * _POINTS_PER_MM
    hear = hears_me - 12.0 * _POINTS_PER_MM
    return _Columns(call, spoken, name, hear, hears_me, time, pen.column)


def _table(sheet: RunSheet, pen: _Pen, row_height: float, headings: _Headings) -> list[_Block]:
    columns = _columns(sheet, pen)

    def draw_heading(pen: _Pen, top: float) -> None:
        labels = ((columns.call, "call sign"), (columns.spoken, "as spoken"), (columns.name, "name"))
        for at, label in (
            *labels,
            (columns.hear + 3, "I hear"),
            (columns.hears_me + 3, "hears me"),
            (columns.time + 3, "time"),
        ):
            pen.text(_SIDE + at, top - 9.0, label, size=_SMALL)
        pen.line(_SIDE, top - 12.0, pen.width - _SIDE, top - 12.0, 0.8)

    blocks = [_Block(13.0, draw_heading, together=True)]
    for group in sheet.groups:
        if headings is _Headings.ALL or not group.is_kind:
            blocks.append(_group_heading(group, pen))
        elif group is not sheet.groups[0]:
            blocks.append(_rule(1.2, 1.6))
        blocks += [_row(row, columns, pen, row_height) for row in group.rows]
    return blocks


def _group_heading(group: SheetGroup, pen: _Pen) -> _Block:
    heading = (
        [_Word(word, "bold") for word in f"{group.heading}.".split()]
        if group.words
        else [_Word(word, "bold") for word in group.heading.split()]
    )
    words = [*heading, *(_Word(word, style="italic") for word in group.words.split())]
    text = _paragraph(pen, words, gap=0.0)

    def draw(pen: _Pen, top: float) -> None:
        text.draw(pen, top - 4.0)

    return _Block(text.height + 5.0, draw, together=True)


def _row(row: SheetRow, columns: _Columns, pen: _Pen, height: float) -> _Block:
    aside_room = pen.measure(row.aside, _SMALL)
    name = pen.shortened(row.name, columns.hear - columns.name - aside_room - 9.0)
    said = pen.shortened(row.spoken, columns.name - columns.spoken - 4.0)

    def draw(pen: _Pen, top: float) -> None:
        baseline = top - height / 2 - _SIZE * 0.34
        side = 10.5
        pen.box(_SIDE + 1.0, top - height / 2 - side / 2, side)
        pen.text(_SIDE + columns.call, baseline, row.call_sign, weight="bold")
        pen.text(_SIDE + columns.spoken, baseline, said)
        pen.text(_SIDE + columns.name, baseline, name)
        pen.text(_SIDE + columns.hear - aside_room - 4.0, baseline, row.aside, size=_SMALL)
        for at in (columns.hear, columns.hears_me, columns.time):
            pen.line(_SIDE + at, top, _SIDE + at, top - height, 0.4)
        pen.line(_SIDE, top - height, pen.width - _SIDE, top - height, 0.4)

    return _Block(height, draw)

"""Every colour, line weight, pattern and outline of the maps, plots and tables: said once, here.

Meaning is carried three times, by colour, weight and pattern, so that colour-blind readers and grey print
lose nothing. Sources:

- The sequential ramp is "Blues", 9 classes, of ColorBrewer 2 (Apache-style licence),
  a single hue from light to dark, rated colour-blind safe and print friendly by its authors. The same values
  stand in matplotlib's "Blues" map, which the tests compare with.
- The accent is the vermilion of the Okabe-Ito set for all kinds of colour vision (2008).
- Weights, dashes and outlines are this program's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from reach.links.grade import Grade

BLUES = ("#f7fbff", "#deebf7", "#c6dbef", "#9ecae1", "#6baed6", "#4292c6", "#2171b5", "#08519c", "#08306b")

ACCENT = "#d55e00"  # needs attention: cut off, hears only
ACCENT_TEXT = "#a84800"  # the accent darkened until small text is legible
INK = "#17202b"  # text, outlines
QUIET_INK = "#55606c"  # secondary text
PAPER = "#ffffff"
RULE = "#d5dae0"  # hairlines between parts of a page, grid lines
WATER = (222, 231, 236)  # faint tint, red green blue
RELIEF_DARK, RELIEF_LIGHT = 196, 253  # grey range of the shaded relief
GAP = (248, 246, 241)  # no elevation known: plain, warmer than relief and water
GROUND_FILL = "#d8d8d4"
GROUND_LINE = "#6d6d68"
CLUTTER_FILL = "#bfc3b8"


@dataclass(frozen=True)
class LineStyle:
    """How one kind of line is drawn.

    colour : #rrggbb; weight : width in CSS pixels; dash : pattern in pixels, empty for a solid line;
    arrow : an open arrow head at the listener's end; cased : a light core, so that the line shows as two.
    """

    colour: str
    weight: float
    dash: tuple[float, ...] = ()
    arrow: bool = False
    cased: bool = False


GRADE_LINES: dict[Grade, LineStyle] = {
    Grade.CLEAR: LineStyle(BLUES[8], 4.2),
    Grade.SOLID: LineStyle(BLUES[7], 2.8),
    Grade.WORKABLE: LineStyle(BLUES[6], 1.4),
    Grade.WEAK: LineStyle(BLUES[5], 1.4, (3.0, 5.0)),
}  # NONE is never drawn

ONE_WAY_LINE = LineStyle(BLUES[7], 1.8, (), arrow=True)
HEARS_ONLY_LINE = LineStyle(ACCENT, 2.2, (9.0, 4.0), arrow=True)
GETS_IN_ONLY_LINE = LineStyle(ACCENT, 2.2, (2.0, 4.0), arrow=True)
RELAY_LINE = LineStyle(INK, 6.0, (), cased=True)

SIGHT_LINE = LineStyle(INK, 1.2)
FRESNEL_LINE = LineStyle(BLUES[6], 1.1)
FRESNEL_60_LINE = LineStyle(BLUES[7], 1.2, (4.0, 2.5))


class Outline(Enum):
    """Outline of a station's dot: how it is powered. Value: (stroke width in pixels, dash, words)."""

    MAINS_ONLY = (1.4, (), "mains only")
    BACKED_UP = (3.4, (), "has battery or other backup")

    @property
    def width(self) -> float:
        """Stroke width, px."""
        return self.value[0]

    @property
    def words(self) -> str:
        """What the outline means."""
        return self.value[2]


@dataclass(frozen=True)
class ChanceStep:
    """A class of coverage, from a chance of working up. fill : #rrggbb; opacity 0..1; words for legends."""

    from_chance: float
    fill: str
    opacity: float
    words: str


CHANCE_STEPS: tuple[ChanceStep, ...] = (
    ChanceStep(0.5, BLUES[3], 0.55, "even: 5 in 10 and up"),
    ChanceStep(0.7, BLUES[5], 0.55, "likely: 7 in 10 and up"),
    ChanceStep(0.9, BLUES[7], 0.55, "likely: 9 in 10 and up"),
    ChanceStep(0.99, BLUES[8], 0.62, "almost sure: 99 in 100 and up"),
)


def css_variables() -> str:
    """The colours as variables for the pages' style sheets."""
    named = {
        "ink": INK,
        "quiet": QUIET_INK,
        "paper": PAPER,
        "rule": RULE,
        "accent": ACCENT,
        "accent-text": ACCENT_TEXT,
        "blue": BLUES[7],
        "chosen": BLUES[1],
        "hover": BLUES[0],
        "gap": "#{:02x}{:02x}{:02x}".format(*GAP),
    }
    return ":root { " + " ".join(f"--{name}: {colour};" for name, colour in named.items()) + " }"


def rgb(colour: str) -> tuple[int, int, int]:
    """Red, green, blue 0..255 of a #rrggbb colour. Raises ValueError for any other text."""
    if len(colour) != 7 or colour[0] != "#":
        raise ValueError(f"{colour!r} is not a #rrggbb colour")
    return int(colour[1:3], 16), int(colour[3:5], 16), int(colour[5:7], 16)

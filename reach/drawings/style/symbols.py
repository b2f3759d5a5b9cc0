"""The station symbols, as small SVG drawings of our own; maps and legends show the very same ones."""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

from reach.drawings.style.palette import ACCENT, INK, PAPER, LineStyle, Outline

BOX_PX = 30


class Mark(Enum):
    """What a symbol says beyond category and power."""

    MEMBER = "member"
    RELAY = "relay"
    CONTROL = "control"
    HEARS_ONLY = "hears only"
    CUT_OFF = "cut off"
    OUTSIDE = "outside the coverage"
    SILENT = "off the air"
    REPEATER = "repeater"
    SITE = "site"
    PROPOSED = "proposed site"
    ALTERNATIVE = "alternative site"

    @property
    def needs_attention(self) -> bool:
        """Shown in the accent."""
        return self in (Mark.HEARS_ONLY, Mark.CUT_OFF, Mark.OUTSIDE)


@dataclass(frozen=True)
class Symbol:
    """One symbol: what it marks, the category's letter ('' for none), and the outline for its power."""

    mark: Mark
    letter: str = ""
    outline: Outline = Outline.MAINS_ONLY

    @property
    def key(self) -> str:
        """Short name, unique per drawing."""
        return f"{self.mark.name}-{self.letter}-{self.outline.name}".lower()


def symbol_svg(symbol: Symbol, *, size_px: int = BOX_PX) -> str:
    """The drawing as an inline SVG element. Raises ValueError for a letter not a-z: no user text here."""
    if symbol.letter and not (len(symbol.letter) == 1 and "a" <= symbol.letter <= "z"):
        raise ValueError(f"{symbol.letter!r} is not a category letter")
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size_px}" height="{size_px}" '
        f'viewBox="-15 -15 30 30" aria-hidden="true" focusable="false">{_body(symbol)}</svg>'
    )


def _body(symbol: Symbol) -> str:
    stroke, width = INK, symbol.outline.width
    if symbol.mark in (Mark.REPEATER, Mark.SITE):
        return _mast()
    if symbol.mark is Mark.PROPOSED:
        return _proposed()
    if symbol.mark is Mark.ALTERNATIVE:
        return f'<path d="M0 -7 L7 0 L0 7 L-7 0 Z" fill="{PAPER}" stroke="{INK}" stroke-width="1.8"/>'
    if symbol.mark is Mark.CONTROL:
        # a light rim keeps the square apart from dark links; backup shows as an inner frame
        frame = (
            f'<rect x="-7.2" y="-7.2" width="14.4" height="14.4" fill="none" stroke="{PAPER}" '
            'stroke-width="1.3"/>'
            if symbol.outline is Outline.BACKED_UP
            else ""
        )
        return (
            f'<rect x="-10" y="-10" width="20" height="20" rx="1.5" fill="{stroke}" stroke="{PAPER}" '
            f'stroke-width="1.5"/>{frame}{_letter(symbol.letter, PAPER)}'
        )
    if symbol.mark in (Mark.CUT_OFF, Mark.OUTSIDE):
        return (
            f'<circle r="9.4" fill="{PAPER}" fill-opacity="0.85"/>'
            f'<circle r="8.4" fill="none" stroke="{ACCENT}" stroke-width="{max(width, 2.0):g}" '
            f'stroke-dasharray="4 2.6"/>{_letter(symbol.letter, ACCENT)}'
        )
    if symbol.mark is Mark.SILENT:
        return (
            f'<g opacity="0.62"><circle r="8.6" fill="{PAPER}" stroke="{INK}" stroke-width="1.1"/>'
            f"{_letter(symbol.letter, INK)}"
            f'<path d="M-8.4 8.4 L8.4 -8.4" stroke="{INK}" stroke-width="1.6"/></g>'
        )
    if symbol.mark is Mark.HEARS_ONLY:
        stroke, width = ACCENT, max(width, 2.0)
    ring = ""
    if symbol.mark is Mark.RELAY:
        ring = (
            f'<circle r="12.2" fill="none" stroke="{PAPER}" stroke-width="4.6"/>'
            f'<circle r="12.2" fill="none" stroke="{INK}" stroke-width="2"/>'
        )
    return (
        f'{ring}<circle r="9.6" fill="{PAPER}"/>'
        f'<circle r="{9.0 - width / 2.0:g}" fill="{PAPER}" stroke="{stroke}" stroke-width="{width:g}"/>'
        f"{_letter(symbol.letter, stroke)}"
    )


def _letter(letter: str, colour: str) -> str:
    if not letter:
        return ""
    return (
        f'<text y="3.4" text-anchor="middle" font-family="system-ui,sans-serif" font-size="10" '
        f'font-weight="700" fill="{colour}">{letter}</text>'
    )


def _mast() -> str:
    """A braced mast with two arcs of waves, on a light ground."""
    return (
        f'<circle r="14" fill="{PAPER}" fill-opacity="0.9" stroke="{INK}" stroke-width="1"/>'
        f'<g fill="none" stroke="{INK}" stroke-width="1.7" stroke-linecap="round" stroke-linejoin="round">'
        '<path d="M-5 10.5 L0 -5 L5 10.5"/><path d="M-3.6 6.2 L3 4.2 M3.6 6.2 L-3 4.2" stroke-width="1.1"/>'
        '<path d="M-4.2 -9.4 A6 6 0 0 0 -4.2 -1.2 M4.2 -9.4 A6 6 0 0 1 4.2 -1.2"/>'
        '<path d="M-7.3 -11 A9.6 9.6 0 0 0 -7.3 0.6 M7.3 -11 A9.6 9.6 0 0 1 7.3 0.6" stroke-width="1.2"/></g>'
        f'<circle cy="-5.2" r="1.9" fill="{INK}"/>'
    )


def _proposed() -> str:
    """A filled diamond with a guyed mast in it: a place where a mast might be put up."""
    return (
        f'<path d="M0 -13.6 L13.6 0 L0 13.6 L-13.6 0 Z" fill="{INK}" stroke="{PAPER}" stroke-width="1.6" '
        'stroke-linejoin="round"/>'
        f'<g fill="none" stroke="{PAPER}" stroke-width="1.5" stroke-linecap="round">'
        '<path d="M0 6 V-6.5"/><path d="M-5.4 6 L0 -3 L5.4 6" stroke-width="1.1"/></g>'
        f'<circle cy="-6.8" r="1.7" fill="{PAPER}"/>'
    )


def line_svg(style: LineStyle, *, width_px: int = 46, height_px: int = 14) -> str:
    """A sample of a line for a legend, drawn with the map's own weight, pattern and arrow."""
    middle = height_px / 2
    end = width_px - (9 if style.arrow else 2)
    dash = f' stroke-dasharray="{" ".join(f"{d:g}" for d in style.dash)}"' if style.dash else ""
    run = f'<path d="M2 {middle:g} H{end}" fill="none"'
    parts = [f'{run} stroke="{style.colour}" stroke-width="{style.weight:g}"{dash}/>']
    if style.cased:
        parts.append(f'{run} stroke="{PAPER}" stroke-width="{style.weight / 2.4:.2g}"/>')
    if style.arrow:
        parts.append(
            f'<path d="M{end - 1} {middle - 4.5:g} L{end + 7} {middle:g} L{end - 1} {middle + 4.5:g}" '
            f'stroke="{style.colour}" stroke-width="1.8" fill="none" stroke-linejoin="miter"/>'
        )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width_px}" height="{height_px}" '
        f'viewBox="0 0 {width_px} {height_px}" aria-hidden="true" focusable="false">{"".join(parts)}</svg>'
    )

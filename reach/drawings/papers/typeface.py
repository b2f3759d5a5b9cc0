"""The typefaces a sheet carries with it, so that its page is the same on every machine.

STIX General, a narrow serif, and DejaVu Sans for the letters it lacks. Both come with matplotlib, whose
folder of fonts also holds their licences (SIL Open Font License 1.1; Bitstream Vera's licence, DejaVu's
changes in the public domain). A page carries only the letters it shows; the notice goes with them.
"""

from __future__ import annotations

import base64
import io
import logging
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, lru_cache
from html import unescape
from pathlib import Path

import matplotlib
from fontTools.subset import Options, Subsetter
from fontTools.ttLib import TTFont
from matplotlib.font_manager import get_font

from reach.visible import visible

PDF_FAMILIES = ("STIXGeneral", "DejaVu Sans")  # names matplotlib knows them by, in order of preference
NOTICE = (
    "The letters are a part of STIX General (copyright (c) 2001-2010 by the STI Pub Companies; SIL Open Font "
    "License 1.1, openfontlicense.org) and, where it lacks one, of DejaVu Sans (copyright (c) 2003 by "
    "Bitstream, Inc.; DejaVu's changes are in the public domain)."
)
UNDRAWN = "\N{REPLACEMENT CHARACTER}"
UNDRAWN_WORDS = (
    f"{UNDRAWN} stands for a letter this PDF has no typeface for; the page made for the browser shows it."
)
BORROWED_WORDS = (
    "Some names have letters that this page does not carry; your device's typefaces show them. A box or a "
    "gap in a name means that it has none."
)


@dataclass(frozen=True)
class _Face:
    file: str
    family: str
    weight: str = "normal"
    style: str = "normal"


_NARROW = (
    _Face("STIXGeneral.ttf", "sheet"),
    _Face("STIXGeneralBol.ttf", "sheet", weight="bold"),
    _Face("STIXGeneralItalic.ttf", "sheet", style="italic"),
)
_WIDER = (
    _Face("DejaVuSans.ttf", "sheet-more"),
    _Face("DejaVuSans-Bold.ttf", "sheet-more", weight="bold"),
    _Face("DejaVuSans-Oblique.ttf", "sheet-more", style="italic"),
)
PAGE_FAMILIES = 'sheet, sheet-more, "Times New Roman", "Liberation Serif", Times, serif'


def _path(face: _Face) -> Path:
    return Path(matplotlib.get_data_path()) / "fonts" / "ttf" / face.file


@cache
def _letters(face: _Face) -> frozenset[int]:
    with TTFont(_path(face), lazy=True) as font:
        return frozenset(font.getBestCmap()) & frozenset(get_font(_path(face)).get_charmap())


@lru_cache(maxsize=8192)
def drawable(text: str) -> str:
    """The text with a stand-in for each letter that a PDF cannot show as it is written.

    That is: in neither typeface, written from right to left, or joined by a combining mark of its script,
    which matplotlib sets letter by letter. A browser shows them all.
    """
    text = unicodedata.normalize("NFC", visible(text))
    return text if text.isascii() else "".join(c if _drawn(c) else UNDRAWN for c in text)


def undrawn_words(text: str) -> str:
    """What a PDF says of the letters of its text that it cannot show; '' when it shows them all."""
    return UNDRAWN_WORDS if UNDRAWN in drawable(text) else ""


def _drawn(letter: str) -> bool:
    if unicodedata.bidirectional(letter) in {"R", "AL"} or unicodedata.category(letter) in {"Mc", "Me"}:
        return False
    return _carried(letter)


def _carried(letter: str) -> bool:
    """In every style: the bold and the italic have fewer letters."""
    code = ord(letter)
    return all(code in _letters(narrow) or code in _letters(wider) for narrow, wider in zip(_NARROW, _WIDER))


def with_faces(draw: Callable[[str, str], str]) -> str:
    """A page drawn with the typefaces of just the letters it shows.

    draw : CSS rules, and what to say of letters in neither typeface ('' without), to the page's HTML.
    """
    page = unescape(draw("", ""))
    shown = frozenset(map(ord, page + BORROWED_WORDS))
    borrowed = any(letter.isprintable() and not _carried(letter) for letter in set(page))
    narrow = shown.intersection(*map(_letters, _NARROW))
    rules = [f"/* {NOTICE} */"]
    for faces, wanted in ((_NARROW, narrow), (_WIDER, shown - narrow)):
        rules += [_rule(face, letters) for face in faces if (letters := wanted & _letters(face))]
    return draw("\n".join(rules), BORROWED_WORDS if borrowed else "")


def _rule(face: _Face, letters: frozenset[int]) -> str:
    source = f"url(data:font/woff;base64,{_part_of(face, letters)})"
    return (
        f"@font-face {{ font-family: {face.family}; font-weight: {face.weight}; font-style: {face.style};"
        f" src: {source} }}"
    )


@lru_cache(maxsize=32)
def _part_of(face: _Face, letters: frozenset[int]) -> str:
    """The face cut down to some letters, as WOFF in base64; the same letters give the same text."""
    options = Options(hinting=False, layout_features=["kern"], recalc_timestamp=False, notdef_outline=True)
    out = io.BytesIO()
    with TTFont(_path(face), recalcTimestamp=False) as font:
        subsetter = Subsetter(options)
        subsetter.populate(unicodes=sorted(letters))
        quiet = logging.getLogger("fontTools.subset")
        level = quiet.level
        quiet.setLevel(logging.ERROR)  # it warns of a table of the editor's own that it drops
        try:
            subsetter.subset(font)
        finally:
            quiet.setLevel(level)
        font.flavor = "woff"
        font.save(out)
    return base64.b64encode(out.getvalue()).decode("ascii")

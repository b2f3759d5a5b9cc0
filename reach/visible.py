"""Text from anywhere made safe to read: what would steer a terminal or turn a line round is written out.

Terminals obey control characters (ECMA-48), and the direction characters of the Unicode Bidirectional
Algorithm (UAX #9) reorder what stands beside them; a name, a file name or a broken line may hold either.
"""

from __future__ import annotations

import re
import unicodedata

_STEERING = {"Cc", "Cf", "Cs", "Zl", "Zp"}  # controls, formats, surrogates, line and paragraph separators
_JOINERS = "\N{ZERO WIDTH NON-JOINER}\N{ZERO WIDTH JOINER}"  # part of how some scripts are written
_LONGEST_WORD = 240  # letters in a row before a value is shown by its ends
_SHOWN_OF_IT = 60


def visible(text: str) -> str:
    r"""One line with every steering character written out: ESC as \x1b, a right-to-left override as \u202e.

    A byte of a file name that is no UTF-8 (kept as a lone surrogate) is written as that byte, \xff.
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(_written_out(c) if _steers(c) else c for c in text)


def visible_lines(text: str) -> str:
    """Several lines, each made visible; line feeds stay. A carriage return before one is dropped."""
    return "\n".join(visible(line.removesuffix("\r")) for line in text.split("\n"))


def shortened_words(text: str) -> str:
    """The text with every word beyond all sense (a 5,000-digit number, say) shown by its ends."""

    def ends(word: re.Match[str]) -> str:
        whole = word[0]
        return f"{whole[:_SHOWN_OF_IT]}…{whole[-_SHOWN_OF_IT:]} ({len(whole):,} characters)"

    return re.sub(rf"\S{{{_LONGEST_WORD},}}", ends, text)


_ASCII_FOR = str.maketrans(
    {
        "\N{MINUS SIGN}": "-",
        "\N{EN DASH}": "-",
        "\N{MIDDLE DOT}": "|",
        "\N{MICRO SIGN}": "u",
        "\N{HORIZONTAL ELLIPSIS}": ".",
        "\N{DEGREE SIGN}": " deg",
    }
)


def in_ascii(text: str) -> str:
    """The text for a terminal or file that takes nothing else; each other letter is a question mark."""
    return text.translate(_ASCII_FOR).encode("ascii", "replace").decode("ascii")


def _steers(character: str) -> bool:
    return unicodedata.category(character) in _STEERING and character not in _JOINERS


def _written_out(character: str) -> str:
    code = ord(character)
    if 0xDC80 <= code <= 0xDCFF:  # PEP 383: an undecodable byte
        code -= 0xDC00
    return f"\\x{code:02x}" if code < 0x100 else f"\\u{code:04x}" if code < 0x10000 else f"\\U{code:08x}"

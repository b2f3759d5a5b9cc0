"""Call signs as they are spoken.

Code words of the international spelling alphabet: ITU Radio Regulations, Appendix 14 (the same words as ICAO
Annex 10). Figures are said as plain English words, as voice nets do (common practice, no source).
"""

from __future__ import annotations

CODE_WORDS = {
    "A": "Alfa", "B": "Bravo", "C": "Charlie", "D": "Delta", "E": "Echo", "F": "Foxtrot", "G": "Golf",
    "H": "Hotel", "I": "India", "J": "Juliett", "K": "Kilo", "L": "Lima", "M": "Mike", "N": "November",
    "O": "Oscar", "P": "Papa", "Q": "Quebec", "R": "Romeo", "S": "Sierra", "T": "Tango", "U": "Uniform",
    "V": "Victor", "W": "Whiskey", "X": "X-ray", "Y": "Yankee", "Z": "Zulu",
}  # fmt: skip
FIGURES = dict(zip("0123456789", "Zero One Two Three Four Five Six Seven Eight Nine".split(), strict=True))
_SIGNS = {"/": "Stroke", "-": "Dash"}


def spoken(call_sign: str) -> str:
    """'Quebec Kilo Three Alfa Bravo Charlie'; a character without a word is said as it is."""
    words = CODE_WORDS | FIGURES | _SIGNS
    return " ".join(words.get(character, character) for character in call_sign.upper())

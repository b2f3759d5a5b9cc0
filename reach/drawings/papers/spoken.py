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
FIGURES = {
    "0": "Zero", "1": "One", "2": "Two", "3": "Three", "4": "Four",
    "5": "Five", "6": "Six", "7": "Seven", "8": "Eight", "9": "Nine",
}  # fmt: skip
_SIGNS = {"/": "Stroke", "-": "Dash"}


def spoken(call_sign: str) -> str:
    """'Quebec Kilo Three Alfa Bravo Charlie'; a character without a word is said as it is."""
    words = CODE_WORDS | FIGURES | _SIGNS
    return " ".join(words.get(character, character) for character in call_sign.upper())

"""How a link is said: the chance first, then the grade in words, then decibels for whoever wants them."""

from __future__ import annotations

import math

from reach.links.grade import Grade, grade_of
from reach.links.network import DirectedLink
from reach.stations import Category

MINUS = "\N{MINUS SIGN}"

CATEGORY_LETTERS: dict[Category, str] = {
    Category.BASE: "b",
    Category.MOBILE: "m",
    Category.PORTABLE: "p",
    Category.INTERNET: "i",
}

CATEGORY_WORDS: dict[Category, str] = {
    Category.BASE: "base station",
    Category.MOBILE: "mobile",
    Category.PORTABLE: "portable or handheld",
    Category.INTERNET: "linked over the internet, no radio path",
}


def chance_words(chance: float) -> str:
    """A chance of working 0..1 as nets in ten; NaN says 'no path'."""
    if math.isnan(chance):
        return "no path"
    tens = math.floor(chance * 10.0 + 0.5)
    if chance >= 0.985:
        return "nearly every net"
    if tens >= 10:
        return "19 nets in 20"
    if tens == 0:
        return "hardly any net"
    return f"{tens} net{'' if tens == 1 else 's'} in 10"


def margin_words(margin_db: float) -> str:
    """A margin over workable, signed in words: '6 dB over workable', '3 dB under workable'; NaN says 'no path'."""
    if not math.isfinite(margin_db):
        return "no path"
    size = round(abs(margin_db))
    if size == 0:
        return "just workable" if margin_db >= 0.0 else "a hair under workable"
    return f"{size} dB {'over' if margin_db > 0.0 else 'under'} workable"


def number(value: float, decimals: int = 0) -> str:
    """A number with a true minus sign; NaN is a dash."""
    if not math.isfinite(value):
        return "\N{EN DASH}"
    text = f"{value:.{decimals}f}"
    if text.strip("-0.") == "":
        text = text.lstrip("-")
    return text.replace("-", MINUS)


def grade_words(grade: Grade) -> str:
    """'solid (R4)'."""
    return f"{grade.word} (R{grade.readability})"


def link_words(link: DirectedLink) -> str:
    """All of one direction but its two names: chance, grade, margin, signal."""
    return quality_words(margin_db=link.margin_db, chance=link.chance, received_dbm=link.received_dbm)


def quality_words(*, margin_db: float, chance: float, received_dbm: float) -> str:
    """Chance, grade, margin and signal of one direction; 'no path' when there is none."""
    if not math.isfinite(margin_db):
        return "no path"
    return (
        f"{chance_words(chance)} · {grade_words(grade_of(margin_db))} · {margin_words(margin_db)}"
        f" · {number(received_dbm)} dBm"
    )


def distance_words(distance_m: float) -> str:
    """Kilometres with one decimal, then miles."""
    return f"{distance_m / 1000.0:.1f} km ({distance_m / 1609.344:.1f} mi)"


def clearance_words(*, line_of_sight: bool, fresnel_clearance: float) -> str:
    """Line of sight and the worst share of the first Fresnel zone's radius that is clear."""
    if not math.isfinite(fresnel_clearance):
        return "line of sight" if line_of_sight else "no line of sight"
    share = f"{number(fresnel_clearance * 100.0)} % of the first Fresnel radius at the worst point"
    if not line_of_sight:
        return f"blocked; {share}"
    return f"in line of sight; {share}{'' if fresnel_clearance >= 0.6 else ', less than the 60 % wanted'}"

"""How a chance and a margin are said to people, in one place."""

from __future__ import annotations

import math

from reach.links.network import DirectedLink
from reach.propagation.variability import chance_of_working, margin_for_chance_db

# (lowest chance, word, figure), best first; the steps of the figures are the midpoints between neighbours
_CHANCES: tuple[tuple[float, str, str], ...] = (
    (0.985, "almost sure", ""),
    (0.925, "almost sure", "19 in 20"),
    *((n / 10.0 - 0.05, "likely", f"{n} in 10") for n in (9, 8, 7)),
    *((n / 10.0 - 0.05, "even", f"{n} in 10") for n in (6, 5, 4)),
    *((n / 10.0 - 0.05, "unlikely", f"{n} in 10") for n in (3, 2)),
    (0.075, "unlikely", "1 in 10"),
    (0.03, "hardly", "1 in 20"),
    (0.0, "hardly", ""),
)
NO_PATH = "no radio path"
COMES_AND_GOES_FROM = 0.4


def chance_in_words(chance: float) -> str:
    """How sure we are that a link works, 'likely: 8 in 10' for a chance 0 to 1; NaN: 'no radio path'.

    Of ten links like it about eight work, nearly always: most of the doubt is the path, the same every week.
    """
    if math.isnan(chance):
        return NO_PATH
    word, figure = _said(chance)
    return f"{word}: {figure}" if figure else word


def chance_in_figures(chance: float) -> str:
    """The figure alone, '8 in 10', for narrow columns; the word where there is no figure, 'almost sure'."""
    if math.isnan(chance):
        return NO_PATH
    word, figure = _said(chance)
    return figure or word


def _said(chance: float) -> tuple[str, str]:
    if not 0.0 <= chance <= 1.0:
        raise ValueError(f"a chance lies between 0 and 1, not {chance}")
    return next((word, figure) for lowest, word, figure in _CHANCES if chance >= lowest - 1e-12)


def comes_and_goes(link: DirectedLink) -> bool:
    """Whether the evening's part decides: two in five or more that the link is there on some evenings only.

    On some only : neither on more than nine evenings in ten nor on less than one.
    """
    if link.spread is None or math.isnan(link.margin_db):
        return False
    evening_db = float(link.spread.time_db) * float(margin_for_chance_db(0.9, 1.0))
    lasting_db = float(link.spread.lasting_db)
    below, above = chance_of_working([-evening_db - link.margin_db, evening_db - link.margin_db], lasting_db)
    return float(above - below) >= COMES_AND_GOES_FROM


def margin_in_words(margin_over_workable_db: float) -> str:
    """'6 dB over workable' or '4 dB under workable'; NaN: 'no radio path'."""
    if math.isnan(margin_over_workable_db):
        return "no radio path"
    whole_db = round(margin_over_workable_db)
    if whole_db == 0:
        return "just workable" if margin_over_workable_db >= 0.0 else "just under workable"
    return f"{abs(whole_db)} dB {'over' if whole_db > 0 else 'under'} workable"


def path_sentence(there: DirectedLink, back: DirectedLink) -> str:
    """One path in a sentence, the chance of each direction said apart."""
    if there.grade.counts and back.grade.counts:
        verdict = "should work each other"
    elif there.grade.counts or back.grade.counts:
        verdict = "should work one way only"
    else:
        verdict = "should not work each other"
    sentence = (
        f"{there.tx} and {there.rx} {verdict}: {there.rx} hears {there.tx} {_in_brackets(there.chance)}, "
        f"{back.rx} hears {back.tx} {_in_brackets(back.chance)}."
    )
    if comes_and_goes(there) or comes_and_goes(back):
        sentence += " It may come and go with the evening."
    return sentence


def _in_brackets(chance: float) -> str:
    """'(likely, 8 in 10)'."""
    if math.isnan(chance):
        return f"({NO_PATH})"
    word, figure = _said(chance)
    return f"({word}, {figure})" if figure else f"({word})"

"""How a chance and a margin are said to people, in one place."""

from __future__ import annotations

import math

from reach.links.network import DirectedLink

# (lowest chance, words), best first; the steps are the midpoints between what neighbouring words mean
_CHANCES: tuple[tuple[float, str], ...] = (
    (0.985, "almost every net"),
    (0.925, "19 nets in 20"),
    *((n / 10.0 - 0.05, f"{n} nets in 10") for n in range(9, 1, -1)),
    (0.075, "1 net in 10"),
    (0.03, "1 net in 20"),
    (0.0, "almost never"),
)


def chance_in_words(chance: float) -> str:
    """'9 nets in 10' for a chance 0 to 1 of working on a given evening; NaN: 'no radio path'."""
    if math.isnan(chance):
        return "no radio path"
    if not 0.0 <= chance <= 1.0:
        raise ValueError(f"a chance lies between 0 and 1, not {chance}")
    return next(words for lowest, words in _CHANCES if chance >= lowest - 1e-12)


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
        verdict = "work each other"
    elif there.grade.counts or back.grade.counts:
        verdict = "work one way only"
    else:
        verdict = "do not work each other"
    return (
        f"{there.tx} and {there.rx} {verdict}: {there.rx} hears {there.tx} {chance_in_words(there.chance)}, "
        f"{back.rx} hears {back.tx} {chance_in_words(back.chance)}."
    )

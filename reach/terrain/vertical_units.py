"""Units of elevation as rasters spell them."""

from __future__ import annotations

from reach.units import METRES_PER_FOOT

METRES_PER_US_SURVEY_FOOT = 1200.0 / 3937.0  # by definition

METRE_NAMES = frozenset({"m", "metre", "metres", "meter", "meters", "mtr"})
FOOT_NAMES = frozenset({"ft", "foot", "feet", "international foot", "international feet", "intl ft"})
SURVEY_FOOT_NAMES = frozenset(
    {
        "us survey foot",
        "us survey feet",
        "us-ft",
        "us_ft",
        "ftus",
        "ft us",
        "foot_us",
        "us foot",
        "survey foot",
    }
)
UNIT_IN_METRES = {"m": 1.0, "ft": METRES_PER_FOOT, "us-ft": METRES_PER_US_SURVEY_FOOT}
UNIT_WORDS = {"m": "metres", "ft": "feet", "us-ft": "US survey feet"}


def unit_named(text: str | None) -> str | None:
    """'m', 'ft' or 'us-ft' for a unit as rasters spell it; None when empty or not a length known here."""
    name = " ".join((text or "").strip().lower().replace("[", "").replace("]", "").split())
    if name in METRE_NAMES:
        return "m"
    if name in FOOT_NAMES:
        return "ft"
    return "us-ft" if name in SURVEY_FOOT_NAMES else None


def unit_of_factor(factor: float) -> str | None:
    """The unit that is so many metres; None for any other."""
    # the two feet differ by 2 parts in a million
    return next((name for name, value in UNIT_IN_METRES.items() if abs(factor / value - 1.0) < 1e-9), None)

"""The cautions that stand at the foot of every map, plot, table and sheet: worded once, here."""

from __future__ import annotations

PROMISE = "A prediction is not a promise: test every link on the air before you rely on it."
EMERGENCY = "When someone is in danger, call the emergency number first."
MASTS = (
    "Keep masts, antennas and guy lines well clear of power lines; have competent help when you put them up."
)
EXPOSURE = "RF exposure limits and licence terms are each operator's own duty; local rules prevail."
AGENCY = "The plan of the agency you serve and the terms of your licence come before this sheet."

CAUTIONS: tuple[str, ...] = (PROMISE, EMERGENCY, MASTS, EXPOSURE)

SHORT = "Prediction, not a promise: test on the air. In danger, call the emergency number first."

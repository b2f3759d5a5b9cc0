"""From signal over the usable level to readability: one table for the whole program.

Readability R1 to R5 is the first figure of the trade's RST report; the words are this program's own.
The dB steps lie above the level for 12 dB SINAD; they follow the static FM quality steps after TIA TSB-88
(audio SINAD about 12, 17, 20 and 25 dB for quality 2, 3, 3.4 and 4; from memory: a stationary FM link gains
about 1 dB of SINAD a dB of signal once above threshold).
"""

from __future__ import annotations

from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray


class Grade(Enum):
    """(readability, dB over the 12 dB SINAD level from which the grade holds)."""

    CLEAR = (5, 13.0)
    SOLID = (4, 8.0)
    WORKABLE = (3, 5.0)
    WEAK = (2, 0.0)
    NONE = (1, -np.inf)

    @property
    def readability(self) -> int:
        """1 to 5."""
        return self.value[0]

    @property
    def from_db(self) -> float:
        """Lowest level over 12 dB SINAD at which the grade holds, dB."""
        return self.value[1]

    @property
    def word(self) -> str:
        """Lower-case word shown to people."""
        return self.name.lower()

    @property
    def counts(self) -> bool:
        """Good enough to be logged as a check-in: workable and up."""
        return self.readability >= 3


GRADES: tuple[Grade, ...] = tuple(Grade)
_FROM_DB = tuple((grade.from_db, grade) for grade in GRADES)
_WORKABLE_DB = Grade.WORKABLE.from_db


def grade_of(margin_over_workable_db: float) -> Grade:
    """Grade from the margin over workable, dB. NaN or no path gives NONE."""
    level = margin_over_workable_db + _WORKABLE_DB
    for from_db, grade in _FROM_DB:  # a page of 200 stations asks 300,000 times
        if level >= from_db:
            return grade
    return Grade.NONE


def margins_count(margin_over_workable_db: ArrayLike) -> NDArray[np.bool_]:
    """Which margins over workable, dB, are good enough to be logged (`Grade.counts`), any shape."""
    return readability_of(margin_over_workable_db) >= Grade.WORKABLE.readability


def readability_of(margin_over_workable_db: ArrayLike) -> NDArray[np.int8]:
    """Readability 1 to 5 of margins over workable, dB, any shape; NaN gives 1."""
    level = np.asarray(margin_over_workable_db, dtype=np.float64) + Grade.WORKABLE.from_db
    result = np.ones(level.shape, dtype=np.int8)
    for grade in reversed(GRADES[:-1]):
        result[level >= grade.from_db] = grade.readability
    return result

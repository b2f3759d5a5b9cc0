"""How likely one report is, given the margin it speaks of: a sum of intervals on a normal, bounded below.

    L(f) = k0 + sum over r of w_r [ Phi((high_r - f) / sigma) - Phi((low_r - f) / sigma) ]

f is the margin over workable (or the level, for a meter), dB. A readability is an interval of margins,
"heard" all above the level for 12 dB SINAD, "not heard" all below it. k0 bounds what one wrong report can do.

The constants are judgement, to be set by the log score of real nets: a repeat of the same report strays by
4 dB, listeners grade within 4 dB of each other, one report in 33 is simply wrong.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.links.grade import Grade
from reach.propagation.variability import normal_cdf

FloatArray = NDArray[np.float64]

REPEAT_DB, GRADING_DB, SOFTNESS_DB = 4.0, 4.0, 3.0
METER_DB, GUESSED_METER_DB = math.hypot(REPEAT_DB, 2.0), 6.0
WRONG = 0.03  # share of reports that say nothing
WRONG_WHILE_BUSY = 0.15  # "not heard" of one who may have been calling a relay on a busy channel
POLITE = 0.8  # share of logged R5 that only say "heard"
GRADED_DB = math.hypot(REPEAT_DB, GRADING_DB)
PLAIN_DB = math.hypot(REPEAT_DB, SOFTNESS_DB)

_WORKABLE_DB = Grade.WORKABLE.from_db
HEARD_FROM_DB = Grade.WEAK.from_db - _WORKABLE_DB
_INF = math.inf
_SMALLEST = 1e-300


def grade_interval_db(readability: int) -> tuple[float, float]:
    """Margins over workable that a readability of 1 to 5 stands for, dB."""
    edges = [-_INF, *(grade.from_db - _WORKABLE_DB for grade in reversed(Grade) if grade is not Grade.NONE)]
    return edges[readability - 1], [*edges[1:], _INF][readability - 1]


@dataclass(frozen=True)
class Says:
    """What one report says. parts : (weight, low_db, high_db), one or two; floor : k0; sigma_db."""

    parts: tuple[tuple[float, float, float], ...]
    floor: float
    sigma_db: float


def graded(readability: int, *, wrong: float = WRONG, polite: float = 0.0) -> Says:
    """A readability, 1 to 5. polite : share of R5 that only mean "heard"."""
    low, high = grade_interval_db(readability)
    kept, floor = 1.0 - wrong, wrong / 5.0
    if readability == 1 or not polite:
        return Says(((kept, low, high),), floor, GRADED_DB)
    if readability < 5:
        return Says((((1.0 - polite) * kept, low, high),), floor, GRADED_DB)
    return Says(((polite * kept, HEARD_FROM_DB, _INF), ((1.0 - polite) * kept, low, high)), floor, GRADED_DB)


def graded_heard(*, wrong: float = WRONG) -> Says:
    """ "Heard", no readability, from one who gives them to others."""
    return Says(((1.0 - wrong, HEARD_FROM_DB, _INF),), 4.0 * wrong / 5.0, GRADED_DB)


def heard(*, wrong: float = WRONG) -> Says:
    """ "Heard" from one who never grades."""
    return Says(((1.0 - wrong, HEARD_FROM_DB, _INF),), wrong / 2.0, PLAIN_DB)


def not_heard(*, wrong: float = WRONG) -> Says:
    """ "Not heard" from one who never grades."""
    return Says(((1.0 - wrong, -_INF, HEARD_FROM_DB),), wrong / 2.0, PLAIN_DB)


def silent(noted: float, *, wrong: float = WRONG, sigma_db: float = PLAIN_DB) -> Says:
    """Not on a list that names only those heard. noted : share of audible stations the listener notes."""
    parts = ((noted - wrong / 2.0, -_INF, HEARD_FROM_DB),)
    return Says(parts, (1.0 - noted) + wrong / 2.0, sigma_db)


def metered(low_db: float, high_db: float, *, bars: int, sigma_db: float, wrong: float = WRONG) -> Says:
    """A meter's reading: edges of its bar over the predicted level's zero, -inf lowest, inf full scale."""
    return Says(((1.0 - wrong, low_db, high_db),), wrong / bars, sigma_db)


@dataclass(frozen=True)
class Likelihoods:
    """Many reports as arrays: floor, sigma_db (k,); weight, low_db, high_db (k, 2), a missing part 0."""

    floor: FloatArray
    sigma_db: FloatArray
    weight: FloatArray
    low_db: FloatArray
    high_db: FloatArray

    @classmethod
    def of(cls, said: Sequence[Says]) -> Likelihoods:
        """The same as arrays."""
        blank = (0.0, -_INF, _INF)
        parts = [(*one.parts, blank)[:2] for one in said]
        table = np.array(parts, dtype=np.float64).reshape(len(parts), 2, 3)
        return cls(
            np.array([one.floor for one in said], dtype=np.float64),
            np.array([one.sigma_db for one in said], dtype=np.float64),
            table[:, :, 0].copy(),
            table[:, :, 1].copy(),
            table[:, :, 2].copy(),
        )

    def take(self, which: NDArray[np.int64] | NDArray[np.bool_]) -> Likelihoods:
        """Some of them."""
        return Likelihoods(
            self.floor[which],
            self.sigma_db[which],
            self.weight[which],
            self.low_db[which],
            self.high_db[which],
        )

    def under(self, shift_db: FloatArray) -> Likelihoods:
        """The same on a scale that starts at shift_db (k,)."""
        return Likelihoods(
            self.floor,
            self.sigma_db,
            self.weight,
            self.low_db - shift_db[:, np.newaxis],
            self.high_db - shift_db[:, np.newaxis],
        )

    def chance(self, mean_db: FloatArray, variance: FloatArray) -> FloatArray:
        """Probability of each report where the margin is normal with that mean and variance."""
        return self._moments(mean_db, variance)[0]

    def tilted(self, mean_db: FloatArray, variance: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Z, d log Z / d mean, and second derivative, of each report against a normal margin."""
        z, first, second = self._moments(mean_db, variance)
        slope = first / z
        return z, slope, second / z - slope**2

    def _moments(
        self, mean_db: FloatArray, variance: FloatArray
    ) -> tuple[FloatArray, FloatArray, FloatArray]:
        s = np.sqrt(variance + self.sigma_db**2)[:, np.newaxis]
        a = (self.low_db - mean_db[:, np.newaxis]) / s
        z = (self.high_db - mean_db[:, np.newaxis]) / s
        upper = a > 0.0  # both in the upper tail: the same difference, taken where it keeps its digits
        between = normal_cdf(np.where(upper, -a, z)) - normal_cdf(np.where(upper, -z, a))
        density_a, density_z = _density(a), _density(z)
        at_a = np.where(np.isinf(a), 0.0, a) * density_a
        at_z = np.where(np.isinf(z), 0.0, z) * density_z
        chance = np.maximum(self.floor + (self.weight * between).sum(axis=1), _SMALLEST)
        first = -(self.weight * (density_z - density_a) / s).sum(axis=1)
        second = -(self.weight * (at_z - at_a) / s**2).sum(axis=1)
        return chance, first, second


def _density(x: FloatArray) -> FloatArray:
    return np.asarray(np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi))

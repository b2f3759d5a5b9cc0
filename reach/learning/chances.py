"""A learned chance in its two parts: what nobody knows, and what changes with the evening.

With a mean margin M, variance V of what is not known and an evening's spread s: tonight it works with
Phi(M / sqrt(V + s^2)). It works on nine evenings in ten or more ("always") with Phi((M - 1.2816 s) /
sqrt(V)), on one in ten or fewer ("never") with Phi((-M - 1.2816 s) / sqrt(V)); the rest comes and goes.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

_NINE_IN_TEN = NormalDist().inv_cdf(0.9)
_DECIDED = 0.9


@dataclass(frozen=True)
class ChanceParts:
    """tonight, always, never : 0 to 1; comes_and_goes : the rest of always and never."""

    tonight: float
    always: float
    never: float
    evening_decides: bool

    @property
    def comes_and_goes(self) -> float:
        """Chance that it works on some evenings and not on others."""
        return max(0.0, 1.0 - self.always - self.never)

    @property
    def words(self) -> str:
        """What the doubt is made of."""
        if self.always >= _DECIDED:
            return "works nearly always"
        if self.never >= _DECIDED:
            return "works hardly ever"
        if self.comes_and_goes >= _DECIDED:
            return "comes and goes with the evening"
        if self.evening_decides:
            return "most of the doubt is the evening's: it will stay so"
        return "most of the doubt is the path's: one test settles it"


def chance_parts(*, margin_db: float, lasting_variance: float, evening_sigma_db: float) -> ChanceParts:
    """The parts of a link's chance. lasting_variance : dB squared, without the evening; above 0."""
    below, edge = NormalDist().cdf, _NINE_IN_TEN * evening_sigma_db
    lasting = math.sqrt(lasting_variance)
    return ChanceParts(
        tonight=below(margin_db / math.hypot(lasting, evening_sigma_db)),
        always=below((margin_db - edge) / lasting),
        never=below((-margin_db - edge) / lasting),
        evening_decides=evening_sigma_db > lasting,
    )

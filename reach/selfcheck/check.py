"""Every case computed here and now, and how far off the worst is."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable
from dataclasses import dataclass

from reach.selfcheck.cases import Case, itm_cases, p526_cases, p1812_cases

TOLERANCE_DB = 1e-5  # the sources state six decimals or more; ours are within 1e-6 where the tests were run
_PRINT_SLACK_DB = 0.002  # beyond half a unit of the last printed digit, as NTIA's own build needs
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class SetCheck:
    """One set of cases. worst : the case farthest off; off : the cases beyond what is allowed."""

    model: str
    source: str
    cases: int
    largest_difference_db: float
    allowed_db: float
    worst: str
    off: tuple[str, ...]

    @property
    def agrees(self) -> bool:
        """Whether every case does."""
        return not self.off


@dataclass(frozen=True)
class SelfCheck:
    """All sets. agrees : whether every case of every set does."""

    agrees: bool
    headline: str
    sets: tuple[SetCheck, ...]


@dataclass(frozen=True)
class _Compared:
    name: str
    difference_db: float
    allowed_db: float

    @property
    def off(self) -> bool:
        """NaN is off too."""
        return not self.difference_db <= self.allowed_db


def self_check(progress: Progress | None = None) -> SelfCheck:
    """Compute every case kept in the package and compare. progress(done, total) : cases."""
    p1812, p526, itm = tuple(p1812_cases()), tuple(p526_cases()), tuple(itm_cases())
    total = len(p1812) + len(p526) + len(itm)
    found_db: dict[str, float] = {}
    for case in (*p1812, *p526, *itm):
        found_db[_key(case)] = case.found_db()
        if progress is not None:
            progress(len(found_db), total)

    def stated(cases: Iterable[Case]) -> list[_Compared]:
        return [_Compared(c.name, abs(found_db[_key(c)] - c.expected_db), TOLERANCE_DB) for c in cases]

    printed = [
        _Compared(c.name, abs(found_db[_key(c)] - c.printed_db[0]), c.printed_db[1] + _PRINT_SLACK_DB)
        for c in itm
        if c.printed_db is not None
    ]
    sets = (
        _set("P.1812", "ITU-R Study Group 3, examples", stated(p1812)),
        _set("delta-Bullington (P.526)", "ITU-R Study Group 3, examples", stated(p526)),
        _set("ITM", "NTIA, reference implementation", stated(itm)),
        _set("ITM", "NTIA, test material as printed", printed),
    )
    off = sum(len(checked.off) for checked in sets)
    if off:
        headline = f"{off} of {total + len(printed)} checks are off: do not plan with this installation."
    else:
        headline = f"The path-loss models agree with all {total} cases of the standards bodies."
    return SelfCheck(agrees=not off, headline=headline, sets=sets)


def _key(case: Case) -> str:
    return f"{type(case.model).__name__} {case.name}"


def _set(model: str, source: str, compared: list[_Compared]) -> SetCheck:
    worst = max(compared, key=lambda c: math.inf if math.isnan(c.difference_db) else c.difference_db)
    return SetCheck(
        model=model,
        source=source,
        cases=len(compared),
        largest_difference_db=worst.difference_db,
        allowed_db=max(c.allowed_db for c in compared),
        worst=worst.name,
        off=tuple(c.name for c in compared if c.off),
    )

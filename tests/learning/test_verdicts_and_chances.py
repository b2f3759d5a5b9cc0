"""Causes and parts of chances. Values: computed apart, with the normal distribution of scipy."""

from __future__ import annotations

import pytest

from reach.learning.chances import chance_parts
from reach.learning.fit import nothing_heard
from reach.learning.verdicts import Cause, cause_shares, likeliest_cause, station_totals, verdicts
from tests.learning.test_fit import DEAF_ONE, bases, fitted


@pytest.mark.parametrize(
    ("margin", "variance", "evening", "expected"),
    [
        (6.0, 9.0, 2.4, (0.9408, 0.8352, 0.0012)),
        (0.0, 60.0, 2.4, (0.5, 0.3457, 0.3457)),
        (2.0, 4.0, 5.0, (0.6448, 0.0138, 0.0000)),
    ],
)
def test_parts_of_a_chance(
    margin: float, variance: float, evening: float, expected: tuple[float, float, float]
) -> None:
    parts = chance_parts(margin_db=margin, lasting_variance=variance, evening_sigma_db=evening)
    assert (parts.tonight, parts.always, parts.never) == pytest.approx(expected, abs=1e-4)
    assert parts.comes_and_goes + parts.always + parts.never == pytest.approx(1.0)


def test_words_name_the_larger_doubt() -> None:
    def words(margin: float, variance: float, evening: float) -> str:
        return chance_parts(margin_db=margin, lasting_variance=variance, evening_sigma_db=evening).words

    assert "one test" in words(0.0, 60.0, 2.4)
    assert "comes and goes" in words(2.0, 4.0, 5.0)
    assert words(15.0, 4.0, 2.0) == "works nearly always"
    assert words(-15.0, 4.0, 2.0) == "works hardly ever"


def test_shares_of_causes() -> None:
    found = fitted(DEAF_ONE, model=bases(3, margin_db=5.0))
    assert cause_shares(found, 0) == pytest.approx([0.8653, 0.0150, 0.0277, 0.0920], abs=1e-3)
    assert likeliest_cause(found, 0) is Cause.HEARING


def test_before_reports_nobody_is_accused() -> None:
    found = nothing_heard(bases(3))
    assert verdicts(found) == ()
    assert all(total.sends_db == 0.0 for total in station_totals(found))

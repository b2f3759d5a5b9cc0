"""One report against a normal margin. Values: computed apart with scipy's normal distribution and
quadrature.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad
from scipy.stats import norm

from reach.learning.fit import refined
from reach.learning.likelihood import (
    GRADED_DB,
    Likelihoods,
    Says,
    grade_interval_db,
    graded,
    heard,
    metered,
    not_heard,
    silent,
)


def moments(said: Says, mean: float, variance: float) -> tuple[float, float, float]:
    likes, m, v = Likelihoods.of([said]), np.array([mean]), np.array([variance])
    z, slope, bend = likes.tilted(m, v)
    return float(z[0]), float(mean + variance * slope[0]), float(variance + variance**2 * bend[0])


@pytest.mark.parametrize(
    ("said", "mean", "variance", "expected"),
    [
        (graded(4), 1.0, 9.0, (0.239032, 1.91529, 7.19007)),
        (graded(5), 1.0, 9.0, (0.139035, 3.15224, 7.67496)),
        (heard(), -10.0, 100.0, (0.332540, -0.58210, 48.97480)),
        (not_heard(), 10.0, 100.0, (0.102161, -3.77458, 75.55584)),
        (not_heard(wrong=0.15), 10.0, 100.0, (0.15138, 1.85396, 131.3945)),
        (graded(4), -25.0, 16.0, (0.006025, -24.95964, 16.37217)),
    ],
)
def test_moments_of_one_report(
    said: Says, mean: float, variance: float, expected: tuple[float, float, float]
) -> None:
    assert moments(said, mean, variance) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize(
    ("polite", "mean", "variance"),
    [(0.0, 10.92981, 46.78055), (0.8, 5.21148, 62.20538), (1.0, 4.68307, 60.3299)],
)
def test_a_polite_five_says_less(polite: float, mean: float, variance: float) -> None:
    assert moments(graded(5, polite=polite), 0.0, 100.0)[1:] == pytest.approx((mean, variance), abs=1e-3)


@pytest.mark.parametrize(
    "said",
    [graded(1), graded(3), graded(5, polite=0.8), heard(), silent(0.7), metered(-4, 1, bars=9, sigma_db=6)],
)
def test_moments_against_quadrature(said: Says) -> None:
    mean, variance = -2.0, 30.0

    def density(f: float, power: int) -> float:
        like = said.floor + sum(
            w * (norm.cdf((hi - f) / said.sigma_db) - norm.cdf((lo - f) / said.sigma_db))
            for w, lo, hi in said.parts
        )
        return float(f**power * like * norm.pdf(f, mean, variance**0.5))

    whole, first, second = (
        quad(density, -60, 60, args=(k,), epsabs=1e-12, limit=200, points=[-5, 0, 3, 8])[0] for k in range(3)
    )
    expected = (whole, first / whole, second / whole - (first / whole) ** 2)
    assert moments(said, mean, variance) == pytest.approx(expected, abs=1e-6)


def test_grades_share_out_all_there_is() -> None:
    margins = np.linspace(-60, 60, 41)
    total = sum(Likelihoods.of([graded(r)] * 41).chance(margins, np.full(41, 5.0)) for r in range(1, 6))
    assert total == pytest.approx(np.ones(41), abs=1e-12)


def test_intervals_are_those_of_the_grades() -> None:
    assert [grade_interval_db(r) for r in range(1, 6)] == [
        (-np.inf, -5.0),
        (-5.0, 0.0),
        (0.0, 3.0),
        (3.0, 8.0),
        (8.0, np.inf),
    ]
    assert pytest.approx(5.657, abs=1e-3) == GRADED_DB


def test_far_tails_keep_their_digits() -> None:
    said = Says(((1.0, 3.0, 8.0),), 0.0, 1.0)
    chance = Likelihoods.of([said]).chance(np.array([-30.0]), np.array([1.0]))[0]
    assert chance == pytest.approx(norm.sf(33 / 2**0.5) - norm.sf(38 / 2**0.5), rel=1e-9)


def test_one_report_moves_a_margin_only_so_far() -> None:
    """However surprising, one report is taken as wrong in the end."""
    surprises = [moments(not_heard(), mean, 25.0)[1] - mean for mean in (5.0, 15.0, 40.0, 80.0)]
    assert surprises[-1] == pytest.approx(0.0, abs=1e-6)
    assert min(surprises) > -8.0


def test_the_factor_of_a_report() -> None:
    one = np.array([1.0])
    tau, nu = refined(Likelihoods.of([graded(4)]), one, 9.0 * one, 0.0 * one, 0.0 * one)
    assert (tau[0], nu[0]) == pytest.approx((0.027970, 0.155269), abs=1e-5)
    tau, nu = refined(Likelihoods.of([graded(4)]), -25.0 * one, 16.0 * one, 0.0 * one, 0.0 * one)
    assert tau[0] == 1e-9, "a surprise adds no certainty"
    assert 16.0 * (-25.0 / 16.0 + nu[0]) == pytest.approx(-24.95964, abs=1e-4)

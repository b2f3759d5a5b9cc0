"""The chance of both directions against scipy, and what must hold of it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.both_ways import chance_of_both
from reach.propagation.joint_normal import both_above_zero, owens_t
from reach.propagation.variability import SigmaParts, normal_cdf

special = pytest.importorskip("scipy.special")
stats = pytest.importorskip("scipy.stats")

z = st.floats(-6.0, 6.0)


def test_owens_t_is_scipys() -> None:
    rng = np.random.default_rng(1)
    for h, a in zip(rng.normal(0.0, 3.0, 500), rng.normal(0.0, 5.0, 500), strict=True):
        assert owens_t(h, a) == pytest.approx(special.owens_t(h, a), abs=1e-12)


def test_both_is_scipys_bivariate_normal() -> None:
    rng = np.random.default_rng(2)
    first, second = rng.normal(0.0, 2.0, (2, 200))
    correlation = rng.uniform(-0.99, 0.999, 200)
    expected = [
        stats.multivariate_normal.cdf([h, k], cov=[[1.0, r], [r, 1.0]], abseps=1e-12, releps=1e-12)
        for h, k, r in zip(first, second, correlation, strict=True)
    ]
    np.testing.assert_allclose(chance_of_both(first, second, correlation), expected, atol=1e-10)


@settings(max_examples=200, deadline=None)
@given(first=z, second=z, correlation=st.floats(0.0, 1.0), more=st.floats(0.0, 3.0))
def test_both_lies_between_the_product_and_the_weaker(
    first: float, second: float, correlation: float, more: float
) -> None:
    both = both_above_zero(first, second, correlation)
    weaker = float(normal_cdf(min(first, second)))
    assert float(normal_cdf(first) * normal_cdf(second)) - 1e-12 <= both <= weaker
    assert both == both_above_zero(second, first, correlation)
    assert both_above_zero(first + more, second, correlation) >= both - 1e-12


def test_edges() -> None:
    assert both_above_zero(0.0, 0.0, 0.5) == pytest.approx(1.0 / 3.0, abs=1e-14)  # 1/4 + asin(rho)/2pi
    found = chance_of_both([np.inf, 1.0, np.nan, -np.inf], [1.0, -1.0, 0.0, 0.0], [0.5, 1.0, 0.5, 0.9])
    np.testing.assert_allclose(found, [normal_cdf(1.0), normal_cdf(-1.0), np.nan, 0.0])
    with pytest.raises(OutOfRange, match=r"correlation 1\.5 \(element 0\)"):
        chance_of_both(0.0, 0.0, 1.5)


def test_directions_share_all_but_the_noise() -> None:
    there = SigmaParts(path_db=8.0, tx_station_db=3.0, rx_station_db=6.0, time_db=2.0, rx_noise_db=4.0)
    back = SigmaParts(path_db=8.0, tx_station_db=6.0, rx_station_db=3.0, time_db=2.0, rx_noise_db=4.0)
    shared = 64.0 + 9.0 + 36.0 + 4.0
    assert float(there.correlation_with_reverse(back)) == pytest.approx(shared / (shared + 16.0), rel=1e-12)
    silent = SigmaParts(8.0, 3.0, 6.0, 2.0)
    assert float(silent.correlation_with_reverse(SigmaParts(8.0, 6.0, 3.0, 2.0))) == pytest.approx(1.0)
    assert float(there.lasting_db) ** 2 + 4.0 == pytest.approx(float(there.total_db) ** 2)

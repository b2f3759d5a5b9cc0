"""Woodland loss against the measured points of Rec. ITU-R P.833-9 and a facts sheet's worked figures.

The points (mixed forest near St. Petersburg) were compared with a public transcription; A_m = 1.37 f^0.42 and
Weissberger's rule are quoted from memory. Worked figures are computed apart from this code, to the digits
given.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.foliage import (
    weissberger_loss_db,
    woodland_loss_db,
    woodland_maximum_db,
    woodland_specific_attenuation_db_per_m,
)


@pytest.mark.parametrize(
    ("frequency_mhz", "gamma_db_per_m", "most_db"),
    [
        (105.9, 0.04, 9.4),
        (466.5, 0.12, 18.0),
        (949.0, 0.17, 26.5),
        (1852.0, 0.30, 29.0),
        (2117.5, 0.34, 34.1),
    ],
)
def test_measured_points(frequency_mhz: float, gamma_db_per_m: float, most_db: float) -> None:
    assert float(woodland_specific_attenuation_db_per_m(frequency_mhz)) == pytest.approx(
        gamma_db_per_m, rel=1e-9
    )
    # the power law is a fit: 10 % covers its scatter about the five points
    assert float(woodland_maximum_db(frequency_mhz)) == pytest.approx(most_db, rel=0.12)


@pytest.mark.parametrize(
    ("frequency_mhz", "gamma_db_per_m", "most_db", "loss_db"),
    [
        (28.5, 0.0151, 5.59, 1.33),
        (52.0, 0.0236, 7.20, 2.01),
        (146.0, 0.0507, 11.11, 4.07),
        (223.0, 0.0695, 13.27, 5.41),
        (446.0, 0.1161, 17.76, 8.52),
    ],
)
def test_hundred_metres(frequency_mhz: float, gamma_db_per_m: float, most_db: float, loss_db: float) -> None:
    """The sheet fits one power law (exponent 0.741 rounded) through the first two points: 0.1 % on gamma."""
    gamma = float(woodland_specific_attenuation_db_per_m(frequency_mhz))
    assert gamma == pytest.approx(gamma_db_per_m, rel=0.004)
    assert float(woodland_maximum_db(frequency_mhz)) == pytest.approx(most_db, abs=0.0051)
    assert float(woodland_loss_db(frequency_mhz=frequency_mhz, depth_m=100.0)) == pytest.approx(
        loss_db, abs=0.011
    )


def test_weissberger() -> None:
    assert float(weissberger_loss_db(frequency_mhz=446.0, depth_m=100.0)) == pytest.approx(15.86, abs=0.0051)
    assert float(weissberger_loss_db(frequency_mhz=446.0, depth_m=10.0)) == pytest.approx(3.58, abs=0.0051)
    near_db, far_db = weissberger_loss_db(frequency_mhz=446.0, depth_m=[14.0, 14.0 + 1e-9])
    assert abs(near_db / far_db - 1.0) < 0.005


@settings(max_examples=60, deadline=None)
@given(f=st.floats(20.0, 2117.5), d=st.floats(0.0, 5000.0), more=st.floats(0.1, 1000.0))
def test_more_trees_lose_more_up_to_the_most(f: float, d: float, more: float) -> None:
    less_db, more_db = woodland_loss_db(frequency_mhz=f, depth_m=[d, d + more])
    assert 0.0 <= less_db <= more_db <= float(woodland_maximum_db(f))


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (
            lambda: woodland_loss_db(frequency_mhz=[146.0, 3000.0], depth_m=10.0),
            r"3000 MHz \(element 1\).*20 to 2117.5",
        ),
        (
            lambda: woodland_loss_db(frequency_mhz=146.0, depth_m=[1.0, -1.0]),
            r"-1 m \(element 1\).*0 m or more",
        ),
        (lambda: woodland_loss_db(frequency_mhz=146.0, depth_m=np.nan), "nan m"),
        (lambda: weissberger_loss_db(frequency_mhz=146.0, depth_m=10.0), "230 to 95000 MHz"),
        (lambda: weissberger_loss_db(frequency_mhz=446.0, depth_m=401.0), "0 to 400 m"),
    ],
)
def test_outside_the_range_is_refused(call, words: str) -> None:  # type: ignore[no-untyped-def]
    with pytest.raises(OutOfRange, match=words):
        call()

"""Exposure limits of 47 CFR 1.1310 and distances by FCC OET Bulletin 65, worked by hand."""

from __future__ import annotations

import math

import pytest

from reach.errors import OutOfRange
from reach.links.exposure import (
    Audience,
    KeepAway,
    Reflection,
    keep_away_m,
    keep_away_words,
    power_density_limit_w_per_m2,
)
from reach.units import watts_to_dbm


@pytest.mark.parametrize(
    ("frequency_mhz", "public_mw_cm2", "controlled_mw_cm2"),
    # 47 CFR 1.1310: 180/f^2 and 900/f^2 to 30 MHz; 0.2 and 1.0 to 300; f/1500 and f/300 to 1500;
    # 1 and 5 above (the last from memory)
    [
        (28.5, 0.2216, 1.108),
        (52.0, 0.2, 1.0),
        (146.0, 0.2, 1.0),
        (446.0, 0.2973, 1.4867),
        (1296.0, 0.864, 4.32),
        (2400.0, 1.0, 5.0),
    ],
)
def test_limits(frequency_mhz: float, public_mw_cm2: float, controlled_mw_cm2: float) -> None:
    for audience, expected in ((Audience.PUBLIC, public_mw_cm2), (Audience.CONTROLLED, controlled_mw_cm2)):
        found = power_density_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience)
        assert found / 10.0 == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize(
    ("eirp_w", "frequency_mhz", "reflection", "distance_m"),
    # R = sqrt(EIRP g / (4 pi S)): 50 W into a dipole (82.03 W) at 146 MHz; 500 W EIRP at 446 MHz
    [
        (82.03, 146.0, Reflection.USUAL, 2.891),
        (82.03, 146.0, Reflection.FREE_SPACE, 1.807),
        (500.0, 446.0, Reflection.USUAL, 5.853),
    ],
)
def test_distances(eirp_w: float, frequency_mhz: float, reflection: Reflection, distance_m: float) -> None:
    found = keep_away_m(
        eirp_dbm=float(watts_to_dbm(eirp_w)), frequency_mhz=frequency_mhz, reflection=reflection
    )
    assert found == pytest.approx(distance_m, abs=0.001)


def test_power_density_at_three_metres() -> None:
    # 100 W EIRP, g = 1: S = 100 / (4 pi 9) = 0.884 W/m2; the limit distance scales as 1 / sqrt(S)
    reach_m = keep_away_m(eirp_dbm=50.0, frequency_mhz=146.0, reflection=Reflection.FREE_SPACE)
    assert reach_m == pytest.approx(3.0 * math.sqrt(0.8842 / 2.0), rel=1e-4)
    assert keep_away_m(eirp_dbm=50.0, frequency_mhz=146.0, duty=0.25) == pytest.approx(
        keep_away_m(eirp_dbm=50.0, frequency_mhz=146.0) / 2.0
    )


def test_what_lies_outside_is_refused() -> None:
    with pytest.raises(OutOfRange, match="3 to 100 000 MHz"):
        keep_away_m(eirp_dbm=50.0, frequency_mhz=2.0)
    with pytest.raises(OutOfRange, match="duty"):
        keep_away_m(eirp_dbm=50.0, frequency_mhz=146.0, duty=0.0)


def test_a_distance_is_never_rounded_down_and_the_rules_are_named() -> None:
    said = keep_away_words([KeepAway("QK1A", 3.61, 51.0, 146.0), KeepAway("QK1B", 0.4, 31.0, 146.0)])
    assert "at least 3.7 m from QK1A's antenna and 0.4 m from QK1B's antenna" in said
    assert "OET Bulletin 65" in said and "47 CFR 1.1310" in said and "own country's rules prevail" in said

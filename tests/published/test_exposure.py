"""Exposure limits of 47 CFR 1.1310 and ICNIRP 2020, distances by FCC OET Bulletin 65, worked by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from reach.errors import OutOfRange
from reach.inputs.equipment import ANTENNAS, usual_station
from reach.links.ends import station_end
from reach.links.exposure import (
    Audience,
    KeepAway,
    Reflection,
    fcc_limit_w_per_m2,
    icnirp_limit_w_per_m2,
    keep_away_m,
    keep_away_words,
    power_density_limit_w_per_m2,
)
from reach.stations import Category, NoiseEnvironment, Surrounding
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
        found = fcc_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience)
        assert found / 10.0 == pytest.approx(expected, rel=5e-4)


@pytest.mark.parametrize(
    ("frequency_mhz", "public_w_m2", "working_w_m2"),
    # ICNIRP 2020, table 5 (from memory): 2 and 10 W/m2 from 30 to 400 MHz, f/200 and f/40 to 2000,
    # then 10 and 50; at 28.5 MHz 300 / 28.5^0.7 = 28.76 V/m and 2.2 / 28.5 = 0.0772 A/m: 2.195 and
    # 2.245 W/m2 as
    # plane waves; 660 V/m gives 10.63 and 4.9 A/m 11.14 W/m2
    [
        (28.5, 2.195, 10.63),
        (52.0, 2.0, 10.0),
        (146.0, 2.0, 10.0),
        (446.0, 2.23, 11.15),
        (1296.0, 6.48, 32.4),
        (2400.0, 10.0, 50.0),
    ],
)
def test_icnirp_limits(frequency_mhz: float, public_w_m2: float, working_w_m2: float) -> None:
    for audience, expected in ((Audience.PUBLIC, public_w_m2), (Audience.CONTROLLED, working_w_m2)):
        found = icnirp_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience)
        assert found == pytest.approx(expected, rel=2e-3)
        stricter = power_density_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience)
        assert stricter == min(found, fcc_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience))


@pytest.mark.parametrize(
    ("frequency_mhz", "distance_m"),
    # a 5 W hand-held as a dipole, 8.203 W EIRP, g = 2.56:
    # sqrt(8.203 x 2.56 / (4 pi S)), S = 2.0, 2.054, 2.23 W/m2
    [(146.52, 0.914), (29.6, 0.902), (446.0, 0.866)],
)
def test_a_hand_held_counts_as_a_dipole_however_it_is_held(frequency_mhz: float, distance_m: float) -> None:
    for antenna in ("handheld whip", "handheld whip on belt"):
        held = replace(
            usual_station(Category.PORTABLE, name="QK1H"),
            antenna=ANTENNAS[antenna].at(1.5),
            surroundings=(Surrounding.ON_BELT,),
        )
        end = station_end(held, frequency_mhz=frequency_mhz, net_noise=NoiseEnvironment.RESIDENTIAL)
        found = keep_away_m(eirp_dbm=end.exposure_eirp_dbm, frequency_mhz=frequency_mhz)
        assert found == pytest.approx(distance_m, abs=0.001)


@pytest.mark.parametrize(
    ("eirp_w", "frequency_mhz", "reflection", "distance_m"),
    # R = sqrt(EIRP g / (4 pi S)): 50 W into a dipole (82.03 W) at 146 MHz; 500 W EIRP at 446 MHz
    [
        (82.03, 146.0, Reflection.USUAL, 2.891),
        (82.03, 146.0, Reflection.FREE_SPACE, 1.807),
        (500.0, 446.0, Reflection.USUAL, 6.758),  # 5.853 by the FCC's limit alone
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
    assert "OET Bulletin 65" in said and "47 CFR 1.1310 and ICNIRP 2020" in said
    assert "own country's rules prevail" in said

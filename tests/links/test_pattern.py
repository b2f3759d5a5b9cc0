"""Gain towards a direction: published shapes, physics, and that turning away never helps."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.links.pattern import (
    aim_words,
    average_gain_dbi,
    beam_loss_db,
    beam_width_deg,
    elevation_width_deg,
    gain_towards_dbi,
    omni_loss_db,
    pattern_loss_db,
    pattern_words,
)
from reach.stations import Aim, Antenna, Beam

GAINS = st.floats(3.0, 16.0)


def yagi(gain_dbi: float, bearing_deg: float = 0.0, aim: Aim = Aim.FIXED) -> Antenna:
    return Antenna(10.0, gain_dbi, "yagi", beam=Beam(aim, bearing_deg))


@pytest.mark.parametrize(
    ("gain_dbi", "width_deg", "front_to_back_db"),
    # F.1336-5, recommends 4 (from memory): sqrt(27000 / 10^(G/10)); -8 dBi behind
    [(7.5, 69.3, 15.5), (10.0, 52.0, 18.0), (13.0, 36.8, 21.0)],
)
def test_a_beam_by_hand(gain_dbi: float, width_deg: float, front_to_back_db: float) -> None:
    assert beam_width_deg(gain_dbi) == pytest.approx(width_deg, abs=0.05)
    assert beam_loss_db(beam_width_deg(gain_dbi) / 2.0, gain_dbi=gain_dbi) == pytest.approx(3.0, abs=1e-9)
    assert beam_loss_db(180.0, gain_dbi=gain_dbi) == pytest.approx(front_to_back_db)
    assert beam_loss_db(180.0, gain_dbi=gain_dbi, front_to_back_db=12.0) == 12.0


@pytest.mark.parametrize("gain_dbi", [7.5, 10.0, 13.0])
def test_a_beam_radiates_no_more_than_it_is_fed(gain_dbi: float) -> None:
    """Over the sphere a lossless antenna's gain has mean one; an envelope of its lobes lies above it."""
    angle = np.linspace(0.0, math.pi, 20_001)
    gain = 10.0 ** ((gain_dbi - beam_loss_db(np.degrees(angle), gain_dbi=gain_dbi)) / 10.0)
    mean_db = 10.0 * math.log10(np.trapezoid(gain * np.sin(angle), angle) / 2.0)
    assert -1.0 < mean_db < 2.0


@pytest.mark.parametrize("gain_dbi", [5.0, 6.0, 8.0, 9.5])
def test_an_omni_radiates_no_more_than_it_is_fed(gain_dbi: float) -> None:
    angle = np.linspace(-math.pi / 2.0, math.pi / 2.0, 20_001)
    gain = 10.0 ** ((gain_dbi - omni_loss_db(np.degrees(angle), gain_dbi=gain_dbi)) / 10.0)
    mean_db = 10.0 * math.log10(np.trapezoid(gain * np.cos(angle), angle) / 2.0)
    assert -1.0 < mean_db < 2.0


def test_an_omni_by_hand() -> None:
    # F.1336-5, recommends 2.1 (from memory): 107.6 / 10^0.8 = 17.05 degrees for 8 dBi, half of it 3 dB down;
    # far out 12 - 10 log10(0.7 + (90/17.05)^-1.5) = 12 + 1.07 dB
    assert elevation_width_deg(8.0) == pytest.approx(17.05, abs=0.01)
    assert omni_loss_db(8.527, gain_dbi=8.0) == pytest.approx(3.0, abs=0.01)
    assert omni_loss_db(-90.0, gain_dbi=8.0) == pytest.approx(13.07, abs=0.01)
    assert omni_loss_db(60.0, gain_dbi=2.15) == 0.0


def test_a_valley_right_under_the_mast_hears_less() -> None:
    """Pattern dip of a collinear towards a near valley: 3 to 10 dB (common practice, no source)."""
    steep = math.degrees(math.atan(300.0 / 1200.0))
    assert 3.0 < omni_loss_db(steep, gain_dbi=8.0) < 10.0


@settings(max_examples=200, deadline=None)
@given(gain_dbi=GAINS, first=st.floats(0.0, 180.0), second=st.floats(0.0, 180.0))
def test_turning_a_beam_away_never_helps(gain_dbi: float, first: float, second: float) -> None:
    near, far = sorted((first, second))
    losses = beam_loss_db([0.0, near, far], gain_dbi=gain_dbi)
    assert losses[0] == 0.0 and losses[1] <= losses[2] + 1e-12


@settings(max_examples=100, deadline=None)
@given(
    gain_dbi=GAINS,
    points_deg=st.floats(0.0, 360.0),
    bearing_deg=st.floats(0.0, 360.0),
    elevation_deg=st.floats(-40.0, 40.0),
)
def test_no_direction_beats_the_best(
    gain_dbi: float, points_deg: float, bearing_deg: float, elevation_deg: float
) -> None:
    for aim in Aim:
        antenna = yagi(gain_dbi, points_deg, aim)
        towards = gain_towards_dbi(
            antenna, frequency_mhz=146.0, bearing_deg=bearing_deg, elevation_deg=elevation_deg
        )
        assert towards <= gain_dbi + 1e-9
    fixed = pattern_loss_db(
        yagi(gain_dbi, points_deg), frequency_mhz=146.0, bearing_deg=bearing_deg, elevation_deg=elevation_deg
    )
    turned = pattern_loss_db(
        yagi(gain_dbi, points_deg, Aim.TURNS),
        frequency_mhz=146.0,
        bearing_deg=bearing_deg,
        elevation_deg=elevation_deg,
    )
    assert turned <= fixed + 1e-9


def test_a_beam_of_unknown_direction_is_worth_about_a_dipole() -> None:
    beam = Beam(Aim.ANYWHERE)
    for gain_dbi, low, high in ((7.5, 0.5, 3.0), (10.0, 1.0, 3.5), (13.0, 2.0, 5.0)):
        assert low < average_gain_dbi(gain_dbi, beam=beam) < high
    losses = pattern_loss_db(
        yagi(10.0, aim=Aim.ANYWHERE), frequency_mhz=146.0, bearing_deg=[0.0, 90.0, 200.0]
    )
    np.testing.assert_allclose(losses, 10.0 - average_gain_dbi(10.0, beam=beam))


def test_arrays_of_directions_and_unknown_ones() -> None:
    losses = pattern_loss_db(
        yagi(10.0, 90.0), frequency_mhz=146.0, bearing_deg=[90.0, 116.0, 270.0, math.nan, 450.0]
    )
    # half of 51.96 degrees beside the axis is 3 dB down
    np.testing.assert_allclose(losses, [0.0, 12.0 * (26.0 / 51.96) ** 2, 18.0, math.nan, 0.0], atol=2e-3)
    grid = pattern_loss_db(
        Antenna(10.0, 6.0), frequency_mhz=146.0, bearing_deg=np.zeros((2, 1)), elevation_deg=np.zeros(3)
    )
    assert grid.shape == (2, 3)


def test_the_words_say_why() -> None:
    assert aim_words(Antenna(9.0, 5.0)) == ""
    named = Antenna(9.0, 10.0, beam=Beam(Aim.FIXED, 31.2, "QK3ABC"))
    assert aim_words(named) == "beam at 31 degrees (QK3ABC)"
    assert aim_words(yagi(10.0, aim=Aim.TURNS)) == "beam turned to whoever it works"
    said = pattern_words(yagi(10.0, 350.0), bearing_deg=10.0, elevation_deg=0.0)
    assert said == "beam at 350 degrees, 20 beside the other end"

"""Free-space figures of Rec. ITU-R P.525 and of handbooks."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reach.propagation.free_space import FreeSpaceModel, field_strength_dbuvm, free_space_loss_db
from reach.terrain.profile import Profile


@pytest.mark.parametrize(
    ("frequency_mhz", "distance_km", "loss_db"),
    [
        # P.525, eq. (4): 32.4 + 20 log f + 20 log d, worked by hand from the printed constant (from memory)
        (146.0, 10.0, 95.69),
        (146.0, 100.0, 115.69),
        (446.0, 10.0, 105.39),
        (52.0, 10.0, 86.72),
        (28.5, 100.0, 101.50),
    ],
)
def test_printed_form(frequency_mhz: float, distance_km: float, loss_db: float) -> None:
    """The printed constant is rounded down by 0.048 dB."""
    assert free_space_loss_db(distance_km, frequency_mhz) == pytest.approx(loss_db + 0.048, abs=0.006)


def test_definition() -> None:
    """P.525, eq. (3): 20 log(4 pi d / lambda), no rounding anywhere."""
    d_m, f_hz = 12_345.0, 145.5e6
    exact = 20.0 * math.log10(4.0 * math.pi * d_m * f_hz / 299_792_458.0)
    assert free_space_loss_db(d_m / 1e3, f_hz / 1e6) == pytest.approx(exact, abs=1e-10)


def test_field_of_one_watt() -> None:
    """P.525, eq. (1): sqrt(30 p)/d V/m, p in W e.i.r.p.: 1 W at 1 km is 5.477 mV/m, 74.77 dB(uV/m)."""
    loss_db = free_space_loss_db(1.0, 146.0)
    field = field_strength_dbuvm(loss_db=loss_db, frequency_mhz=146.0, eirp_dbm=30.0)
    assert field == pytest.approx(20.0 * math.log10(math.sqrt(30.0) / 1e3 * 1e6), abs=0.002)


def test_the_model_measures_the_straight_line_between_the_antennas() -> None:
    profile = Profile.of([0.0, 3000.0], [0.0, 4000.0])
    found = FreeSpaceModel().loss(profile, tx_height_m=10.0, rx_height_m=10.0, frequency_mhz=146.0)
    assert found.loss_db == found.free_space_db == pytest.approx(float(free_space_loss_db(5.0, 146.0)))


def test_six_decibels_a_doubling() -> None:
    losses = np.asarray(free_space_loss_db(np.array([1.0, 2.0, 4.0]), 146.0))
    assert np.diff(losses) == pytest.approx(20.0 * math.log10(2.0))

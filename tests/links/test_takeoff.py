"""Angles at which paths leave their ends, by hand on simple ground."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reach.links.takeoff import takeoff_angles_deg
from reach.terrain.profile import Profile, ProfileBatch

EARTH_M = 6_371_000.0 * 4.0 / 3.0


def profile(ground_m: np.ndarray, step_m: float = 100.0) -> Profile:
    return Profile.of(np.arange(ground_m.size) * step_m, ground_m)


def test_downhill_in_sight_and_over_a_hill() -> None:
    slope = np.linspace(500.0, 0.0, 101)  # 10 km
    hill = np.zeros(101)
    hill[50] = 200.0
    batch = ProfileBatch.of([profile(slope), profile(hill)])
    there, back = takeoff_angles_deg(
        batch, tx_height_m=np.array([20.0, 10.0]), rx_height_m=np.array([2.0, 10.0]), k_factor=4.0 / 3.0
    )
    bent = math.degrees(10_000.0 / (2.0 * EARTH_M))
    # 520 m over 2 m at 10 km: -2.965 degrees, and the Earth falls away
    assert there[0] == pytest.approx(math.degrees(math.atan(-518.0 / 10_000.0)) - bent, abs=1e-3)
    assert back[0] == pytest.approx(math.degrees(math.atan(518.0 / 10_000.0)) - bent, abs=1e-3)
    # the hill stands 190 m over the antennas at 5 km
    assert there[1] == pytest.approx(math.degrees(math.atan(190.0 / 5_000.0)) - bent / 2.0, abs=1e-3)
    assert back[1] == pytest.approx(there[1], abs=1e-12)


def test_no_paths() -> None:
    there, back = takeoff_angles_deg(ProfileBatch.of([]), tx_height_m=1.0, rx_height_m=1.0, k_factor=1.33)
    assert there.size == back.size == 0

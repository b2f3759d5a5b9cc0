"""Line of sight and Fresnel clearance against a plain point-by-point writing."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.clearance import clearance, clearances
from reach.propagation.earth import effective_radius_km
from reach.terrain.profile import Profile, ProfileBatch


def plain(
    profile: Profile, *, tx_m: float, rx_m: float, f_mhz: float, k: float
) -> tuple[float, float, float]:
    """Largest nu, its distance and height above the ray, one point at a time."""
    d = profile.length_m
    surface = profile.ground_m + profile.clutter_m
    a, b = profile.ground_m[0] + tx_m, profile.ground_m[-1] + rx_m
    wave_m = 299.792458 / f_mhz
    found = (-math.inf, 0.0, 0.0)
    for x, h in zip(profile.distance_m[1:-1], surface[1:-1], strict=True):
        above = h + x * (d - x) / (2.0 * effective_radius_km(k) * 1e3) - (a + (b - a) * x / d)
        nu = above * math.sqrt(2.0 / wave_m * (1.0 / x + 1.0 / (d - x)))
        if nu >= found[0]:
            found = (nu, x, above)
    return found


@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    points=st.integers(3, 60),
    k=st.sampled_from([0.7, 1.0, 4.0 / 3.0, 3.0]),
    f_mhz=st.sampled_from([28.5, 146.0, 446.0]),
)
def test_worst_point_is_the_one_with_the_largest_nu(seed: int, points: int, k: float, f_mhz: float) -> None:
    rng = np.random.default_rng(seed)
    d = np.concatenate(([0.0], np.cumsum(rng.uniform(10.0, 900.0, points - 1))))
    profile = Profile.of(d, rng.uniform(0.0, 120.0, points), clutter_m=rng.choice([0.0, 12.0], points))
    found = clearance(profile, tx_height_m=40.0, rx_height_m=8.0, frequency_mhz=f_mhz, k_factor=k)
    nu, at_m, above_m = plain(profile, tx_m=40.0, rx_m=8.0, f_mhz=f_mhz, k=k)
    assert found.nu == pytest.approx(nu, rel=1e-9, abs=1e-9)
    assert found.worst_distance_m == pytest.approx(at_m)
    assert found.obstruction_m == pytest.approx(above_m, rel=1e-9, abs=1e-7)
    assert found.worst_share == pytest.approx(-nu / math.sqrt(2.0), rel=1e-9, abs=1e-9)
    assert found.line_of_sight == (nu <= 0.0)


def test_worst_is_not_the_least_metres() -> None:
    """3 m to spare in mid-path fill more of a wide zone than 2.5 m near the end fill of a narrow one."""
    profile = Profile.of([0.0, 100.0, 5000.0, 10000.0], [0.0, 27.5, 27.0, 0.0])
    found = clearance(profile, tx_height_m=30.0, rx_height_m=30.0, frequency_mhz=146.0, k_factor=1e9)
    assert found.worst_distance_m == 5000.0
    assert found.obstruction_m == pytest.approx(-3.0, abs=1e-6)


def test_a_point_on_the_ray_is_in_sight_with_no_clearance() -> None:
    profile = Profile.of([0.0, 1000.0, 2000.0], [0.0, 10.0, 0.0])
    found = clearance(profile, tx_height_m=10.0, rx_height_m=10.0, frequency_mhz=146.0, k_factor=1e12)
    assert found.worst_share == pytest.approx(0.0, abs=1e-9)
    assert not found.is_free


def test_sixty_per_cent_rule() -> None:
    """Over flat ground without curvature F1 in the middle of 10 km at 146 MHz is 71.6 m: 43 m make it
    free."""
    profile = Profile.of(np.linspace(0.0, 10e3, 101), np.zeros(101))
    low, high = (
        clearance(profile, tx_height_m=h, rx_height_m=h, frequency_mhz=146.0, k_factor=1e9)
        for h in (42.5, 43.5)
    )
    assert (low.is_free, high.is_free) == (False, True)
    assert low.worst_fresnel_m == pytest.approx(71.64, abs=0.05)


def test_clutter_counts_between_the_ends_only() -> None:
    d, h = np.linspace(0.0, 4e3, 41), np.zeros(41)
    link = {"tx_height_m": 8.0, "rx_height_m": 8.0, "frequency_mhz": 146.0}
    trees = np.full(41, 15.0)
    assert not clearance(Profile.of(d, h, clutter_m=trees), **link).line_of_sight
    at_ends = np.zeros(41)
    at_ends[[0, -1]] = 15.0
    assert clearance(Profile.of(d, h, clutter_m=at_ends), **link).line_of_sight


def test_batch_agrees_with_single_paths_and_names_the_bad_one() -> None:
    rng = np.random.default_rng(5)
    profiles = [Profile.of(np.linspace(0.0, 5e3, n), rng.uniform(0, 60, n)) for n in (2, 3, 10, 100)]
    batch = clearances(
        ProfileBatch.of(profiles), tx_height_m=20.0, rx_height_m=[2, 3, 4, 5], frequency_mhz=52.0
    )
    for path, profile in enumerate(profiles):
        alone = clearance(profile, tx_height_m=20.0, rx_height_m=2.0 + path, frequency_mhz=52.0)
        assert batch[path] == alone
    assert batch[0].worst_share == math.inf and batch[0].line_of_sight
    with pytest.raises(OutOfRange, match="path 1"):
        clearances(ProfileBatch.of(profiles), tx_height_m=[1, -1, 1, 1], rx_height_m=2.0, frequency_mhz=52.0)


@settings(max_examples=40, deadline=None)
@given(seed=st.integers(0, 10**6))
def test_clearance_is_the_same_from_either_end(seed: int) -> None:
    rng = np.random.default_rng(seed)
    profile = Profile.of(np.linspace(0.0, 20e3, 60), rng.uniform(0.0, 100.0, 60))
    there = clearance(profile, tx_height_m=30.0, rx_height_m=3.0, frequency_mhz=146.0)
    back = clearance(profile.reversed(), tx_height_m=3.0, rx_height_m=30.0, frequency_mhz=146.0)
    assert there.nu == pytest.approx(back.nu, rel=1e-9)
    assert there.worst_distance_m == pytest.approx(20e3 - back.worst_distance_m)

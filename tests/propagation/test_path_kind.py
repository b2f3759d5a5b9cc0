"""Kinds of path on drawn profiles, and how far a loss strays on each."""

from __future__ import annotations

import numpy as np
import pytest

from reach.propagation.path_kind import (
    KIND_SIGMA_DB,
    PathKind,
    kind_sigma_db,
    path_kinds,
    with_models_apart,
)
from reach.terrain.profile import Profile, ProfileBatch

DISTANCE_M = np.linspace(0.0, 20_000.0, 601)


def ridge(at_m: float, height_m: float, half_m: float = 600.0) -> np.ndarray:
    return np.maximum(0.0, 1.0 - np.abs(DISTANCE_M - at_m) / half_m) * height_m


CASES = {
    "from hill to hill": (ridge(0.0, 300.0) + ridge(20_000.0, 300.0), PathKind.CLEAR),
    "two masts over a plain": (np.zeros(601), PathKind.GRAZING),
    "one ridge": (ridge(9_000.0, 150.0), PathKind.ONE_EDGE),
    "a broad top": (np.minimum(ridge(9_000.0, 200.0, 2_000.0), 150.0), PathKind.ONE_EDGE),
    "two ridges": (ridge(5_000.0, 150.0) + ridge(14_000.0, 150.0), PathKind.SEVERAL_EDGES),
}


@pytest.mark.parametrize("name", CASES)
def test_kinds_of_drawn_paths(name: str) -> None:
    ground_m, kind = CASES[name]
    profile = Profile.of(DISTANCE_M, ground_m)
    batch = ProfileBatch.of([profile, profile.reversed()])
    found = path_kinds(batch, tx_height_m=20.0, rx_height_m=20.0, frequency_mhz=146.0)
    assert [PathKind(int(code)) for code in found] == [kind, kind]


def test_clutter_is_no_edge() -> None:
    profile = Profile.of(DISTANCE_M, np.zeros(601), clutter_m=np.full(601, 25.0))
    (found,) = path_kinds(ProfileBatch.of([profile]), tx_height_m=20.0, rx_height_m=20.0, frequency_mhz=146.0)
    assert PathKind(int(found)) is PathKind.GRAZING


def test_spread_grows_with_what_stands_in_the_way() -> None:
    assert list(KIND_SIGMA_DB.values()) == sorted(KIND_SIGMA_DB.values())
    codes = np.array([[0, 1], [2, 3]], dtype=np.int8)
    np.testing.assert_array_equal(kind_sigma_db(codes), [[6.0, 7.5], [8.5, 10.0]])
    apart = with_models_apart(codes, [[10.0, -10.1], [np.nan, 30.0]])
    np.testing.assert_array_equal(kind_sigma_db(apart), [[6.0, 12.0], [8.5, 12.0]])

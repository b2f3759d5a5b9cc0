"""Knife edges, Bullington, smooth Earth and delta-Bullington: plain writings and properties."""

from __future__ import annotations

import math
import runpy
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.propagation.bullington import bullington_loss_db, smooth_bullington_loss_db
from reach.propagation.diffraction_models import (
    BullingtonModel,
    CascadedEdgesModel,
    DeltaBullingtonModel,
    SingleEdgeModel,
)
from reach.propagation.earth import effective_radius_km
from reach.propagation.edges import cascaded_edges_loss_db, single_edge_loss_db
from reach.propagation.knife_edge import knife_edge_loss_db
from reach.propagation.smooth_earth import P526, P1812, smooth_earth_loss_db
from reach.stations import Polarisation
from reach.terrain.profile import ZONE_INLAND, ZONE_SEA, Profile, ProfileBatch

PLAIN = runpy.run_path(str(Path(__file__).with_name("plain_p1812.py")))
RADIUS_KM = effective_radius_km(4.0 / 3.0)
TERRAIN_MODELS = [SingleEdgeModel(), CascadedEdgesModel(), BullingtonModel(), DeltaBullingtonModel()]
ids = [model.name for model in TERRAIN_MODELS]


def rolling(seed: int, *, points: int = 80, length_km: float = 30.0, relief_m: float = 150.0) -> Profile:
    rng = np.random.default_rng(seed)
    d = np.concatenate(([0.0], np.cumsum(rng.uniform(0.3, 1.0, points - 1))))
    walk = np.cumsum(rng.normal(0.0, relief_m / math.sqrt(points), points))
    return Profile.of(d * length_km * 1e3 / d[-1], 200.0 + walk - walk.min())


# --- one edge ---


@settings(max_examples=100, deadline=None)
@given(st.floats(-5.0, 50.0), st.floats(0.0, 5.0))
def test_a_higher_edge_never_loses_less(nu: float, more: float) -> None:
    assert knife_edge_loss_db(nu + more) >= knife_edge_loss_db(nu) >= 0.0


def test_knife_edge_takes_arrays_and_keeps_nan() -> None:
    found = knife_edge_loss_db(np.array([[-2.0, -0.78], [0.0, np.nan]]))
    assert found.shape == (2, 2)
    assert found[0].tolist() == [0.0, 0.0]
    assert found[1, 0] == pytest.approx(6.033, abs=1e-3)
    assert np.isnan(found[1, 1])


def test_knife_edge_steps_by_no_more_than_its_formula_leaves() -> None:
    """P.526 cuts J at nu = -0.78, where 0.004 dB are left."""
    assert knife_edge_loss_db(-0.78 + 1e-12) - knife_edge_loss_db(-0.78) == pytest.approx(0.004, abs=0.001)


def test_a_single_ridge_is_a_single_knife_edge_for_every_edge_model() -> None:
    """Only the middle point stands out; Bullington's extra term (21) is taken off by hand."""
    d = np.linspace(0.0, 30e3, 31)
    ridge = np.where(np.arange(31) == 12, 160.0, -400.0)
    ridge[[0, -1]] = 0.0
    link = {"tx_height_m": 60.0, "rx_height_m": 60.0, "frequency_mhz": 146.0}
    above = 160.0 + 12.0 * 18.0 * 500.0 / RADIUS_KM - 60.0
    nu = above * math.sqrt(2.0 / (299.792458 / 146.0) * (1.0 / 12e3 + 1.0 / 18e3))
    edge_db = float(knife_edge_loss_db(nu))

    def beyond(model: SingleEdgeModel | BullingtonModel | CascadedEdgesModel) -> float:
        found = model.loss(Profile.of(d, ridge), **link)
        return found.loss_db - found.free_space_db

    assert beyond(SingleEdgeModel()) == pytest.approx(edge_db, abs=1e-9)
    share = 1.0 - math.exp(-edge_db / 6.0)
    assert beyond(BullingtonModel()) == pytest.approx(edge_db + share * (10.0 + 0.02 * 30.0), abs=1e-9)
    assert beyond(CascadedEdgesModel()) == pytest.approx(edge_db + share * (10.0 + 0.04 * 30.0), abs=1e-9)


def test_two_edges_in_cascade_worked_by_hand() -> None:
    """P.526-11, 4.4.2 (from memory) on a = 10, b = 8, c = 12 km, 120 m and 100 m above the line, no
    curvature.

    nu 1.450 and 1.163, the first is the main edge, 16.53 dB; the second seen from its top stands 28 m above,
    nu 0.399, 9.46 dB; C = 10 + 0.04 x 30. In all 35.88 dB.
    """
    d = np.array([0.0, 10e3, 18e3, 30e3])
    h = np.array([0.0, 120.0, 100.0, 0.0])
    found = cascaded_edges_loss_db(d, h, 0.0, 0.0, 1e15, 299.792458 / 146.0)
    assert found == pytest.approx(35.88, abs=0.01)
    assert single_edge_loss_db(d, h, 0.0, 0.0, 1e15, 299.792458 / 146.0) == pytest.approx(16.53, abs=0.01)
    assert bullington_loss_db(d, h, 0.0, 0.0, 1e15, 299.792458 / 146.0) == pytest.approx(27.85, abs=0.01)


def test_two_edges_in_cascade_stand_c_above_the_formulas_for_two_edges() -> None:
    """P.526-15, 4.3 (from memory), both ways for two isolated edges by hand: near the cascade without T C.

    Edges alike: J of each over its neighbours and Lc = 10 log[(a+b)(b+c)/(b(a+b+c))], 24.85 dB. One main
    edge: J(p) + J - [12 - 20 log(2/(1 - alpha/pi))] (q/p)^(2p), 24.50 dB. With T C the cascade has 35.88.
    """
    a, b, c, h1, h2 = 10e3, 8e3, 12e3, 120.0, 100.0
    wave_m = 299.792458 / 146.0
    full = a + b + c

    def edge_db(height_m: float, d1: float, d2: float) -> float:
        return float(knife_edge_loss_db(height_m * math.sqrt(2.0 / wave_m * (1.0 / d1 + 1.0 / d2))))

    first_db, second_db = edge_db(h1 - h2 * a / (a + b), a, b), edge_db(h2 - h1 * c / (b + c), b, c)
    alike_db = first_db + second_db + 10.0 * math.log10((a + b) * (b + c) / (b * full))
    p = h1 * math.sqrt(2.0 / wave_m * full / ((b + c) * a))
    q = h2 * math.sqrt(2.0 / wave_m * full / ((a + b) * c))
    alpha = math.atan(math.sqrt(b * full / (a * c)))
    less_db = (12.0 - 20.0 * math.log10(2.0 / (1.0 - alpha / math.pi))) * (q / p) ** (2.0 * p)
    main_db = edge_db(h1, a, b + c) + second_db - less_db
    assert (alike_db, main_db) == (pytest.approx(24.85, abs=0.01), pytest.approx(24.50, abs=0.01))
    d, h = np.array([0.0, a, a + b, full]), np.array([0.0, h1, h2, 0.0])
    cascade_db = cascaded_edges_loss_db(d, h, 0.0, 0.0, 1e15, wave_m)
    extra_db = (1.0 - math.exp(-edge_db(h1, a, b + c) / 6.0)) * (10.0 + 0.04 * full / 1e3)
    assert cascade_db - extra_db == pytest.approx(alike_db, abs=1.5)
    assert cascade_db - extra_db == pytest.approx(main_db, abs=1.5)


def test_the_cascade_hangs_on_the_sampling_and_bullington_does_not() -> None:
    """Why it serves for comparison only: one round hill, sampled every 900 m and every 30 m."""
    wave_m = 299.792458 / 146.0
    found = {}
    for step_m in (900.0, 30.0):
        d = np.arange(0.0, 27e3 + 1.0, step_m)
        h = 300.0 * np.exp(-(((d - 13.5e3) / 2e3) ** 2))
        ends = (d, h, h[0] + 10.0, h[-1] + 10.0, RADIUS_KM, wave_m)
        found[step_m] = cascaded_edges_loss_db(*ends), bullington_loss_db(*ends)
    assert abs(found[30.0][1] - found[900.0][1]) < 1.0
    assert found[30.0][0] - found[30.0][1] > 10.0
    assert abs(found[30.0][0] - found[900.0][0]) > 2.0


# --- Bullington ---


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    points=st.integers(3, 60),
    length_km=st.floats(0.2, 200.0),
    heights=st.tuples(st.floats(1.0, 2000.0), st.floats(1.0, 300.0)),
    wave_m=st.sampled_from([0.1, 0.67, 2.05, 10.5]),
)
def test_bullington_agrees_with_the_edge_located_by_its_distance(
    seed: int, points: int, length_km: float, heights: tuple[float, float], wave_m: float
) -> None:
    profile = rolling(seed, points=points, length_km=length_km)
    d, h = profile.distance_m, profile.ground_m
    hts, hrs = h[0] + heights[0], h[-1] + heights[1]
    plain = PLAIN["bullington"](d / 1e3, h, hts, hrs, RADIUS_KM, wave_m)
    assert bullington_loss_db(d, h, hts, hrs, RADIUS_KM, wave_m) == pytest.approx(plain, abs=1e-6)


@settings(max_examples=300, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    points=st.integers(3, 80),
    length_km=st.floats(0.2, 300.0),
    heights=st.tuples(st.floats(0.5, 3000.0), st.floats(0.5, 3000.0)),
    radius_km=st.sampled_from([6371.0, 8500.0, 19113.0]),
    wave_m=st.sampled_from([0.1, 2.05, 10.0]),
)
def test_bullington_over_zeros_is_found_without_walking_the_profile(
    seed: int,
    points: int,
    length_km: float,
    heights: tuple[float, float],
    radius_km: float,
    wave_m: float,
) -> None:
    d = rolling(seed, points=points, length_km=length_km).distance_m
    zeros = np.zeros_like(d)
    walked = PLAIN["bullington"](d / 1e3, zeros, heights[0], heights[1], radius_km, wave_m)
    found = smooth_bullington_loss_db(d, heights[0], heights[1], radius_km, wave_m)
    assert found == pytest.approx(walked, abs=1e-6)


# --- smooth Earth ---


@pytest.mark.parametrize("polarisation", [0, 1])
@pytest.mark.parametrize("sea_share", [0.0, 0.4, 1.0])
def test_smooth_earth_agrees_with_the_plain_writing(polarisation: int, sea_share: float) -> None:
    for f_ghz in (0.03, 0.05, 0.146, 0.446, 2.0):
        for d_km in (1.0, 10.0, 40.0, 120.0):
            for tx_m, rx_m in ((2.0, 10.0), (300.0, 1.0), (50.0, 50.0)):
                plain = PLAIN["spherical"](d_km, tx_m, rx_m, 8500.0, f_ghz, sea_share, polarisation == 1)
                found = smooth_earth_loss_db(d_km, tx_m, rx_m, 8500.0, f_ghz, sea_share, polarisation, P1812)
                assert found == pytest.approx(plain, abs=1e-9)


def test_beta_by_band() -> None:
    """P.526-15, 3.1.1.1: over land beta is 1 above 20 MHz; vertical over sea it is worked out up to 300
    MHz."""
    ones = P526._replace(beta_rule=0)

    def both(f_ghz: float, sea: float, polarisation: int) -> tuple[float, float]:
        first = smooth_earth_loss_db(60.0, 10.0, 10.0, 8500.0, f_ghz, sea, polarisation, P526)
        return first, smooth_earth_loss_db(60.0, 10.0, 10.0, 8500.0, f_ghz, sea, polarisation, ones)

    for f_ghz, sea, polarisation in ((0.0285, 0.0, 1), (0.446, 1.0, 1), (0.05, 1.0, 0)):
        ruled, one = both(f_ghz, sea, polarisation)
        assert ruled == one
    ruled, one = both(0.0285, 1.0, 1)
    assert abs(ruled - one) > 1.0


def test_smooth_earth_grows_with_distance_beyond_the_horizon() -> None:
    losses = [
        smooth_earth_loss_db(d, 10.0, 10.0, 8500.0, 0.146, 0.0, 1, P526) for d in np.arange(30.0, 300.0, 5.0)
    ]
    assert all(a < b for a, b in pairwise(losses))


# --- whole models ---


@pytest.mark.parametrize("model", TERRAIN_MODELS, ids=ids)
@pytest.mark.parametrize("seed", range(8))
def test_reciprocal(model: BullingtonModel, seed: int) -> None:
    profile = rolling(seed)
    there = model.loss(profile, tx_height_m=25.0, rx_height_m=3.0, frequency_mhz=146.0)
    back = model.loss(profile.reversed(), tx_height_m=3.0, rx_height_m=25.0, frequency_mhz=146.0)
    assert there.loss_db == pytest.approx(back.loss_db, abs=1e-8)


@pytest.mark.parametrize("model", TERRAIN_MODELS, ids=ids)
def test_never_below_free_space_and_batch_agrees_with_single(model: BullingtonModel) -> None:
    profiles = [rolling(seed, points=5 + 7 * seed, length_km=1.0 + 9.0 * seed) for seed in range(10)]
    batch = model.losses(ProfileBatch.of(profiles), tx_height_m=20.0, rx_height_m=2.0, frequency_mhz=446.0)
    assert (batch.loss_db >= batch.free_space_db).all()
    for path, profile in enumerate(profiles):
        alone = model.loss(profile, tx_height_m=20.0, rx_height_m=2.0, frequency_mhz=446.0)
        assert batch.loss_db[path] == alone.loss_db


@settings(max_examples=80, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    points=st.integers(3, 80),
    heights=st.tuples(st.floats(1.0, 200.0), st.floats(1.0, 50.0)),
    frequency_mhz=st.sampled_from([28.5, 52.0, 146.0, 446.0]),
    polarisation=st.sampled_from(list(Polarisation)),
    sea=st.booleans(),
)
def test_compiled_delta_bullington_agrees_with_the_plain_writing(
    seed: int,
    points: int,
    heights: tuple[float, float],
    frequency_mhz: float,
    polarisation: Polarisation,
    sea: bool,
) -> None:
    base = rolling(seed, points=points, length_km=2.0 + seed % 120)
    zone = np.full(points, ZONE_INLAND)
    if sea:
        zone[points // 3 : points // 2] = ZONE_SEA
    profile = Profile.of(base.distance_m, base.ground_m, zone=zone)
    model = DeltaBullingtonModel(constants=P1812)
    link = {"tx_height_m": heights[0], "rx_height_m": heights[1], "frequency_mhz": frequency_mhz}
    d, h = base.distance_m / 1e3, base.ground_m
    hts, hrs = h[0] + heights[0], h[-1] + heights[1]
    _, _, hstd, hsrd = PLAIN["smooth_ends"](d, h, hts, hrs)
    omega = PLAIN["longest_run"](d, zone == ZONE_SEA)[1] / d[-1]
    plain = PLAIN["delta_bullington"](
        d,
        h,
        hts,
        hrs,
        hstd,
        hsrd,
        RADIUS_KM,
        frequency_mhz / 1e3,
        omega,
        polarisation is Polarisation.VERTICAL,
    )
    found = model.loss(profile, polarisation=polarisation, **link)
    assert found.loss_db - found.free_space_db == pytest.approx(plain, abs=1e-6)
    assert model.parts(profile, polarisation=polarisation, **link).loss_db == pytest.approx(plain, abs=1e-6)


@pytest.mark.parametrize("length_km", [5.0, 20.0, 60.0, 150.0])
@pytest.mark.parametrize("polarisation", list(Polarisation))
def test_a_higher_antenna_over_smooth_earth_never_loses_more(
    length_km: float, polarisation: Polarisation
) -> None:
    """Against free space; 0.02 dB allowed where P.526 joins its formulas."""
    heights = np.geomspace(1.0, 500.0, 120)
    flat = Profile.of(np.linspace(0.0, length_km * 1e3, 400), np.zeros(400))
    found = DeltaBullingtonModel().losses(
        ProfileBatch.of([flat] * heights.size),
        tx_height_m=heights,
        rx_height_m=5.0,
        frequency_mhz=146.0,
        polarisation=polarisation,
    )
    assert np.diff(found.loss_db - found.free_space_db).max() <= 0.02


def test_continuous_through_grazing() -> None:
    """An antenna rising past the ridge line in steps of 1 cm: no step above 0.02 dB."""
    d = np.linspace(0.0, 30e3, 301)
    ridge = Profile.of(d, 250.0 * np.exp(-(((d - 14e3) / 900.0) ** 2)))
    heights = 300.0 + np.arange(-2000, 2000) * 1e-2
    for model in TERRAIN_MODELS:
        found = model.losses(
            ProfileBatch.of([ridge] * heights.size),
            tx_height_m=heights,
            rx_height_m=200.0,
            frequency_mhz=146.0,
        )
        limit = 1.0 if model.name == "cascaded_edges" else 0.02  # the side edges of the cascade come and go
        assert np.abs(np.diff(found.loss_db)).max() < limit, model.name


@pytest.mark.parametrize("model", TERRAIN_MODELS, ids=ids)
def test_the_whole_country_may_be_lifted(model: BullingtonModel) -> None:
    profile = rolling(3)
    lifted = Profile.of(profile.distance_m, profile.ground_m + 1500.0)
    link = {"tx_height_m": 10.0, "rx_height_m": 4.0, "frequency_mhz": 146.0}
    assert model.loss(profile, **link).loss_db == pytest.approx(model.loss(lifted, **link).loss_db, abs=1e-7)

"""P.1812 against a second, plain writing of itself, and the properties the Recommendation gives it."""

from __future__ import annotations

import runpy
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.building_entry import Building
from reach.propagation.p1812.model import (
    P1812Model,
    P1812Settings,
    field_strength_1kw_dbuvm,
    lapse_rate_of_k_factor,
)
from reach.propagation.p1812.parameters import anomalous_time_percent, inland_share_tau, path_zones
from reach.propagation.p1812.variability import BuildingEntry, building_entry, inverse_normal
from reach.stations import Polarisation
from reach.terrain.profile import ZONE_COASTAL, ZONE_INLAND, ZONE_SEA, Profile, ProfileBatch

plain_p1812_loss_db = runpy.run_path(str(Path(__file__).with_name("plain_p1812.py")))["p1812_loss_db"]


def terrain(seed: int, *, points: int, length_km: float, roughness_m: float, uneven: bool) -> Profile:
    """Rolling ground with clutter and a stretch of sea or coast on some paths."""
    rng = np.random.default_rng(seed)
    steps = rng.uniform(0.2, 1.0, points - 1) if uneven else np.ones(points - 1)
    d = np.concatenate(([0.0], np.cumsum(steps)))
    d *= length_km * 1e3 / d[-1]
    walk = np.cumsum(rng.normal(0.0, roughness_m / np.sqrt(points), points))
    h = 300.0 + walk - walk.min()
    zone = np.full(points, ZONE_INLAND)
    if seed % 3 == 0:
        a, b = sorted(rng.integers(0, points, 2))
        zone[a:b] = ZONE_SEA
        zone[b : b + points // 10] = ZONE_COASTAL
    clutter = rng.choice([0.0, 0.0, 10.0, 20.0], points) if seed % 2 else np.zeros(points)
    return Profile.of(d, h, clutter_m=clutter, zone=zone, mid_latitude_deg=float(rng.uniform(-75, 75)))


def plain_db(profile: Profile, settings_: P1812Settings, **link: object) -> float:
    return float(
        plain_p1812_loss_db(
            d=profile.distance_m / 1e3,
            h=profile.ground_m,
            clutter=profile.clutter_m,
            zone=profile.zone,
            phi=profile.mid_latitude_deg,
            htg=link["tx_height_m"],
            hrg=link["rx_height_m"],
            f=link["frequency_mhz"] / 1e3,  # type: ignore[operator]
            vertical=link["polarisation"] is Polarisation.VERTICAL,
            p=settings_.time_percent,
            pl=settings_.location_percent,
            sigma=settings_.location_sigma_db or 0.0,
            dn=settings_.lapse_rate_n_per_km,
            n0=settings_.sea_level_refractivity_n,
        )
    )


@settings(max_examples=150, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    points=st.integers(3, 120),
    length_km=st.floats(0.3, 400.0),
    roughness_m=st.sampled_from([0.0, 5.0, 80.0, 600.0]),
    uneven=st.booleans(),
    heights=st.tuples(st.floats(1.0, 200.0), st.floats(1.0, 30.0)),
    frequency_mhz=st.sampled_from([30.0, 52.0, 146.0, 223.0, 446.0, 600.0, 2400.0, 6000.0]),
    polarisation=st.sampled_from(list(Polarisation)),
    time_percent=st.sampled_from([1.0, 3.0, 10.0, 49.0, 50.0]),
    location_percent=st.sampled_from([5.0, 50.0, 95.0]),
    lapse=st.sampled_from([0.0, 45.0, 70.0]),
)
def test_compiled_batch_agrees_with_the_plain_writing(
    seed: int,
    points: int,
    length_km: float,
    roughness_m: float,
    uneven: bool,
    heights: tuple[float, float],
    frequency_mhz: float,
    polarisation: Polarisation,
    time_percent: float,
    location_percent: float,
    lapse: float,
) -> None:
    profile = terrain(seed, points=points, length_km=length_km, roughness_m=roughness_m, uneven=uneven)
    chosen = P1812Settings(
        time_percent=time_percent,
        location_percent=location_percent,
        location_sigma_db=5.5,
        lapse_rate_n_per_km=lapse,
    )
    model = P1812Model(chosen)
    link = {
        "tx_height_m": heights[0],
        "rx_height_m": heights[1],
        "frequency_mhz": frequency_mhz,
        "polarisation": polarisation,
    }
    compiled = model.loss(profile, **link).loss_db  # type: ignore[arg-type]
    assert compiled == pytest.approx(plain_db(profile, chosen, **link), abs=1e-6)
    assert compiled == pytest.approx(model.details(profile, **link).loss_db, abs=1e-8)  # type: ignore[arg-type]


def test_a_batch_gives_what_its_paths_give() -> None:
    profiles = [
        terrain(s, points=20 + 37 * s, length_km=3.0 + 11.0 * s, roughness_m=120.0, uneven=True)
        for s in range(9)
    ]
    heights = np.linspace(2.0, 60.0, 9)
    frequencies = np.where(np.arange(9) % 2, 146.0, 446.0)
    batch = P1812Model().losses(
        ProfileBatch.of(profiles), tx_height_m=heights, rx_height_m=5.0, frequency_mhz=frequencies
    )
    for path, profile in enumerate(profiles):
        alone = P1812Model().loss(
            profile, tx_height_m=heights[path], rx_height_m=5.0, frequency_mhz=float(frequencies[path])
        )
        assert batch.loss_db[path] == alone.loss_db
        assert batch.free_space_db[path] == alone.free_space_db


def test_threads_do_not_change_the_numbers() -> None:
    profiles = [terrain(s, points=900, length_km=40.0, roughness_m=100.0, uneven=False) for s in range(60)]
    batch = ProfileBatch.of(profiles)
    link = {"tx_height_m": 20.0, "rx_height_m": 3.0, "frequency_mhz": 146.0}
    one = P1812Model(threads=1).losses(batch, **link).loss_db
    two = P1812Model(threads=2).losses(batch, **link).loss_db
    assert np.array_equal(one, two)


@settings(max_examples=60, deadline=None)
@given(
    seed=st.integers(0, 10**6),
    frequency_mhz=st.sampled_from([52.0, 146.0, 446.0]),
    p=st.sampled_from([5.0, 50.0]),
)
def test_reciprocal(seed: int, frequency_mhz: float, p: float) -> None:
    """P.1812 is symmetric in its ends; 1e-9 dB is rounding. Ties and the zones go both ways alike."""
    profile = terrain(seed, points=80, length_km=5.0 + seed % 90, roughness_m=150.0, uneven=True)
    model = P1812Model(P1812Settings(time_percent=p))
    there = model.loss(profile, tx_height_m=25.0, rx_height_m=3.0, frequency_mhz=frequency_mhz)
    back = model.loss(profile.reversed(), tx_height_m=3.0, rx_height_m=25.0, frequency_mhz=frequency_mhz)
    assert there.loss_db == pytest.approx(back.loss_db, abs=1e-9)


@settings(max_examples=60, deadline=None)
@given(seed=st.integers(0, 10**6), frequency_mhz=st.sampled_from([30.0, 146.0, 446.0, 2000.0]))
def test_median_never_beats_free_space(seed: int, frequency_mhz: float) -> None:
    """At p = 50 Lb0p is free space and Lb at least Lb0p, eq. (69)."""
    profile = terrain(seed, points=60, length_km=1.0 + seed % 200, roughness_m=200.0, uneven=True)
    found = P1812Model().loss(profile, tx_height_m=30.0, rx_height_m=2.0, frequency_mhz=frequency_mhz)
    assert found.loss_db >= found.free_space_db - 1e-9


def test_small_time_percentages_never_lose_more() -> None:
    profile = terrain(11, points=300, length_km=90.0, roughness_m=80.0, uneven=False)
    losses = [
        P1812Model(P1812Settings(time_percent=p))
        .loss(profile, tx_height_m=20.0, rx_height_m=5.0, frequency_mhz=146.0)
        .loss_db
        for p in (1.0, 5.0, 10.0, 20.0, 35.0, 50.0)
    ]
    assert all(a <= b for a, b in pairwise(losses))


@pytest.mark.parametrize("length_km", [5.0, 20.0, 60.0, 150.0])
def test_a_higher_antenna_over_smooth_earth_never_loses_more(length_km: float) -> None:
    """Only beyond the reach of the averaged first term's own steps: 0.02 dB allowed, as P.1812 itself joins
    there."""
    flat = Profile.of(np.linspace(0.0, length_km * 1e3, 400), np.zeros(400))
    heights = np.geomspace(1.0, 500.0, 150)
    batch = ProfileBatch.of([flat] * heights.size)
    loss = P1812Model().losses(batch, tx_height_m=heights, rx_height_m=5.0, frequency_mhz=146.0)
    beyond_free_space = loss.loss_db - loss.free_space_db
    assert np.diff(beyond_free_space).max() <= 0.02


@pytest.mark.parametrize("p", [5.0, 50.0])
def test_continuous_as_an_antenna_rises_through_grazing(p: float) -> None:
    """Through Stim = Str, (15) and (19) both tend to nu = 0: no jump. Steps of 1 mm, steepest slope a few
    dB/m."""
    d = np.linspace(0.0, 30e3, 301)
    ridge = 250.0 * np.exp(-(((d - 14e3) / 900.0) ** 2))
    heights = np.arange(0.0, 400.0, 0.5) + 1.0
    batch = ProfileBatch.of([Profile.of(d, ridge)] * heights.size)
    model = P1812Model(P1812Settings(time_percent=p))
    coarse = model.losses(batch, tx_height_m=heights, rx_height_m=200.0, frequency_mhz=146.0).loss_db
    steepest = np.abs(np.diff(coarse)).max()
    assert steepest < 0.5  # dB in half a metre
    graze = 300.0
    fine = graze + np.arange(-400, 400) * 1e-3
    batch = ProfileBatch.of([Profile.of(d, ridge)] * fine.size)
    loss = model.losses(batch, tx_height_m=fine, rx_height_m=200.0, frequency_mhz=146.0).loss_db
    assert np.abs(np.diff(loss)).max() < 0.005


def test_the_whole_country_may_be_lifted() -> None:
    """Ground and sea level enter only as differences, but for the ducting term (49) over sea."""
    profile = terrain(4, points=200, length_km=45.0, roughness_m=100.0, uneven=True)
    lifted = Profile.of(
        profile.distance_m,
        profile.ground_m + 700.0,
        clutter_m=profile.clutter_m,
        zone=profile.zone,
        mid_latitude_deg=profile.mid_latitude_deg,
    )
    link = {"tx_height_m": 12.0, "rx_height_m": 4.0, "frequency_mhz": 146.0}
    assert P1812Model().loss(profile, **link).loss_db == pytest.approx(
        P1812Model().loss(lifted, **link).loss_db, abs=1e-7
    )


def test_clutter_at_the_ends_is_ignored_and_between_counts() -> None:
    d, h = np.linspace(0.0, 8e3, 81), np.full(81, 50.0)
    link = {"tx_height_m": 10.0, "rx_height_m": 2.0, "frequency_mhz": 146.0}
    bare = P1812Model().loss(Profile.of(d, h), **link).loss_db
    at_ends = np.zeros(81)
    at_ends[[0, -1]] = 25.0
    assert P1812Model().loss(Profile.of(d, h, clutter_m=at_ends), **link).loss_db == bare
    between = np.zeros(81)
    between[40] = 15.0
    assert P1812Model().loss(Profile.of(d, h, clutter_m=between), **link).loss_db > bare + 1.0


def test_zones_are_measured_half_way_to_the_neighbours() -> None:
    """Sea from 2.5 to 5.5 km, coastal land to 7.5 km, inland around, by hand; P.1812-7, 3.2 and 3.5."""
    d = np.arange(11) * 1e3
    zone = np.array([4, 4, 4, 1, 1, 1, 3, 3, 4, 4, 4], dtype=np.int8)
    found = path_zones(d, zone)
    assert found.sea_share == pytest.approx(0.3)
    assert found.longest_land_km == pytest.approx(4.5)  # 5.5 to 10 km, both kinds of land
    assert found.longest_inland_km == pytest.approx(2.5)
    assert (found.tx_coast_km, found.rx_coast_km) == (pytest.approx(2.5), pytest.approx(4.5))
    inland = path_zones(d, np.full(11, 4, dtype=np.int8))
    assert inland == (0.0, 10.0, 10.0, 500.0, 500.0)
    at_sea = path_zones(d, np.full(11, 1, dtype=np.int8))
    assert at_sea == (1.0, 0.0, 0.0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("latitude_deg", "length_km", "beta0"),
    [(30, 20, 10.98), (40, 20, 6.88), (50, 20, 4.31), (60, 20, 2.70), (50, 50, 1.34), (40, 200, 2.61)],
)
def test_time_of_anomalous_propagation(latitude_deg: float, length_km: float, beta0: float) -> None:
    """P.1812-7, eqs (2) to (5) over inland ground, worked by hand to three digits."""
    found = anomalous_time_percent(length_km, inland_share_tau(length_km), latitude_deg)
    assert found == pytest.approx(beta0, abs=0.006)
    assert anomalous_time_percent(length_km, inland_share_tau(length_km), -latitude_deg) == found


def test_a_terminal_near_the_sea_couples_into_ducts() -> None:
    """Eq. (49) by hand, -3 exp(-0.25) (1 + tanh(0.07 (50 - 20))) at 1 km; none at 6 km or 70 % sea."""
    d, h = np.linspace(0.0, 100e3, 501), np.zeros(501)
    link = {"tx_height_m": 20.0, "rx_height_m": 20.0, "frequency_mhz": 446.0}

    def ducting_db(sea_from_km: float, tx_coast_km: float) -> float:
        zone = np.where(d >= sea_from_km * 1e3, ZONE_SEA, ZONE_INLAND)
        chosen = P1812Settings(time_percent=10.0, tx_coast_km=tx_coast_km, rx_coast_km=500.0)
        return float(P1812Model(chosen).details(Profile.of(d, h, zone=zone), **link).ducting_db)

    expected_db = -3.0 * np.exp(-0.25) * (1.0 + np.tanh(2.1))
    assert ducting_db(10.0, 1.0) - ducting_db(10.0, 500.0) == pytest.approx(expected_db, abs=1e-9)
    assert ducting_db(10.0, 6.0) == ducting_db(10.0, 500.0)
    assert ducting_db(30.0, 1.0) == ducting_db(30.0, 500.0)


# --- places and buildings -------------------------------------------------------------------------------


def test_ninety_per_cent_of_places_lose_more_than_half_of_them() -> None:
    profile = terrain(5, points=100, length_km=15.0, roughness_m=60.0, uneven=False)
    link = {"tx_height_m": 20.0, "rx_height_m": 1.5, "frequency_mhz": 146.0}
    half = P1812Model().loss(profile, **link).loss_db
    ninety = (
        P1812Model(P1812Settings(location_percent=90.0, location_sigma_db=5.5)).loss(profile, **link).loss_db
    )
    # 1.2817 is I(0.10) by Attachment 2's approximation, 1.2816 exactly
    assert ninety - half == pytest.approx(1.2817 * 5.5, abs=0.01)


@pytest.mark.parametrize(
    ("rx_height_m", "square_m", "sigma_db"),
    [(1.5, 50.0, 1.57), (1.5, 500.0, 2.98), (15.0, 50.0, 0.785), (20.0, 50.0, 0.0)],
)
def test_location_spread_follows_square_and_height(
    rx_height_m: float, square_m: float, sigma_db: float
) -> None:
    """P.1812-7, 4.7 (from memory), by hand: 0.5235 x 50^0.28 = 1.57 dB, x 500^0.28 = 2.98 dB below clutter.

    The clutter is 10 m high; 5 m above it half of the spread is left, 10 m above it none.
    """
    d = np.linspace(0.0, 15e3, 101)
    profile = Profile.of(d, np.zeros(101), clutter_m=np.full(101, 10.0))
    link = {"tx_height_m": 20.0, "rx_height_m": rx_height_m, "frequency_mhz": 146.0}
    half = P1812Model().loss(profile, **link).loss_db
    chosen = P1812Settings(location_percent=90.0, location_square_m=square_m)
    assert P1812Model(chosen).loss(profile, **link).loss_db - half == pytest.approx(
        1.2817 * sigma_db, abs=0.01
    )


def test_a_receiver_at_sea_has_no_spread() -> None:
    d, h = np.linspace(0.0, 20e3, 101), np.zeros(101)
    sea = Profile.of(d, h, zone=np.full(101, ZONE_SEA))
    link = {"tx_height_m": 20.0, "rx_height_m": 5.0, "frequency_mhz": 146.0}
    ninety = P1812Model(P1812Settings(location_percent=90.0, location_sigma_db=5.5))
    assert ninety.loss(sea, **link).loss_db == P1812Model().loss(sea, **link).loss_db


def test_building_entry_widens_the_spread_in_quadrature() -> None:
    profile = terrain(5, points=100, length_km=15.0, roughness_m=60.0, uneven=False)
    link = {"tx_height_m": 20.0, "rx_height_m": 1.5, "frequency_mhz": 446.0}
    outdoors = P1812Model().loss(profile, **link).loss_db
    entry = BuildingEntry(median_db=12.0, sigma_db=6.0)
    chosen = P1812Settings(location_percent=90.0, location_sigma_db=8.0, entry=entry)
    indoors = P1812Model(chosen).loss(profile, **link).loss_db
    assert indoors - outdoors == pytest.approx(12.0 + 1.2817 * 10.0, abs=0.01)


def test_spread_of_building_entry_is_half_the_way_between_the_sigma_points() -> None:
    """P.2109-1 for a traditional building at 146 MHz, by hand at 84.1 % and 15.9 %.

    A 10.18 +- 7.93, B 11.61 +- 6.17, C -3 dB: 10 log of their sum is 20.98 and 7.54 dB, half apart 6.72 dB.
    """
    found = building_entry(Building.TRADITIONAL, frequency_mhz=146.0)
    assert found.median_db == pytest.approx(14.06, abs=0.02)
    assert found.sigma_db == pytest.approx(6.72, abs=0.02)


def test_a_named_building_uses_p2109_and_says_where_that_begins() -> None:
    profile = terrain(5, points=100, length_km=15.0, roughness_m=60.0, uneven=False)
    model = P1812Model(P1812Settings(building=Building.TRADITIONAL))
    outdoors = P1812Model().loss(profile, tx_height_m=20.0, rx_height_m=1.5, frequency_mhz=146.0).loss_db
    indoors = model.loss(profile, tx_height_m=20.0, rx_height_m=1.5, frequency_mhz=146.0).loss_db
    assert indoors - outdoors == pytest.approx(
        building_entry(Building.TRADITIONAL, frequency_mhz=146.0).median_db
    )
    with pytest.raises(OutOfRange, match="80"):
        model.loss(profile, tx_height_m=20.0, rx_height_m=1.5, frequency_mhz=52.0)


@settings(max_examples=100, deadline=None)
@given(st.floats(1e-6, 1 - 1e-6))
def test_inverse_normal_within_its_stated_accuracy(x: float) -> None:
    """Attachment 2's rational approximation is good to 0.00054 (from memory); the exact one is scipy's."""
    from scipy.stats import norm

    assert inverse_normal(x) == pytest.approx(float(norm.isf(x)), abs=0.0006)


# --- edges of the valid range ------------------------------------------------------------------------------


def test_ten_metres_is_refused_with_a_model_that_fits() -> None:
    profile = terrain(5, points=100, length_km=15.0, roughness_m=60.0, uneven=False)
    with pytest.raises(
        OutOfRange, match=r"28\.5 MHz; p1812 is valid from 30 to 6000 MHz; use typical_land below 30 MHz"
    ):
        P1812Model().loss(profile, tx_height_m=10.0, rx_height_m=5.0, frequency_mhz=28.5)


def test_short_paths_are_free_space_and_diffraction_with_a_warning() -> None:
    d = np.linspace(0.0, 200.0, 21)
    hill = np.where(np.arange(21) == 10, 20.0, 0.0)
    link = {"tx_height_m": 5.0, "rx_height_m": 5.0, "frequency_mhz": 146.0}
    found = P1812Model().loss(Profile.of(d, hill), **link)
    parts = P1812Model().details(Profile.of(d, hill), **link)
    assert found.loss_db == pytest.approx(parts.sight.free_space_db + parts.diffraction.median.loss_db)
    assert len(found.warnings) == 1 and "0.25 km" in found.warnings[0]
    longer = P1812Model().loss(Profile.of(d * 1.26, hill), **link)
    shorter = P1812Model().loss(Profile.of(d * 1.2499, hill), **link)
    assert longer.warnings == ()
    assert longer.loss_db == pytest.approx(shorter.loss_db, abs=0.3)  # no cliff where the standard begins


@pytest.mark.parametrize(
    ("wrong", "text"),
    [
        ({"time_percent": 90.0}, "time percentage is 90; p1812 is valid from 1 to 50"),
        ({"location_percent": 0.0}, "location percentage is 0; p1812 is valid from 1 to 99"),
        ({"lapse_rate_n_per_km": 160.0}, "lapse rate in N/km is 160"),
        ({"time_percent": float("nan")}, "time percentage is nan"),
    ],
)
def test_settings_say_their_range(wrong: dict[str, float], text: str) -> None:
    with pytest.raises(OutOfRange, match=text):
        P1812Settings(**wrong)  # type: ignore[arg-type]


def test_hostile_relief_stays_finite() -> None:
    """A cliff of 9 km beside the antenna: the ducting term passes 1770 dB, where exp would overflow."""
    d = np.array([0.0, 50.0, 100.0, 300e3, 600e3])
    h = np.array([-500.0, 9000.0, -500.0, 9000.0, -500.0])
    found = P1812Model().loss(Profile.of(d, h), tx_height_m=1.0, rx_height_m=1.0, frequency_mhz=6000.0)
    parts = P1812Model().details(Profile.of(d, h), tx_height_m=1.0, rx_height_m=1.0, frequency_mhz=6000.0)
    assert np.isfinite(found.loss_db) and np.isfinite(parts.ducting_db)


def test_k_factor_and_lapse_rate_are_two_words_for_one_thing() -> None:
    assert lapse_rate_of_k_factor(4.0 / 3.0) == pytest.approx(39.25)
    assert P1812Settings(lapse_rate_n_per_km=lapse_rate_of_k_factor(4.0 / 3.0)).radius_km == pytest.approx(
        6371.0 * 4.0 / 3.0
    )


def test_field_strength_of_one_kilowatt_erp_in_free_space() -> None:
    """P.525: E = 106.92 dB(uV/m) at 1 km from 1 kW e.r.p. (222 mV/m, the usual half-wave dipole figure)."""
    loss_db = 92.45 + 20.0 * np.log10(0.1) + 0.0
    assert field_strength_1kw_dbuvm(loss_db=loss_db, frequency_mhz=100.0) == pytest.approx(106.9, abs=0.1)

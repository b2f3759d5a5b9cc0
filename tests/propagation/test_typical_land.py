"""Typical land: what must hold of it, whatever the ground."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.diffraction_models import DeltaBullingtonModel
from reach.propagation.itm.model import ItmModel
from reach.propagation.models import LandSight
from reach.propagation.p1812.model import P1812Model
from reach.propagation.typical_land.model import Cover, TypicalLandModel
from reach.propagation.typical_land.rule import LAND_HEIGHT_M, end_term_db, usual_cover_m, worked_height_m
from reach.propagation.typical_land.scatter import low_antenna_loss_db
from reach.stations import Land
from reach.terrain.profile import Profile, ProfileBatch

TYPICAL = TypicalLandModel()
BARE = TypicalLandModel(Cover.BARE)
HEIGHTS_M = {"handheld": 1.5, "mobile": 2.0, "base": 9.0, "mast": 20.0}


def flat(length_km: float) -> Profile:
    distance_m = np.linspace(0.0, length_km * 1e3, round(length_km * 1e3 / 30.0) + 1)
    return Profile.of(distance_m, np.zeros(distance_m.size))


def gentle(length_km: float, seed: int = 0) -> Profile:
    """Land that rolls by 10 m or so over kilometres."""
    rng = np.random.default_rng(seed)
    distance_m = np.linspace(0.0, length_km * 1e3, round(length_km * 1e3 / 30.0) + 1)
    ground_m = sum(
        4.0 * np.sin(2.0 * np.pi * distance_m / wave_m + phase)
        for wave_m, phase in zip((2_700.0, 4_300.0, 9_100.0), rng.uniform(0.0, 6.28, 3), strict=True)
    )
    return Profile.of(distance_m, 50.0 + ground_m)


# Point by point against complete models that know low antennas


@pytest.mark.parametrize("frequency_mhz", [28.5, 52.0, 146.0, 446.0])
@pytest.mark.parametrize("tx", HEIGHTS_M)
@pytest.mark.parametrize("rx", HEIGHTS_M)
def test_over_bare_flat_land_scatter_no_longer_flatters_low_antennas(
    tx: str, rx: str, frequency_mhz: float
) -> None:
    """Smooth-Earth diffraction and ITM for every kind of station, 10 to 50 km: within 6 dB of the nearer.

    P.1812 alone is up to 30 dB under both of them.
    """
    for length_km in (10.0, 30.0, 50.0):
        given = {"tx_height_m": HEIGHTS_M[tx], "rx_height_m": HEIGHTS_M[rx], "frequency_mhz": frequency_mhz}
        profile = flat(length_km)
        loss_db = BARE.loss(profile, **given).loss_db
        others_db = [
            DeltaBullingtonModel(k_factor=157.0 / 112.0).loss(profile, **given).loss_db,
            ItmModel().loss(profile, **given).loss_db,
        ]
        assert min(abs(loss_db - other_db) for other_db in others_db) < 6.0, (length_km, loss_db, others_db)


@pytest.mark.parametrize("frequency_mhz", [146.0, 446.0])
def test_over_gently_rolling_land_loss_keeps_growing(frequency_mhz: float) -> None:
    """Two cars: 10 dB or more from 10 to 30 km, where P.1812's scatter lets it grow by 5."""
    for seed in range(4):
        at_db = [
            TYPICAL.loss(
                gentle(length_km, seed), tx_height_m=2.0, rx_height_m=2.0, frequency_mhz=frequency_mhz
            ).loss_db
            for length_km in (10.0, 30.0)
        ]
        assert at_db[1] - at_db[0] > 10.0


# Invariants


@st.composite
def paths(draw: st.DrawFn) -> Profile:
    length_km = draw(st.floats(1.0, 60.0))
    n = draw(st.integers(20, 200))
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    distance_m = np.linspace(0.0, length_km * 1e3, n)
    relief_m = draw(st.sampled_from([0.0, 20.0, 100.0, 500.0]))
    ground_m = 300.0 + relief_m * np.interp(
        distance_m, np.linspace(0.0, length_km * 1e3, 12), rng.uniform(-0.5, 0.5, 12)
    )
    clutter_m = rng.choice([0.0, 0.0, 10.0, 15.0, 25.0], n)
    return Profile.of(distance_m, ground_m, clutter_m=clutter_m)


heights = st.floats(0.5, 40.0)
frequencies = st.sampled_from([28.5, 52.0, 146.0, 223.0, 446.0])
lands = st.sampled_from(sorted(set(LAND_HEIGHT_M.values())))


@settings(max_examples=80, deadline=None)
@given(
    profile=paths(), tx_m=heights, rx_m=heights, tx_land_m=lands, rx_land_m=lands, frequency_mhz=frequencies,
    cover=st.sampled_from(list(Cover)),
)  # fmt: skip
def test_a_path_reads_the_same_both_ways(
    profile: Profile, tx_m: float, rx_m: float, tx_land_m: float, rx_land_m: float, frequency_mhz: float,
    cover: Cover,
) -> None:  # fmt: skip
    model = TypicalLandModel(cover)
    there = model.loss(
        profile, tx_height_m=tx_m, rx_height_m=rx_m, frequency_mhz=frequency_mhz, tx_land_m=tx_land_m,
        rx_land_m=rx_land_m,
    )  # fmt: skip
    back = model.loss(
        profile.reversed(), tx_height_m=rx_m, rx_height_m=tx_m, frequency_mhz=frequency_mhz,
        tx_land_m=rx_land_m, rx_land_m=tx_land_m,
    )  # fmt: skip
    assert there.loss_db == pytest.approx(back.loss_db, abs=1e-9)
    assert (there.tx_end_db, there.rx_end_db) == pytest.approx((back.rx_end_db, back.tx_end_db), abs=1e-9)


@settings(max_examples=80, deadline=None)
@given(profile=paths(), tx_m=heights, rx_m=heights, frequency_mhz=frequencies)
def test_more_cover_never_helps(profile: Profile, tx_m: float, rx_m: float, frequency_mhz: float) -> None:
    """Open, houses, trees at one end: each loses no less than the one before, trees within 2.5 dB.

    The slack is the Recommendations' own: a low antenna worked at 15 m looks over land that one at 10 m does
    not, by more, on some ground, than the step of the end term. Bare ground is no part of it: over smooth
    flat land the reflection takes more from two antennas at 1 m than houses do.
    """
    given = {"tx_height_m": tx_m, "rx_height_m": rx_m, "frequency_mhz": frequency_mhz, "rx_land_m": 10.0}
    open_db, houses_db, trees_db = (
        TYPICAL.loss(profile, tx_land_m=land_m, **given).loss_db for land_m in (0.0, 10.0, 15.0)
    )
    assert open_db <= houses_db + 1e-9
    assert houses_db <= trees_db + 2.5


@settings(max_examples=60, deadline=None)
@given(profile=paths(), rx_m=heights, land_m=lands, frequency_mhz=frequencies)
def test_no_jump_where_an_antenna_rises_out_of_the_roofs(
    profile: Profile, rx_m: float, land_m: float, frequency_mhz: float
) -> None:
    if land_m == 0.0:
        return
    below, at = (
        TYPICAL.loss(
            profile, tx_height_m=height_m, rx_height_m=rx_m, frequency_mhz=frequency_mhz, tx_land_m=land_m
        ).loss_db
        for height_m in (land_m - 0.001, land_m)
    )
    assert abs(below - at) < 0.01


@settings(max_examples=40, deadline=None)
@given(profile=paths(), tx_m=heights, rx_m=heights, frequency_mhz=frequencies)
def test_the_batch_is_the_single_path(
    profile: Profile, tx_m: float, rx_m: float, frequency_mhz: float
) -> None:
    batch = ProfileBatch.of([profile, profile])
    given = {"tx_height_m": tx_m, "rx_height_m": rx_m, "frequency_mhz": frequency_mhz}
    found = TYPICAL.losses(batch, tx_land_m=[0.0, 15.0], rx_land_m=10.0, **given)
    for path, land_m in enumerate((0.0, 15.0)):
        plain = TYPICAL.details(profile, tx_land_m=land_m, rx_land_m=10.0, **given)
        assert found.loss_db[path] == pytest.approx(plain.loss_db, abs=1e-6)
        assert plain.loss_db == pytest.approx(plain.over_land_db + plain.tx_end_db + plain.rx_end_db)


def test_over_bare_ground_between_masts_it_is_p1812() -> None:
    """30 m masts at 20 km: scatter counts for nothing, so all that differs from P.1812 is gone."""
    for profile in (flat(20.0), gentle(20.0)):
        given = {"tx_height_m": 30.0, "rx_height_m": 30.0, "frequency_mhz": 146.0}
        p1812_db = P1812Model().loss(profile, **given).loss_db
        assert BARE.loss(profile, **given).loss_db == pytest.approx(p1812_db, abs=0.05)


# The rule's pieces


def test_cover_of_either_half() -> None:
    distance_m = np.linspace(0.0, 4000.0, 9)  # 500 m apart
    inland = np.full(9, 4, dtype=np.int8)
    np.testing.assert_array_equal(
        usual_cover_m(distance_m, inland, 15.0, 10.0), [0, 15, 15, 15, 15, 10, 10, 10, 0]
    )
    np.testing.assert_array_equal(
        usual_cover_m(distance_m, inland, 0.0, 0.0), [0, 0, 10, 10, 10, 10, 10, 0, 0]
    )
    inland[3] = 1  # sea
    np.testing.assert_array_equal(
        usual_cover_m(distance_m, inland, 10.0, 15.0), [0, 10, 10, 0, 15, 15, 15, 15, 0]
    )


def test_every_kind_of_land_has_a_height_and_none_is_missed() -> None:
    assert set(LAND_HEIGHT_M) == set(Land)
    assert worked_height_m(2.0, 10.0) == 10.0 and worked_height_m(12.0, 10.0) == 12.0
    assert end_term_db(12.0, 10.0, 0.146) == 0.0


def test_scatter_vanishes_where_antennas_see_each_other() -> None:
    assert low_antenna_loss_db(0.0, 10.0, 10.0, 0.146) > 300.0
    assert low_antenna_loss_db(1e-12, 10.0, 10.0, 0.146) > 300.0
    assert low_antenna_loss_db(20.0, 300.0, 300.0, 0.446) < 0.2


def test_a_wood_beside_an_open_antenna_is_no_wall() -> None:
    """Clutter at the next point, 30 or 90 m off: the antenna counts as standing in it, whatever the step."""
    for step_m in (10.0, 30.0, 90.0):
        distance_m = np.arange(0.0, 20_000.0 + step_m, step_m)
        clutter_m = np.full(distance_m.size, 15.0)
        profile = Profile.of(distance_m, np.zeros(distance_m.size), clutter_m=clutter_m)
        model = TypicalLandModel(Cover.GIVEN)
        given = {"tx_height_m": 1.5, "rx_height_m": 10.0, "frequency_mhz": 146.0, "rx_land_m": 15.0}
        beside = model.loss(profile, tx_land_m=0.0, **given).loss_db
        within = model.loss(profile, tx_land_m=15.0, **given).loss_db
        assert beside <= within + 1e-9
        assert within == pytest.approx(145.0, abs=8.0)


def test_what_is_out_of_range_is_refused() -> None:
    profile = flat(10.0)
    given = {"tx_height_m": 2.0, "rx_height_m": 2.0}
    with pytest.raises(OutOfRange, match=r"frequency is 10 MHz; typical_land is valid from 20 to 3000 MHz"):
        TYPICAL.loss(profile, frequency_mhz=10.0, **given)
    with pytest.raises(OutOfRange, match=r"path 0: land round the transmitter is -1 m; valid: 0 to 200 m"):
        TYPICAL.loss(profile, frequency_mhz=146.0, tx_land_m=-1.0, **given)
    assert TYPICAL.limits.is_extrapolated(28.5) and not TYPICAL.limits.is_extrapolated(52.0)
    assert (TYPICAL.sees, BARE.sees) == (LandSight.ENDS, LandSight.NOTHING)

"""The Irregular Terrain Model as a model: invariants, batches, spacing, warnings and refusals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.itm import _batch_kernel
from reach.propagation.itm.ground import waves_of
from reach.propagation.itm.model import ItmModel, model
from reach.propagation.itm.scans import kth_from_both_ends
from reach.propagation.itm.settings import (
    SEA_WATER,
    SKYWAVE_WORDS,
    WARNING_WORDS,
    Climate,
    Ground,
    ItmWarning,
    LeftOut,
    Percentages,
    Region,
    VariabilityMode,
)
from reach.propagation.itm.terrain import horizons, workspace
from reach.propagation.itm.variability import deviate
from reach.propagation.models import PathLossModel
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch

PATH = {"tx_height_m": 10.0, "rx_height_m": 2.0, "frequency_mhz": 146.0}


def rolling(seed: int, *, points: int = 200, spacing_m: float = 60.0) -> Profile:
    rng = np.random.default_rng(seed)
    x = np.linspace(0.0, 1.0, points)
    ground_m = 150.0 + rng.uniform(0.0, 80.0) * x
    for _ in range(5):
        ground_m += rng.uniform(2.0, 40.0) * np.sin(
            2 * np.pi * rng.uniform(0.5, 20.0) * x + rng.uniform(0, 6.3)
        )
    return Profile.of(np.arange(points) * spacing_m, ground_m)


terrains = st.builds(
    rolling, st.integers(0, 10_000), points=st.integers(12, 400), spacing_m=st.floats(25.0, 300.0)
)
heights_m = st.floats(0.5, 150.0)
bands_mhz = st.sampled_from([28.5, 52.0, 146.0, 223.0, 446.0, 1296.0])
polarisations = st.sampled_from(list(Polarisation))
models = st.builds(
    ItmModel,
    climate=st.sampled_from(list(Climate)),
    mode=st.sampled_from(list(VariabilityMode)),
    left_out=st.sampled_from(list(LeftOut)),
    percentages=st.builds(Percentages, st.floats(1, 99), st.floats(1, 99), st.floats(1, 99)),
)


def test_is_a_path_loss_model() -> None:
    assert isinstance(model, PathLossModel)
    assert model.name == "itm"
    assert model.valid_mhz == (20.0, 20_000.0)


@settings(max_examples=150, deadline=None)
@given(terrain=terrains, h1=heights_m, h2=heights_m, f=bands_mhz, polarisation=polarisations, itm=models)
def test_reciprocity(
    terrain: Profile, h1: float, h2: float, f: float, polarisation: Polarisation, itm: ItmModel
) -> None:
    """The same loss the other way round, whatever the spacing (see `path.spacing_m`)."""
    there = itm.details(terrain, tx_height_m=h1, rx_height_m=h2, frequency_mhz=f, polarisation=polarisation)
    back = itm.details(
        terrain.reversed(), tx_height_m=h2, rx_height_m=h1, frequency_mhz=f, polarisation=polarisation
    )
    assert back.loss_db == pytest.approx(there.loss_db, abs=1e-6)
    assert back.region is there.region
    assert back.rx_horizon_m == pytest.approx(there.tx_horizon_m, abs=1e-4)
    assert back.rx_effective_height_m == pytest.approx(there.tx_effective_height_m, abs=1e-6)


@pytest.mark.parametrize("spacing_m", [100.0 / 3.0, 61.7, 99.97805])
def test_horizon_on_a_tenth_point_is_read_alike_from_both_ends(spacing_m: float) -> None:
    """Nine tenths of 10, 20, ... spacings are whole: no last bit may decide how much foreground is fitted."""
    for tenth in (10, 20, 30, 40, 70):
        ground_m = 100.0 + 3.0 * np.sin(np.arange(120.0))
        ground_m[tenth] += 90.0
        terrain = Profile.of(np.arange(120) * spacing_m, ground_m)
        there = model.details(terrain, **PATH)
        back = model.details(terrain.reversed(), tx_height_m=2.0, rx_height_m=10.0, frequency_mhz=146.0)
        assert there.tx_horizon_m == pytest.approx(tenth * spacing_m, abs=1e-3)
        assert back.loss_db == pytest.approx(there.loss_db, abs=1e-8)


@settings(max_examples=60, deadline=None)
@given(terrain=terrains, h1=heights_m, h2=heights_m, f=bands_mhz, lift_m=st.floats(0.0, 300.0))
def test_lifted_terrain_changes_the_loss_through_the_air_alone(
    terrain: Profile, h1: float, h2: float, f: float, lift_m: float
) -> None:
    """With the refractivity raised to give the same value at the lifted path, nothing changes."""
    lifted = Profile.of(terrain.distance_m, terrain.ground_m + lift_m)
    low = ItmModel(surface_refractivity_n_units=301.0)
    high = ItmModel(surface_refractivity_n_units=301.0 * float(np.exp(lift_m / 9460.0)))
    one = low.details(terrain, tx_height_m=h1, rx_height_m=h2, frequency_mhz=f)
    other = high.details(lifted, tx_height_m=h1, rx_height_m=h2, frequency_mhz=f)
    assert other.refractivity_n_units == pytest.approx(one.refractivity_n_units, rel=1e-12)
    assert other.loss_db == pytest.approx(one.loss_db, abs=1e-5)


@settings(max_examples=60, deadline=None)
@given(terrain=terrains, h1=heights_m, h2=heights_m, f=bands_mhz, itm=models)
def test_reference_is_never_below_free_space(
    terrain: Profile, h1: float, h2: float, f: float, itm: ItmModel
) -> None:
    result = itm.details(terrain, tx_height_m=h1, rx_height_m=h2, frequency_mhz=f)
    assert result.reference_db >= 0.0
    # gains are softened, A (29 - A)/(29 - 10 A): 100 dB below free space become 12.5 dB
    assert result.loss_db > result.free_space_db - 15.0


def test_batch_and_single_path_agree_whatever_the_threads() -> None:
    profiles = [rolling(seed, points=100 + 37 * seed) for seed in range(40)]
    h1 = np.linspace(2.0, 60.0, 40)
    f = np.resize([28.5, 52.0, 146.0, 446.0], 40)
    batch = ProfileBatch.of(profiles)
    one_core = ItmModel(threads=1).losses(batch, tx_height_m=h1, rx_height_m=2.0, frequency_mhz=f)
    all_cores = ItmModel().losses(batch, tx_height_m=h1, rx_height_m=2.0, frequency_mhz=f)
    singles = [
        model.loss(p, tx_height_m=float(h), rx_height_m=2.0, frequency_mhz=float(mhz))
        for p, h, mhz in zip(profiles, h1, f, strict=True)
    ]
    assert one_core.loss_db.tolist() == all_cores.loss_db.tolist() == [one.loss_db for one in singles]
    assert one_core.warnings == tuple((p, w) for p, one in enumerate(singles) for w in one.warnings)


def test_wild_but_allowed_inputs_give_finite_losses() -> None:
    """Cliffs, flats, plateaus and noise, from metres to 2000 km, heights and frequencies over the whole
    range.
    """
    rng = np.random.default_rng(5)
    profiles = []
    for path in range(3000):
        points = int(rng.choice([2, 3, 4, 6, 12, 50, 200]))
        kinds = (
            np.zeros(points),
            np.full(points, rng.uniform(-400.0, 4000.0)),
            rng.uniform(0.0, 3000.0, points),
            np.abs(np.cumsum(rng.normal(0.0, 20.0, points))),
            np.round(rng.uniform(0.0, 3.0, points)),
        )
        profiles.append(Profile.of(np.linspace(0.0, 10 ** rng.uniform(0.001, 6.3), points), kinds[path % 5]))
    result = model.batch_details(
        ProfileBatch.of(profiles),
        tx_height_m=10 ** rng.uniform(-0.301, 3.477, 3000),
        rx_height_m=10 ** rng.uniform(-0.301, 3.477, 3000),
        frequency_mhz=10 ** rng.uniform(1.302, 4.301, 3000),
    )
    assert np.isfinite(result.loss_db).all()
    assert (result.loss_db > result.free_space_db - 15.0).all()


def test_empty_batch_is_empty() -> None:
    assert model.losses(ProfileBatch.of([]), **PATH).loss_db.shape == (0,)


def test_plain_python_and_compiled_body_agree() -> None:
    """The formulas run uncompiled too, digit for digit but for the order of a few roundings."""
    for seed in (1, 2, 3):
        terrain = rolling(seed)
        result = model.details(terrain, **PATH)
        rows = np.zeros((1, 13))
        errors, warnings = np.zeros(1, dtype=np.int64), np.zeros(1, dtype=np.int64)
        one, z = np.ones(1), deviate(0.5)
        _batch_kernel.itm_paths.py_func(
            0, 1, np.array([0, terrain.points]), terrain.distance_m, terrain.ground_m, 10.0 * one, 2.0 * one,
            waves_of(146.0 * one, 15.0, 0.005, True), np.zeros(1, dtype=np.int64), 301.0, 5, 12, z, z, z,
            workspace(terrain.points), rows, errors, warnings,
        )  # fmt: skip
        assert rows[0, 0] == pytest.approx(result.loss_db, abs=1e-9)
        assert warnings[0] == int(result.flags)


def test_horizons_are_those_of_the_plain_loop() -> None:
    """Exactly, point by point in travel order with a strict ">", over hills, noise and whole metres."""
    rng = np.random.default_rng(3)
    for path in range(60):
        points = int(rng.choice([2, 3, 12, 128, 129, 130, 131, 258, 400]))
        ground_m = rolling(path, points=points).ground_m
        z = (ground_m, np.round(ground_m / 20.0), rng.uniform(0.0, 900.0, points))[path % 3]
        xi, a, n = float(rng.choice([25.0, 90.0, 512.0])), 8.5e6, points - 1
        h_1, h_2 = (float(h) for h in rng.choice([1.0, 2.0, 10.0, 60.0], 2))
        ends = []
        for end, h, other in ((0, h_1, z[n] + h_2), (n, h_2, z[0] + h_1)):
            Z, d = z[end] + h, n * xi
            theta = (other - Z) / d - d * (0.5 / a)
            for i in range(1, n):
                x = abs(i - end) * xi
                t = (z[i] - Z) / x - x * (0.5 / a)
                if t > theta:
                    theta, d = t, x
            ends.append((theta, d))
        (theta_1, d_1), (theta_2, d_2) = ends
        assert horizons(z, xi, h_1, h_2, a, workspace(points + path)) == (theta_1, theta_2, d_1, d_2)


def test_uneven_spacing_is_read_at_equal_steps() -> None:
    """The same straight-sided hill, sampled evenly and with the points pushed about on its straight sides."""
    even_m = np.arange(101) * 100.0
    hill_m = np.interp(even_m, [0.0, 5000.0, 10_000.0], [50.0, 180.0, 20.0])
    pushed_m = even_m.copy()
    pushed_m[1:50] += 40.0 * np.sin(np.arange(49.0))
    pushed_m[51:-1] += 40.0 * np.cos(np.arange(49.0))
    uneven = Profile.of(pushed_m, np.interp(pushed_m, even_m, hill_m))
    expected = model.details(Profile.of(even_m, hill_m), **PATH)
    found = model.details(uneven, **PATH)
    assert found.loss_db == pytest.approx(expected.loss_db, abs=1e-6)
    assert found.irregularity_m == pytest.approx(expected.irregularity_m, abs=1e-6)


@settings(max_examples=150, deadline=None)
@given(values=st.lists(st.floats(-1e3, 1e3), min_size=1, max_size=60), data=st.data())
def test_kth_from_both_ends_is_what_sorting_gives(values: list[float], data: st.DataObject) -> None:
    k = data.draw(st.integers(0, len(values) - 1))
    found = kth_from_both_ends(np.array(values), k, float(np.square(values).sum()))
    assert found == pytest.approx((sorted(values)[k], sorted(values)[-1 - k]), abs=1e-9)


def test_vertical_and_horizontal_differ_over_the_sea_only_where_they_should() -> None:
    flat = Profile.of(np.arange(200) * 100.0, np.zeros(200))
    low = dict(PATH, tx_height_m=3.0, frequency_mhz=52.0)
    sea = ItmModel(ground=SEA_WATER)
    vertical_db = sea.loss(flat, **low, polarisation=Polarisation.VERTICAL).loss_db
    horizontal_db = sea.loss(flat, **low, polarisation=Polarisation.HORIZONTAL).loss_db
    assert horizontal_db > vertical_db + 3.0  # low over salt water: common practice, no source


def test_confidence_entry_is_time_location_situation_with_places_at_the_median() -> None:
    entry = Percentages.of_confidence(confidence_pct=90.0, reliability_pct=70.0)
    assert entry == Percentages(time_pct=70.0, location_pct=50.0, situation_pct=90.0)


def test_in_another_climate_the_usual_refractivity_comes_along() -> None:
    desert = ItmModel(ground=SEA_WATER).in_climate(Climate.DESERT)
    assert (desert.climate, desert.surface_refractivity_n_units) == (Climate.DESERT, 280.0)
    assert desert.ground == SEA_WATER


# Warnings


def test_ten_metre_band_is_told_about_the_ionosphere() -> None:
    warnings = model.loss(rolling(1), tx_height_m=10.0, rx_height_m=5.0, frequency_mhz=28.5).warnings
    assert WARNING_WORDS[ItmWarning.FREQUENCY] in warnings
    assert SKYWAVE_WORDS in warnings
    usual = model.loss(rolling(1), tx_height_m=10.0, rx_height_m=5.0, frequency_mhz=52.0).warnings
    assert not any("MHz" in text or "skywave" in text for text in usual)


@pytest.mark.parametrize(
    ("changed", "flag"),
    [
        ({"tx_height_m": 0.7}, ItmWarning.TX_HEIGHT),
        ({"rx_height_m": 1500.0}, ItmWarning.RX_HEIGHT),
        ({"frequency_mhz": 11_000.0}, ItmWarning.FREQUENCY),
    ],
)
def test_inputs_near_the_limits_are_flagged(changed: dict[str, float], flag: ItmWarning) -> None:
    assert flag in model.details(rolling(1), **{**PATH, **changed}).flags
    assert flag not in model.details(rolling(1), **PATH).flags


def test_paths_near_the_limits_are_flagged() -> None:
    def flags(distance_m: np.ndarray, ground_m: np.ndarray, itm: ItmModel = model) -> ItmWarning:
        return itm.details(Profile.of(distance_m, ground_m), **PATH).flags

    even = np.arange(101)
    assert ItmWarning.TOO_NEAR in flags(even * 9.0, np.zeros(101))
    assert ItmWarning.FAR in flags(even * 11e3, np.zeros(101))
    assert ItmWarning.TOO_FAR in flags(even * 21e3, np.zeros(101))
    assert ItmWarning.HIGH_SITE in flags(even * 100.0, np.full(101, 2000.0))
    wall = np.zeros(101)
    wall[2] = 90.0
    assert {ItmWarning.TX_STEEP_HORIZON, ItmWarning.TX_NEAR_OBSTACLE} <= set(flags(even * 100.0, wall))
    assert {ItmWarning.RX_STEEP_HORIZON, ItmWarning.RX_NEAR_OBSTACLE} <= set(flags(even * 100.0, wall[::-1]))
    surely = ItmModel(percentages=Percentages(99.95, 50.0, 50.0))
    assert ItmWarning.FAR_TAIL in flags(even * 100.0, np.zeros(101), surely)


def test_every_flag_has_plain_words_and_none_speaks_of_sight() -> None:
    assert set(WARNING_WORDS) == set(ItmWarning)
    for text in [*WARNING_WORDS.values(), *(region.words for region in Region)]:
        assert "line of sight" not in text.lower()


def test_sparse_profile_is_told_so() -> None:
    warnings = model.loss(Profile.of([0.0, 2500.0, 5000.0], [10.0, 60.0, 20.0]), **PATH).warnings
    assert any("fewer points than the 11" in text for text in warnings)


# Refusals


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"frequency_mhz": 19.0}, r"19 MHz.*20 to 20000 MHz"),
        ({"frequency_mhz": float("nan")}, r"nan MHz.*20 to 20000 MHz"),
        ({"tx_height_m": 0.4}, r"transmitter antenna height.*0\.4 m.*0\.5 to 3000 m"),
        ({"rx_height_m": 3001.0}, r"receiver antenna height.*3001 m.*0\.5 to 3000 m"),
    ],
)
def test_inputs_outside_the_range_are_refused(changed: dict[str, float], words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        model.loss(rolling(1), **{**PATH, **changed})


def test_batch_names_the_path() -> None:
    batch = ProfileBatch.of([rolling(1), rolling(2), rolling(3)])
    with pytest.raises(OutOfRange, match=r"path 2.*10 MHz"):
        model.losses(batch, tx_height_m=10.0, rx_height_m=2.0, frequency_mhz=[146.0, 52.0, 10.0])
    with pytest.raises(OutOfRange, match=r"shape \(2,\).*3 paths"):
        model.losses(batch, tx_height_m=[10.0, 10.0], rx_height_m=2.0, frequency_mhz=146.0)


def test_profile_of_too_many_points_is_refused() -> None:
    endless = Profile.of(np.arange(0x10_0001), np.zeros(0x10_0001))
    with pytest.raises(OutOfRange, match=r"path 1: profile has 1048577 points.*at most 1048575"):
        model.losses(ProfileBatch.of([rolling(1), endless]), **PATH)


def test_distances_that_do_not_ascend_are_refused() -> None:
    whole = ProfileBatch.of([rolling(1), rolling(2)])
    for point, value in ((250, whole.distance_m[249]), (250, np.nan), (399, np.inf)):
        distance_m = whole.distance_m.copy()
        distance_m[point] = value
        bad = ProfileBatch(
            whole.start, distance_m, whole.ground_m, whole.clutter_m, whole.zone, whole.mid_latitude_deg,
            whole.gaps_m,
        )  # fmt: skip
        with pytest.raises(OutOfRange, match="path 1"):
            model.losses(bad, **PATH)


def test_hole_in_the_ground_is_refused() -> None:
    whole = ProfileBatch.of([rolling(1), rolling(2)])
    ground_m = whole.ground_m.copy()
    ground_m[250] = np.nan
    holed = ProfileBatch(
        whole.start,
        whole.distance_m,
        ground_m,
        whole.clutter_m,
        whole.zone,
        whole.mid_latitude_deg,
        whole.gaps_m,
    )
    with pytest.raises(OutOfRange, match=r"path 1.*point 50.*nan"):
        model.losses(holed, **PATH)


def test_air_and_ground_the_model_cannot_take_are_refused() -> None:
    with pytest.raises(OutOfRange, match=r"249\.0 N-units.*250 to 400"):
        ItmModel(surface_refractivity_n_units=249.0)
    deep = Profile.of(np.arange(50) * 100.0, np.full(50, -400.0))
    with pytest.raises(OutOfRange, match=r"path 0: refractivity.*above 400"):
        ItmModel(surface_refractivity_n_units=400.0).loss(deep, **PATH)
    high = Profile.of(np.arange(50) * 100.0, np.full(50, 8900.0))
    with pytest.raises(OutOfRange, match=r"path 0: refractivity.*below 150"):
        model.loss(high, **PATH)
    with pytest.raises(OutOfRange, match=r"path 0: ground impedance.*permittivity above 1"):
        ItmModel(ground=Ground(1.0, 0.004)).loss(rolling(1), **PATH, polarisation=Polarisation.HORIZONTAL)
    with pytest.raises(OutOfRange, match=r"permittivity is 0.5"):
        Ground(0.5, 0.005)
    with pytest.raises(OutOfRange, match="conductivity is 0"):
        Ground(15.0, 0.0)


@pytest.mark.parametrize("value", [0.0, 100.0, -1.0, float("nan")])
def test_percentages_at_the_ends_are_refused(value: float) -> None:
    with pytest.raises(OutOfRange, match="location_pct"):
        Percentages(location_pct=value)

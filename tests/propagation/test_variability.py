"""Spreads by cause and the chance of working: by formula, by reference library, by Monte Carlo."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.errors import OutOfRange
from reach.propagation.itm.model import ItmModel
from reach.propagation.itm.settings import Climate, Percentages, VariabilityMode
from reach.propagation.variability import (
    LocationKind,
    SigmaParts,
    Siting,
    area_location_sigma_db,
    chance_of_working,
    location_sigma_db,
    margin_for_chance_db,
    normal_cdf,
    normal_quantile,
    time_spread,
)
from reach.terrain.profile import Profile

special = pytest.importorskip("scipy.special")

# Chance


def test_normal_cdf_is_scipys_into_the_far_tail() -> None:
    x = np.linspace(-37.0, 8.0, 20_001)
    # the relative error of Phi grows with x^2 times that of x itself, here 1e-16 and in either library
    np.testing.assert_allclose(normal_cdf(x), special.ndtr(x), rtol=5e-13, atol=0.0)
    x = np.linspace(-8.0, 8.0, 20_001)
    np.testing.assert_allclose(normal_cdf(x), special.ndtr(x), rtol=0.0, atol=1e-15)


def test_normal_quantile_is_scipys() -> None:
    shares = np.concatenate([np.geomspace(1e-300, 0.5, 500), 1.0 - np.geomspace(1e-12, 0.5, 500)])
    np.testing.assert_allclose(normal_quantile(shares), special.ndtri(shares), rtol=1e-12, atol=1e-12)


@pytest.mark.parametrize(
    ("margin_db", "sigma_db", "chance"),
    [(8.0, 8.0, 0.84134), (10.25, 8.0, 0.89995), (6.0, math.hypot(8.0, 3.0), 0.75874), (0.0, 8.0, 0.5)],
)
def test_chances_of_a_facts_sheet(margin_db: float, sigma_db: float, chance: float) -> None:
    """Normal distribution; figures computed apart from this code, five decimals."""
    assert float(chance_of_working(margin_db, sigma_db)) == pytest.approx(chance, abs=6e-6)


def test_margins_of_a_facts_sheet() -> None:
    z = margin_for_chance_db([0.5, 0.9, 0.95, 0.99], 1.0)
    np.testing.assert_allclose(z, [0.0, 1.28155, 1.64485, 2.32635], atol=6e-6)


@settings(max_examples=100, deadline=None)
@given(chance=st.floats(1e-6, 1 - 1e-6), sigma=st.floats(0.1, 30.0), more=st.floats(0.0, 50.0))
def test_chance_and_margin_undo_each_other_and_more_margin_never_hurts(
    chance: float, sigma: float, more: float
) -> None:
    margin_db = float(margin_for_chance_db(chance, sigma))
    assert float(chance_of_working(margin_db, sigma)) == pytest.approx(chance, rel=1e-9)
    assert float(chance_of_working(margin_db + more, sigma)) >= chance * (1 - 1e-9)


def test_edges_of_the_chance() -> None:
    margin_db = np.array([[5.0, 0.0, -5.0], [np.inf, -np.inf, np.nan]])
    sigma_db = np.array([[0.0, 0.0, 0.0], [8.0, 8.0, 8.0]])
    found = chance_of_working(margin_db, sigma_db)
    np.testing.assert_array_equal(found, [[1.0, 0.5, 0.0], [1.0, 0.0, np.nan]])
    assert chance_of_working(np.zeros((0, 3)), 8.0).shape == (0, 3)
    with pytest.raises(OutOfRange, match=r"sigma -1 dB \(element 1\)"):
        chance_of_working([1.0, 1.0], [8.0, -1.0])
    with pytest.raises(OutOfRange, match=r"share 1\.0 \(element 1\)"):
        normal_quantile([0.5, 1.0])


# Parts


@pytest.mark.parametrize(
    ("tx", "rx", "usual_db"),
    [
        (Siting.FIXED, Siting.FIXED, 9.84),
        (Siting.FIXED, Siting.HANDHELD, 10.98),
        (Siting.MOBILE, Siting.FIXED, 10.23),
    ],
)
def test_usual_totals(tx: Siting, rx: Siting, usual_db: float) -> None:
    """Root of the sum of squares of 8.5 dB behind one edge and 3.5, 4.5 or 6 dB at either end, by hand."""
    assert float(SigmaParts.usual(tx=tx, rx=rx).total_db) == pytest.approx(usual_db, abs=0.04)


def test_total_broadcasts() -> None:
    parts = SigmaParts(np.full((3, 1), 6.0), np.full((1, 2), 8.0), 0.0)
    np.testing.assert_allclose(parts.total_db, np.full((3, 2), 10.0))


def test_chance_is_the_share_of_draws_that_work() -> None:
    """Every part drawn on its own, 400 000 evenings: the share with margin left is Phi(margin / total)."""
    rng = np.random.default_rng(20)
    draws = 400_000
    parts = SigmaParts.usual(tx=Siting.FIXED, rx=Siting.HANDHELD, time_db=3.0, rx_noise_db=4.0)
    causes = (parts.path_db, parts.tx_station_db, parts.rx_station_db, parts.time_db, parts.rx_noise_db)
    error_db = sum(rng.normal(0.0, float(sigma), draws) for sigma in causes)
    for margin_db in (-12.0, -3.0, 0.0, 5.0, 11.0, 20.0):
        chance = float(chance_of_working(margin_db, parts.total_db))
        share = float(np.mean(margin_db + error_db > 0.0))
        assert share == pytest.approx(chance, abs=4.0 * math.sqrt(chance * (1 - chance) / draws))


def test_links_of_one_station_fail_together() -> None:
    """Why two links through one station must not be multiplied: drawn with the shared part shared."""
    rng = np.random.default_rng(21)
    draws = 200_000
    parts = SigmaParts.usual(tx=Siting.HANDHELD, rx=Siting.FIXED)
    shared_db = rng.normal(0.0, float(parts.tx_station_db), draws)
    own_db = math.hypot(float(parts.path_db), float(parts.rx_station_db))
    works = [4.0 + shared_db + rng.normal(0.0, own_db, draws) > 0.0 for _ in range(2)]
    single = float(chance_of_working(4.0, parts.total_db))
    assert np.mean(works[0]) == pytest.approx(single, abs=0.005)
    assert np.mean(works[0] & works[1]) > single**2 + 0.03


@pytest.mark.parametrize("distance_km", [10.0, 30.0, 60.0, 100.0])
def test_one_time_sigma_stands_for_two_halves(distance_km: float) -> None:
    """ITM's hours spread unlike on the two sides of the median; the side that decides serves for both.

    Drawn with both halves as they are, the true chance is never lower and at most 0.035 higher (at a margin
    near 0, some 80 km); tolerance for 400 000 draws added.
    """
    rng = np.random.default_rng(22)
    draws = 400_000
    spread = time_spread(
        distance_m=distance_km * 1e3,
        frequency_mhz=146.0,
        tx_effective_height_m=20.0,
        rx_effective_height_m=10.0,
    )
    z = rng.normal(0.0, 1.0, draws)
    time_db = np.where(z < 0.0, z * float(spread.worse_db), z * float(spread.better_db))
    still = SigmaParts.usual(tx=Siting.FIXED, rx=Siting.FIXED)
    rest_db = rng.normal(0.0, float(still.total_db), draws)
    for margin_db in (-10.0, 0.0, 6.0, 12.0, 20.0):
        parts = SigmaParts.usual(tx=Siting.FIXED, rx=Siting.FIXED, time_db=float(spread.sigma_db(margin_db)))
        chance = float(chance_of_working(margin_db, parts.total_db))
        share = float(np.mean(margin_db + rest_db + time_db > 0.0))
        assert -0.003 <= share - chance <= 0.038


# Time


@pytest.mark.parametrize("climate", list(Climate))
@pytest.mark.parametrize("share", [0.02, 0.1, 0.3, 0.5, 0.7, 0.9, 0.98])
def test_time_spread_is_what_the_whole_model_does(climate: Climate, share: float) -> None:
    """ITM in broadcast mode, other percentages at 50: its loss moves by the excess, to the model's own
    quantile.

    The model approximates the normal quantile within 4.5e-4 (times up to some 10 dB of sigma), and the
    situation deviate at 50 % is 2.4e-7, not 0.
    """
    distance_m = np.arange(400) * 250.0
    hills = Profile.of(distance_m, 150.0 + 80.0 * np.sin(distance_m / 3000.0))

    def run(percentages: Percentages):  # type: ignore[no-untyped-def]
        itm = ItmModel(climate=climate, mode=VariabilityMode.BROADCAST, percentages=percentages)
        return itm.details(hills, tx_height_m=30.0, rx_height_m=10.0, frequency_mhz=146.0)

    median, moved = run(Percentages()), run(Percentages(time_pct=100.0 * share))
    assert moved.loss_db > moved.free_space_db  # else the softening of gains would hide the shift
    spread = time_spread(
        distance_m=hills.length_m,
        frequency_mhz=146.0,
        tx_effective_height_m=median.tx_effective_height_m,
        rx_effective_height_m=median.rx_effective_height_m,
        climate=climate,
    )
    expected_db = float(spread.excess_loss_db(share))
    assert moved.loss_db - median.loss_db == pytest.approx(expected_db, abs=0.012)
    assert median.reference_db + median.free_space_db - median.loss_db == pytest.approx(
        float(spread.median_shift_db), abs=1e-4
    )


@pytest.mark.filterwarnings("error")
def test_time_spread_of_one_path_given_as_an_array() -> None:
    heights = {"tx_effective_height_m": 10.0, "rx_effective_height_m": 5.0}
    one = time_spread(distance_m=[20e3], frequency_mhz=146.0, **heights)
    assert one.worse_db == time_spread(distance_m=20e3, frequency_mhz=146.0, **heights).worse_db


def test_time_spread_takes_arrays_and_keeps_gaps() -> None:
    distance_m = np.array([[np.nan, 20e3], [20e3, 90e3]])
    spread = time_spread(
        distance_m=distance_m,
        frequency_mhz=146.0,
        tx_effective_height_m=10.0,
        rx_effective_height_m=[5.0, 10.0],
    )
    assert spread.worse_db.shape == (2, 2)
    assert np.isnan(spread.worse_db[0, 0])
    assert spread.worse_db[1, 1] > spread.worse_db[0, 1] > 0.0
    with pytest.raises(OutOfRange, match=r"distance 0 m \(element 1\)"):
        time_spread(
            distance_m=[10.0, 0.0], frequency_mhz=146.0, tx_effective_height_m=10.0, rx_effective_height_m=5.0
        )
    with pytest.raises(OutOfRange, match=r"frequency 15 MHz.*20 to 20 000 MHz"):
        time_spread(
            distance_m=10.0, frequency_mhz=15.0, tx_effective_height_m=10.0, rx_effective_height_m=5.0
        )


# Places


def test_location_sigma_of_a_facts_sheet() -> None:
    """Rec. ITU-R P.1812-7, 4.7, and P.1546 before edition 6; figures computed apart from this code."""
    assert float(location_sigma_db(frequency_mhz=146.0, cell_m=50.0)) == pytest.approx(1.57, abs=0.005)
    np.testing.assert_allclose(
        location_sigma_db(frequency_mhz=[28.5, 146.0, 446.0], cell_m=100.0), [1.89, 1.90, 1.93], atol=0.006
    )
    np.testing.assert_allclose(
        location_sigma_db(frequency_mhz=[52.0, 146.0, 446.0], cell_m=500.0), [2.97, 2.98, 3.02], atol=0.006
    )
    for kind, expected in (
        (LocationKind.RURAL_MOBILE, [2.39, 3.31, 3.94]),
        (LocationKind.URBAN_MOBILE, [3.09, 4.01, 4.64]),
        (LocationKind.ROOFTOP, [2.89, 3.81, 4.44]),
    ):
        found = area_location_sigma_db(frequency_mhz=[28.5, 146.0, 446.0], kind=kind)
        np.testing.assert_allclose(found, expected, atol=0.006)


def test_location_sigma_fades_above_the_clutter() -> None:
    full_db = float(location_sigma_db(frequency_mhz=146.0))
    found = location_sigma_db(
        frequency_mhz=146.0, antenna_height_m=[5.0, 15.0, 20.0, 30.0], clutter_height_m=10.0
    )
    np.testing.assert_allclose(found, [full_db, full_db / 2.0, 0.0, 0.0])
    with pytest.raises(OutOfRange, match=r"20 m.*50 to 1000 m"):
        location_sigma_db(frequency_mhz=146.0, cell_m=20.0)

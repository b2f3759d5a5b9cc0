"""Man-made and galactic noise against Rec. ITU-R P.372 (editions 16 and 17): constants of the median lines.

The constants were compared with two public transcriptions of the Recommendation's tables, not with the
document itself. F_am below is the line F_am = c - d log10 f worked by hand to two decimals.
"""

from __future__ import annotations

import math

import pytest

from reach.errors import OutOfRange
from reach.links.noise import (
    MAN_MADE,
    THERMAL_NOISE_DBM_PER_HZ,
    external_noise,
    galactic_noise_db,
    man_made_noise_db,
    noise_rise_db,
    operating_noise_factor_db,
    thermal_noise_dbm,
)
from reach.stations import NoiseEnvironment

# f MHz: city, residential, rural, quiet rural, galactic; P.372 man-made table (c, d) and galactic line
MEDIANS_DB = {
    28.5: (36.50, 32.20, 26.90, 11.99, 18.54),
    52.0: (29.27, 24.97, 19.67, 4.52, 12.53),
    146.0: (16.85, 12.55, 7.25, -8.30, 2.22),
    223.0: (11.75, 7.45, 2.15, -13.56, -2.01),
    446.0: (3.41, -0.89, -6.19, -22.17, -8.93),  # man-made: extrapolated
}
ORDER = (
    NoiseEnvironment.CITY,
    NoiseEnvironment.RESIDENTIAL,
    NoiseEnvironment.RURAL,
    NoiseEnvironment.QUIET_RURAL,
)


@pytest.mark.parametrize("frequency_mhz", MEDIANS_DB)
def test_median_lines(frequency_mhz: float) -> None:
    *man_made_db, galactic_db = MEDIANS_DB[frequency_mhz]
    for environment, expected_db in zip(ORDER, man_made_db, strict=True):
        found_db = man_made_noise_db(environment=environment, frequency_mhz=frequency_mhz)
        assert found_db == pytest.approx(expected_db, abs=0.0051)  # two printed decimals
    assert galactic_noise_db(frequency_mhz) == pytest.approx(galactic_db, abs=0.0051)


def test_spread_between_places() -> None:
    # P.372, edition 17, table of decile and location deviations: all deciles, say two public transcriptions
    assert [MAN_MADE[e].place_decile_db for e in ORDER[:3]] == [8.4, 5.8, 6.8]
    sigmas_db = [MAN_MADE[e].place_sigma_db for e in ORDER[:3]]
    assert sigmas_db == pytest.approx([6.55, 4.53, 5.31], abs=0.006)  # over 1.2816


def test_thermal_noise_of_a_resistor_at_290_k() -> None:
    # k = 1.380649e-23 J/K is exact by definition of the SI (2019)
    assert pytest.approx(-173.975, abs=0.0005) == THERMAL_NOISE_DBM_PER_HZ
    assert thermal_noise_dbm(12_600.0) == pytest.approx(-132.971, abs=0.0006)
    assert thermal_noise_dbm(16_000.0) == pytest.approx(-131.934, abs=0.0006)
    assert thermal_noise_dbm(8_500.0) == pytest.approx(-134.681, abs=0.0006)


# Operating noise factor f = f_a - 1 + f_c f_t f_r (P.372, all losses at 290 K) for a 16 kHz receiver, worked
# by hand: f MHz, environment, noise figure dB, line loss dB -> F_a dB, F dB, noise power dBm
CHAINS = [
    (146.0, NoiseEnvironment.RESIDENTIAL, 7.0, 2.0, 12.933, 14.247, -117.687),
    (146.0, NoiseEnvironment.CITY, 7.0, 2.0, 16.995, 17.559, -114.375),
    (146.0, NoiseEnvironment.RURAL, 7.0, 2.0, 8.434, 11.435, -120.499),
    (446.0, NoiseEnvironment.RESIDENTIAL, 7.0, 3.0, -0.254, 9.975, -121.959),
    (28.5, NoiseEnvironment.RESIDENTIAL, 7.0, 1.0, 32.384, 32.397, -99.537),
]


@pytest.mark.parametrize("case", CHAINS, ids=lambda case: f"{case[0]:g} MHz {case[1].value}")
def test_operating_noise_factor(
    case: tuple[float, NoiseEnvironment, float, float, float, float, float],
) -> None:
    frequency_mhz, environment, figure_db, line_db, fa_db, f_db, power_dbm = case
    noise = external_noise(environment=environment, frequency_mhz=frequency_mhz)
    assert noise.total_db == pytest.approx(fa_db, abs=0.0006)
    found_db = operating_noise_factor_db(
        external_db=noise.total_db, receiver_noise_figure_db=figure_db, line_loss_db=line_db
    )
    assert float(found_db) == pytest.approx(f_db, abs=0.0006)
    assert float(found_db) + thermal_noise_dbm(16_000.0) == pytest.approx(power_dbm, abs=0.001)


@pytest.mark.parametrize(
    ("external_db", "line_db", "rise_db"),
    [(12.933, 2.0, 5.247), (32.384, 1.0, 24.397), (-0.254, 3.0, -0.025)],
)
def test_noise_rise(external_db: float, line_db: float, rise_db: float) -> None:
    found = noise_rise_db(external_db=external_db, receiver_noise_figure_db=7.0, line_loss_db=line_db)
    assert float(found) == pytest.approx(rise_db, abs=0.001)


def test_loss_ahead_of_the_receiver_lowers_the_rise_as_it_lowers_the_noise() -> None:
    # f_c f_t enter as a product, so it does not matter where the loss sits
    at_antenna = noise_rise_db(
        external_db=15.0, receiver_noise_figure_db=6.0, line_loss_db=1.0, antenna_loss_db=4.0
    )
    in_line = noise_rise_db(external_db=15.0, receiver_noise_figure_db=6.0, line_loss_db=5.0)
    assert float(at_antenna) == pytest.approx(float(in_line))
    assert float(in_line) < float(
        noise_rise_db(external_db=15.0, receiver_noise_figure_db=6.0, line_loss_db=0.0)
    )


@pytest.mark.parametrize(
    ("environment", "frequency_mhz", "extrapolated"),
    [
        (NoiseEnvironment.CITY, 250.0, False),
        (NoiseEnvironment.CITY, 446.0, True),
        (NoiseEnvironment.RURAL, 223.5, False),
        (NoiseEnvironment.QUIET_RURAL, 28.5, False),
        (NoiseEnvironment.QUIET_RURAL, 146.0, True),
    ],
)
def test_extrapolation_is_marked(
    environment: NoiseEnvironment, frequency_mhz: float, extrapolated: bool
) -> None:
    assert external_noise(environment=environment, frequency_mhz=frequency_mhz).extrapolated is extrapolated


def test_sum_of_powers_and_floor() -> None:
    noise = external_noise(environment=NoiseEnvironment.QUIET_RURAL, frequency_mhz=446.0)
    assert noise.total_db == pytest.approx(10.0 * math.log10(0.5))  # warm ground fills half the pattern
    loud = external_noise(environment=NoiseEnvironment.RESIDENTIAL, frequency_mhz=146.0, local_noise_db=10.0)
    assert loud.total_db == pytest.approx(10.0 * math.log10(10.0**2.2551 + 10.0**0.2222), abs=0.01)


def test_frequency_outside_the_lines_is_refused() -> None:
    with pytest.raises(OutOfRange, match=r"noise at 5 MHz.*10 to 1000 MHz"):
        external_noise(environment=NoiseEnvironment.CITY, frequency_mhz=5.0)

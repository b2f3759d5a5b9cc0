"""What one end brings to the budget."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reach.links.ends import RadioEnds, repeater_end, station_end
from reach.links.noise import MAN_MADE
from reach.stations import Antenna, Category, FeedLine, Net, NoiseEnvironment, Position, Station

HOUSE = Station(
    "QK1A",
    "",
    Position(41.0, -38.0),
    Category.BASE,
    Antenna(height_m=10.0, gain_dbi=5.0),
    47.0,
    feed_line=FeedLine(fixed_loss_db=2.0),
)


def test_noise_rise_worked_by_hand() -> None:
    # S12 -121 dBm: NF 7.971 dB (6.267 times); 2 dB line (1.585); external 12.933 dB at 146 MHz (19.65)
    # rise = 10 log10[(19.65 - 1 + 1.585 x 6.267) / (1.585 x 6.267)] = 10 log10(28.58 / 9.93) = 4.59 dB
    end = station_end(HOUSE, frequency_mhz=146.0, net_noise=NoiseEnvironment.RESIDENTIAL)
    assert end.noise_rise_db == pytest.approx(4.59, abs=0.01)
    assert end.noise_note == "residential noise"


def test_a_whip_below_isotropic_dulls_the_noise_too() -> None:
    whip = replace(HOUSE, antenna=Antenna(height_m=1.5, gain_dbi=-5.0))
    # the same with 5 dB more loss ahead of the receiver: (18.65 + 31.4) / 31.4 = 2.02 dB
    end = station_end(whip, frequency_mhz=146.0, net_noise=NoiseEnvironment.RESIDENTIAL)
    assert end.noise_rise_db == pytest.approx(2.02, abs=0.01)


def test_own_environment_overrides_the_net_and_local_noise_is_said() -> None:
    shed = replace(HOUSE, noise=NoiseEnvironment.QUIET_RURAL, local_noise_db=6.0)
    end = station_end(shed, frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY)
    assert end.noise_note == "quiet rural noise +6 dB local, extrapolated"


@settings(max_examples=60, deadline=None)
@given(
    environment=st.sampled_from(NoiseEnvironment),
    frequency_mhz=st.sampled_from([28.5, 52.0, 146.0, 223.5, 446.0]),
    sensitivity_dbm=st.floats(-127.0, -115.0),
    line_db=st.floats(0.0, 6.0),
    local_db=st.floats(0.0, 15.0),
)
def test_noise_spread_is_the_slope_of_the_rise(
    environment: NoiseEnvironment,
    frequency_mhz: float,
    sensitivity_dbm: float,
    line_db: float,
    local_db: float,
) -> None:
    def rise_db(local_noise_db: float) -> float:
        station = replace(
            HOUSE,
            sensitivity_dbm=sensitivity_dbm,
            feed_line=FeedLine(fixed_loss_db=line_db),
            local_noise_db=local_noise_db,
        )
        return station_end(station, frequency_mhz=frequency_mhz, net_noise=environment).noise_rise_db

    station = replace(
        HOUSE,
        sensitivity_dbm=sensitivity_dbm,
        feed_line=FeedLine(fixed_loss_db=line_db),
        local_noise_db=local_db,
    )
    found = station_end(station, frequency_mhz=frequency_mhz, net_noise=environment).noise_sigma_db
    slope = (rise_db(local_db + 0.005) - rise_db(local_db - 0.005)) / 0.01
    floored = (
        slope == 0.0
    )  # under the floor of external noise the slope is nil; the spread is then an upper bound
    if not floored:
        assert found == pytest.approx(slope * MAN_MADE[environment].place_sigma_db, rel=2e-3, abs=1e-3)
    assert 0.0 <= found <= MAN_MADE[environment].place_sigma_db


def test_the_duplexer_counts_on_receive_noise_and_on_both_ways(club: Net) -> None:
    repeater = club.repeaters[0]
    with_it = repeater_end(repeater, frequency_mhz=146.34, net_noise=NoiseEnvironment.RESIDENTIAL)
    without = repeater_end(
        replace(repeater, duplexer_loss_db=0.0), frequency_mhz=146.34, net_noise=NoiseEnvironment.RESIDENTIAL
    )
    assert (with_it.duplexer_loss_db, without.duplexer_loss_db) == (1.5, 0.0)
    assert with_it.noise_rise_db < without.noise_rise_db


def test_feed_line_and_antenna_go_by_frequency() -> None:
    station = replace(
        HOUSE,
        # K1, K2 of an RG-213 class line: 2.55 dB in 30 m at 146 MHz (handbook table, from memory)
        feed_line=FeedLine(kind="RG-213", length_m=30.0, k1_db=0.1901, k2_db=0.00199),
        antenna=Antenna(height_m=9.0, gain_dbi=6.0, gain_by_band_dbi=((146.0, 6.0), (446.0, 8.5))),
    )
    low = station_end(station, frequency_mhz=146.0, net_noise=NoiseEnvironment.RURAL)
    high = station_end(station, frequency_mhz=446.0, net_noise=NoiseEnvironment.RURAL)
    assert low.feed_loss_db == pytest.approx(2.55, abs=0.005)
    assert high.feed_loss_db == pytest.approx(4.83, abs=0.005)
    assert (low.antenna_gain_dbi, high.antenna_gain_dbi) == (6.0, 8.5)


def test_stacked_ends_keep_their_order_and_shape() -> None:
    ends = RadioEnds.of(
        [
            station_end(
                replace(HOUSE, transmit_power_dbm=p), frequency_mhz=146.0, net_noise=NoiseEnvironment.CITY
            )
            for p in (30.0, 37.0, 47.0)
        ]
    )
    assert ends.as_rows().transmit_power_dbm.shape == (3, 1)
    assert ends.as_columns().transmit_power_dbm.shape == (1, 3)
    np.testing.assert_array_equal(ends.transmit_power_dbm, [30.0, 37.0, 47.0])
    assert RadioEnds.of([]).moving.shape == (0,)

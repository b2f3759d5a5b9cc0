"""Hand-worked budgets and definitions of the trade: each figure was worked from the formula beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reach.errors import OutOfRange
from reach.links.budget import LineKind, link_budget
from reach.links.ends import RadioEnd
from reach.links.noise import external_noise
from reach.links.receiver import NARROW, WIDE, fm_mode, narrow_step_db, noise_figure_db
from reach.propagation.free_space import free_space_loss_db
from reach.propagation.variability import chance_of_working
from reach.stations import NoiseEnvironment
from reach.units import dbd_to_dbi, dbm_to_microvolts, microvolts_to_dbm, watts_to_dbm


@pytest.mark.parametrize(
    ("frequency_mhz", "distance_km", "loss_db"),
    # Rec. ITU-R P.525: 20 log10(4 pi d / lambda), c = 299 792 458 m/s; worked by hand
    [
        (146.52, 10.0, 95.766),
        (446.0, 10.0, 105.434),
        (52.525, 50.0, 100.835),
        (28.5, 100.0, 101.545),
        (223.5, 1.0, 79.433),
    ],
)
def test_free_space(frequency_mhz: float, distance_km: float, loss_db: float) -> None:
    assert float(free_space_loss_db(distance_km, frequency_mhz)) == pytest.approx(loss_db, abs=0.0006)


@pytest.mark.parametrize(
    ("voltage_uv", "level_dbm"),
    # definition: V^2 / 50 ohm over 1 mW
    [(0.2, -120.969), (0.16, -122.907), (0.25, -119.031), (1.0, -106.990), (5.0, -93.010), (50.0, -73.010)],
)
def test_microvolts_across_50_ohm(voltage_uv: float, level_dbm: float) -> None:
    assert float(microvolts_to_dbm(voltage_uv)) == pytest.approx(level_dbm, abs=0.0006)
    assert float(dbm_to_microvolts(level_dbm)) == pytest.approx(voltage_uv, rel=1e-4)


@pytest.mark.parametrize(
    ("power_w", "power_dbm"), [(5.0, 36.990), (50.0, 46.990), (100.0, 50.0), (1500.0, 61.761)]
)
def test_watts(power_w: float, power_dbm: float) -> None:
    assert float(watts_to_dbm(power_w)) == pytest.approx(power_dbm, abs=0.0006)


def end(**changes: float | str) -> RadioEnd:
    plain: dict[str, float | str] = {
        "name": "QK1A",
        "transmit_power_dbm": 46.990,
        "feed_loss_db": 0.0,
        "duplexer_loss_db": 0.0,
        "antenna_gain_dbi": 0.0,
        "extra_loss_db": 0.0,
        "sensitivity_dbm": -121.0,
        "noise_rise_db": 0.0,
        "noise_sigma_db": 0.0,
        "moving": 0.0,
        "extra_sigma_db": 0.0,
    }
    return RadioEnd(**{**plain, **changes})  # type: ignore[arg-type]


def test_eirp_of_50_w_through_3_db_into_6_dbd() -> None:
    # 46.990 - 3 + 6 + 2.15 = 52.140 dBm
    budget = link_budget(
        tx=end(feed_loss_db=3.0, antenna_gain_dbi=float(dbd_to_dbi(6.0))),
        rx=end(),
        path_loss_db=0.0,
        frequency_mhz=146.0,
        mode=WIDE,
        sigma_db=8.0,
    )
    assert budget.received_dbm == pytest.approx(52.140, abs=0.0006)
    assert budget.eirp_dbm == pytest.approx(52.140, abs=0.0006)


def test_a_whole_budget_worked_by_hand() -> None:
    """A 5 W handheld to a repeater 10 km away in free space, 146.52 MHz.

    received = 36.990 (5 W) - 5 (whip) - 3 (body) - 95.766 + 8 - 1.5 (duplexer) - 1 (line) = -61.276 dBm
    required = -121 + 5.247 (noise rise, residential, NF 7, 2 dB loss) + 5 (to workable) = -110.753 dBm
    margin   = 49.477 dB
    """
    budget = link_budget(
        tx=end(name="QK1H", transmit_power_dbm=36.990, antenna_gain_dbi=-5.0, extra_loss_db=3.0),
        rx=end(
            name="QK0R", feed_loss_db=1.0, duplexer_loss_db=1.5, antenna_gain_dbi=8.0, noise_rise_db=5.247
        ),
        path_loss_db=95.766,
        frequency_mhz=146.52,
        mode=WIDE,
        sigma_db=8.0,
        path_note="free space",
    )
    assert budget.received_dbm == pytest.approx(-61.276, abs=1e-6)
    assert budget.required_dbm == pytest.approx(-110.753, abs=1e-6)
    assert budget.margin_db == pytest.approx(49.477, abs=1e-6)
    assert budget.received_uv == pytest.approx(10 ** ((-61.276 + 106.990) / 20), rel=1e-4)
    assert budget.s_reading == "S9 + 32 dB"
    assert (budget.readability, budget.grade.word, budget.chance_words) == (5, "clear", "almost sure")
    assert [(line.label, line.kind) for line in budget.signal_lines] == [
        ("transmit power", LineKind.POWER),
        ("transmit feed line", LineKind.TX_FEED_LINE),
        ("transmit antenna", LineKind.TX_ANTENNA),
        ("around the transmitter", LineKind.TX_AROUND),
        ("path loss", LineKind.PATH),
        ("receive antenna", LineKind.RX_ANTENNA),
        ("receive duplexer", LineKind.RX_DUPLEXER),
        ("receive feed line", LineKind.RX_FEED_LINE),
    ]


def test_carrier_to_noise_steps_of_fm() -> None:
    # TIA TSB-88 (from memory): static C/N for 12 dB SINAD 4 and 7 dB; faded for quality 3: 17 and 23 dB
    assert WIDE.faded_cn_db - WIDE.static_cn_db == 13.0
    assert NARROW.faded_cn_db - NARROW.static_cn_db == 16.0
    # of these 5 dB are the step from 12 dB SINAD to workable that a standing receiver needs too
    assert (WIDE.fading_allowance_db, NARROW.fading_allowance_db) == (8.0, 11.0)
    # the narrow receiver hears less noise (10 log 7.8/12.6 = -2.083 dB) and needs 3 dB more
    assert narrow_step_db(NARROW) == pytest.approx(3.0 - 2.083, abs=0.001)
    assert narrow_step_db(WIDE) == 0.0
    with pytest.raises(OutOfRange, match=r"deviation 3 kHz.*5 kHz and 2.5 kHz"):
        fm_mode(3.0)


def test_noise_figure_behind_a_sensitivity() -> None:
    # NF = S12 + 174 - 10 log10 B - 4: -121 + 173.975 - 41.004 - 4 = 7.971 dB, inside the usual 5 to 8 dB
    assert noise_figure_db(-121.0) == pytest.approx(7.971, abs=0.001)
    assert noise_figure_db(-135.0) == 0.0  # better than a noiseless receiver: taken as noiseless


@pytest.mark.parametrize(
    ("margin_db", "sigma_db", "chance"),
    # normal distribution tables: Phi(1), Phi(1.28125), Phi(6 / sqrt(73))
    [(8.0, 8.0, 0.84134), (10.25, 8.0, 0.89995), (6.0, math.sqrt(8**2 + 3**2), 0.75874), (0.0, 8.0, 0.5)],
)
def test_chance(margin_db: float, sigma_db: float, chance: float) -> None:
    assert float(chance_of_working(margin_db, sigma_db)) == pytest.approx(chance, abs=1e-5)


def test_noise_on_ten_metres_dwarfs_the_receiver() -> None:
    # P.372: at 28.5 MHz residential noise lies 32 dB over k T0 b, so a better receiver brings nothing
    noise = external_noise(environment=NoiseEnvironment.RESIDENTIAL, frequency_mhz=28.5)
    assert noise.total_db == pytest.approx(32.384, abs=0.001)
    assert noise.man_made_share > 0.95


def test_margins_of_arrays_and_of_one_link_are_one_formula() -> None:
    from reach.links.budget import received_levels_dbm, required_levels_dbm
    from reach.links.ends import RadioEnds

    rng = np.random.default_rng(5)
    names = [f for f in end().__dataclass_fields__ if f not in {"name", "noise_note", "extra_parts"}]
    each = [
        end(**{n: float(v) for n, v in zip(names, rng.uniform(0.0, 20.0, len(names)))}, name=f"QK{k}X")
        for k in range(4)
    ]
    each = [end(**{**e.__dict__, "moving": float(k % 2)}) for k, e in enumerate(each)]
    loss_db = rng.uniform(80.0, 160.0, (4, 4))
    ends = RadioEnds.of(each)
    received = received_levels_dbm(tx=ends.as_rows(), rx=ends.as_columns(), path_loss_db=loss_db)
    required = required_levels_dbm(tx=ends.as_rows(), rx=ends.as_columns(), mode=NARROW)
    for i in range(4):
        for j in range(4):
            one = link_budget(
                tx=each[i],
                rx=each[j],
                path_loss_db=float(loss_db[i, j]),
                frequency_mhz=146.0,
                mode=NARROW,
                sigma_db=8.0,
            )
            assert one.received_dbm == pytest.approx(received[i, j], abs=1e-9)
            assert one.required_dbm == pytest.approx(required[i, j], abs=1e-9)

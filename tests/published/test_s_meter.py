"""S-meter scale against IARU Region 1 Technical Recommendation R.1 (1981; figures from memory).

S9 = 50 uV across 50 ohm (-73 dBm) below 30 MHz, 5 uV (-93 dBm) above; 6 dB a unit.
"""

from __future__ import annotations

import numpy as np
import pytest

from reach.links.s_meter import db_over_s9, s9_dbm, s_reading, s_units
from reach.units import dbm_to_microvolts

# The Recommendation's table above 144 MHz, S-unit to dBm and uV (printed to two figures)
ABOVE = {
    1: (-141, 0.02), 2: (-135, 0.04), 3: (-129, 0.08), 4: (-123, 0.16), 5: (-117, 0.32),
    6: (-111, 0.63), 7: (-105, 1.26), 8: (-99, 2.51), 9: (-93, 5.01),
}  # fmt: skip


@pytest.mark.parametrize("unit", ABOVE)
def test_table_above_30_mhz(unit: int) -> None:
    level_dbm, voltage_uv = ABOVE[unit]
    assert float(s_units(level_dbm, frequency_mhz=146.0)) == unit
    assert s_reading(level_dbm, frequency_mhz=146.0) == f"S{unit}"
    assert dbm_to_microvolts(float(level_dbm)) == pytest.approx(voltage_uv, abs=0.005)


@pytest.mark.parametrize("unit", range(1, 10))
def test_table_below_30_mhz_lies_20_db_higher(unit: int) -> None:
    assert float(s_units(ABOVE[unit][0] + 20, frequency_mhz=28.5)) == unit


def test_s9_as_a_voltage() -> None:
    assert dbm_to_microvolts(s9_dbm(28.5)) == pytest.approx(50.0, rel=0.005)
    assert dbm_to_microvolts(s9_dbm(52.0)) == pytest.approx(5.0, rel=0.005)


@pytest.mark.parametrize(
    ("level_dbm", "frequency_mhz", "reading"),
    [
        (-121.0, 146.0, "S4"),  # 4.33
        (-121.0, 28.5, "S1"),
        (-73.0, 146.0, "S9 + 20 dB"),
        (-73.0, 28.5, "S9"),
        (-142.0, 146.0, "S0"),
        (float("nan"), 146.0, ""),
    ],
)
def test_readings(level_dbm: float, frequency_mhz: float, reading: str) -> None:
    assert s_reading(level_dbm, frequency_mhz=frequency_mhz) == reading


def test_arrays_and_missing_levels() -> None:
    levels = np.array([[-93.0, np.nan], [-60.0, -200.0]])
    np.testing.assert_array_equal(s_units(levels, frequency_mhz=446.0), [[9.0, np.nan], [9.0, 0.0]])
    np.testing.assert_array_equal(db_over_s9(levels, frequency_mhz=446.0), [[0.0, np.nan], [33.0, 0.0]])

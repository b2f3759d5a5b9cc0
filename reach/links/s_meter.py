"""Signal-strength units of IARU Region 1 Technical Recommendation R.1 (1981).

S9 is -73 dBm (50 uV across 50 ohm) below 30 MHz and -93 dBm (5 uV) above; one S-unit is 6 dB. FM receivers'
meters seldom keep to it (common practice, no source): a reading on the air is a rank, not a measurement.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

S9_BELOW_30_MHZ_DBM = -73.0
S9_ABOVE_30_MHZ_DBM = -93.0
DB_PER_S_UNIT = 6.0


def s9_dbm(frequency_mhz: float) -> float:
    """Level of S9 at a frequency in MHz, dBm."""
    return S9_BELOW_30_MHZ_DBM if frequency_mhz < 30.0 else S9_ABOVE_30_MHZ_DBM


def s_units(received_dbm: ArrayLike, *, frequency_mhz: float) -> NDArray[np.float64]:
    """S-units 0 to 9 of levels in dBm, any shape; below S1 it is 0, above S9 it stays 9; NaN stays NaN."""
    units = 9.0 + (np.asarray(received_dbm, dtype=np.float64) - s9_dbm(frequency_mhz)) / DB_PER_S_UNIT
    return np.where(units < 1.0, 0.0, np.minimum(units, 9.0))


def db_over_s9(received_dbm: ArrayLike, *, frequency_mhz: float) -> NDArray[np.float64]:
    """How far levels in dBm lie above S9, dB, any shape; 0 up to S9; NaN stays NaN."""
    return np.maximum(np.asarray(received_dbm, dtype=np.float64) - s9_dbm(frequency_mhz), 0.0)


def s_reading(received_dbm: float, *, frequency_mhz: float) -> str:
    """What an exact meter would show: 'S0' to 'S9', then 'S9 + 20 dB'; empty for NaN."""
    if np.isnan(received_dbm):
        return ""
    over_db = round(float(db_over_s9(received_dbm, frequency_mhz=frequency_mhz)))
    if over_db >= 1:
        return f"S9 + {over_db} dB"
    return f"S{round(float(s_units(received_dbm, frequency_mhz=frequency_mhz)))}"

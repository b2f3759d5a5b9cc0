"""FM receivers: bandwidth and carrier-to-noise by deviation, noise figure from a data sheet's sensitivity.

Bandwidths and carrier-to-noise ratios follow TIA TSB-88 (from memory). Sensitivity is the level at the
antenna socket for 12 dB SINAD (TIA-603), as data sheets give it for 5 kHz deviation.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from reach.errors import OutOfRange
from reach.links.grade import Grade
from reach.links.noise import thermal_noise_dbm


@dataclass(frozen=True)
class FmMode:
    """FM voice with one peak deviation.

    bandwidth_hz : equivalent noise bandwidth.
    static_cn_db : carrier to noise for 12 dB SINAD, standing still.
    faded_cn_db : mean carrier to noise for delivered audio quality 3 while moving through Rayleigh fading.
    """

    deviation_khz: float
    bandwidth_hz: float
    static_cn_db: float
    faded_cn_db: float

    @property
    def fading_allowance_db(self) -> float:
        """What a link with a moving end needs beyond a static one for the same 'workable' speech, dB."""
        return self.faded_cn_db - self.static_cn_db - Grade.WORKABLE.from_db


WIDE = FmMode(deviation_khz=5.0, bandwidth_hz=12_600.0, static_cn_db=4.0, faded_cn_db=17.0)
NARROW = FmMode(deviation_khz=2.5, bandwidth_hz=7_800.0, static_cn_db=7.0, faded_cn_db=23.0)


def fm_mode(deviation_khz: float) -> FmMode:
    """The mode of a channel's peak deviation. Raises OutOfRange for anything but 5 or 2.5 kHz."""
    for mode in (WIDE, NARROW):
        if math.isclose(deviation_khz, mode.deviation_khz):
            return mode
    raise OutOfRange(f"deviation {deviation_khz:g} kHz: figures are known for 5 kHz and 2.5 kHz only")


def noise_figure_db(sensitivity_dbm: float) -> float:
    """Noise figure behind a 12 dB SINAD level at 5 kHz deviation: S12 - k T0 B - C/N, never below 0 dB."""
    return max(sensitivity_dbm - thermal_noise_dbm(WIDE.bandwidth_hz) - WIDE.static_cn_db, 0.0)


def narrow_step_db(mode: FmMode) -> float:
    """What 12 dB SINAD needs in `mode` beyond the same receiver at 5 kHz deviation, dB (0.9 at 2.5 kHz)."""
    return (thermal_noise_dbm(mode.bandwidth_hz) + mode.static_cn_db) - (
        thermal_noise_dbm(WIDE.bandwidth_hz) + WIDE.static_cn_db
    )

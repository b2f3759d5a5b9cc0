"""External noise by band and place, and what it does to a receiver's sensitivity.

Source: Rec. ITU-R P.372 (editions 16 and 17), man-made and galactic noise medians F_am = c - d log10 f (f in
MHz), and the operating noise factor f = f_a - 1 + f_c f_t f_r with every loss at 290 K.

The spread between places goes into the chance of a link. The Recommendation's deciles within an hour do not:
speech averages over most of it (our judgement, no source). The median of a sum is taken as the medians' sum.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.stations import NoiseEnvironment

FloatArray = NDArray[np.float64]

BOLTZMANN_J_PER_K = 1.380649e-23  # SI definition
REFERENCE_TEMPERATURE_K = 290.0
THERMAL_NOISE_DBM_PER_HZ = 10.0 * math.log10(BOLTZMANN_J_PER_K * REFERENCE_TEMPERATURE_K) + 30.0  # -173.975

LOWEST_MHZ, HIGHEST_MHZ = 10.0, 1000.0
MAN_MADE_STATED_TO_MHZ = 250.0
QUIET_RURAL_STATED_TO_MHZ = 30.0  # from memory
GALACTIC_C_D = (52.0, 23.0)  # stated up to about 100 MHz; the same line is kept above
LOWEST_EXTERNAL_FACTOR = 0.5  # half the pattern sees warm ground (common practice, no source)


@dataclass(frozen=True)
class ManMadeNoise:
    """One row of P.372's man-made table: median line c - d log10 f, and how places differ from it, dB.

    place_decile_db : deviation exceeded by one place in ten: the table's location variability, which two
        public transcriptions of edition 17 call a decile deviation like the two of time beside it (the
        Recommendation's own text was not at hand).
    """

    c: float
    d: float
    place_decile_db: float

    @property
    def place_sigma_db(self) -> float:
        """Standard deviation between places, dB: the decile over 1.28, for a normal spread."""
        return self.place_decile_db / NormalDist().inv_cdf(0.9)


# Quiet rural has no spread of its own in the table; rural's is taken (common practice, no source).
MAN_MADE: dict[NoiseEnvironment, ManMadeNoise] = {
    NoiseEnvironment.CITY: ManMadeNoise(76.8, 27.7, 8.4),
    NoiseEnvironment.RESIDENTIAL: ManMadeNoise(72.5, 27.7, 5.8),
    NoiseEnvironment.RURAL: ManMadeNoise(67.2, 27.7, 6.8),
    NoiseEnvironment.QUIET_RURAL: ManMadeNoise(53.6, 28.6, 6.8),
}


def man_made_noise_db(*, environment: NoiseEnvironment, frequency_mhz: float) -> float:
    """Median man-made noise figure F_am over k T0 b, dB, of a short vertical monopole (P.372)."""
    _check_frequency(frequency_mhz)
    row = MAN_MADE[environment]
    return row.c - row.d * math.log10(frequency_mhz)


def galactic_noise_db(frequency_mhz: float) -> float:
    """Median galactic noise figure F_am over k T0 b, dB (P.372)."""
    _check_frequency(frequency_mhz)
    c, d = GALACTIC_C_D
    return c - d * math.log10(frequency_mhz)


def is_extrapolated(*, environment: NoiseEnvironment, frequency_mhz: float) -> bool:
    """Whether the environment's man-made line is used above the frequency P.372 states it for."""
    quiet = environment is NoiseEnvironment.QUIET_RURAL
    return frequency_mhz > (QUIET_RURAL_STATED_TO_MHZ if quiet else MAN_MADE_STATED_TO_MHZ)


@dataclass(frozen=True)
class ExternalNoise:
    """What an antenna picks up. *_db: over k T0 b; total_db: powers added, floored at half of k T0 b.

    man_made_share : man-made part of the total power, 0 to 1.
    extrapolated : the man-made line lies outside the frequencies the Recommendation states.
    """

    man_made_db: float
    galactic_db: float
    total_db: float
    man_made_share: float
    extrapolated: bool


def external_noise(
    *, environment: NoiseEnvironment, frequency_mhz: float, local_noise_db: float = 0.0
) -> ExternalNoise:
    """Man-made plus galactic noise at a place.

    local_noise_db : how far the place's own noise lies above the environment's curve, dB (may be negative).
    Raises : OutOfRange outside 10 to 1000 MHz.
    The sum of two medians is itself an approximation of the median of the sum.
    """
    man_made_db = man_made_noise_db(environment=environment, frequency_mhz=frequency_mhz) + local_noise_db
    galactic_db = galactic_noise_db(frequency_mhz)
    man_made, galactic = 10.0 ** (man_made_db / 10.0), 10.0 ** (galactic_db / 10.0)
    total = max(man_made + galactic, LOWEST_EXTERNAL_FACTOR)
    return ExternalNoise(
        man_made_db=man_made_db,
        galactic_db=galactic_db,
        total_db=10.0 * math.log10(total),
        man_made_share=man_made / total,
        extrapolated=is_extrapolated(environment=environment, frequency_mhz=frequency_mhz),
    )


def operating_noise_factor_db(
    *,
    external_db: ArrayLike,
    receiver_noise_figure_db: ArrayLike,
    line_loss_db: ArrayLike,
    antenna_loss_db: ArrayLike = 0.0,
) -> FloatArray:
    """P.372 operating noise factor f = f_a - 1 + f_c f_t f_r, in dB over k T0 b at the lossless antenna.

    external_db : f_a, dB; line_loss_db : feed line, connectors, filters (f_t); antenna_loss_db : f_c.
    Any shapes that broadcast.
    """
    own = _factor(antenna_loss_db) * _factor(line_loss_db) * _factor(receiver_noise_figure_db)
    return np.asarray(10.0 * np.log10(_factor(external_db) - 1.0 + own), dtype=np.float64)


def noise_rise_db(
    *,
    external_db: ArrayLike,
    receiver_noise_figure_db: ArrayLike,
    line_loss_db: ArrayLike,
    antenna_loss_db: ArrayLike = 0.0,
) -> FloatArray:
    """How many dB more a receiver needs at its socket on the air than on a quiet bench at 290 K.

    f / (f_c f_t f_r) of the operating noise factor; slightly negative where the sky is colder than 290 K.
    """
    f_db = operating_noise_factor_db(
        external_db=external_db,
        receiver_noise_figure_db=receiver_noise_figure_db,
        line_loss_db=line_loss_db,
        antenna_loss_db=antenna_loss_db,
    )
    own_db = [
        np.asarray(v, dtype=np.float64) for v in (antenna_loss_db, line_loss_db, receiver_noise_figure_db)
    ]
    return np.asarray(f_db - own_db[0] - own_db[1] - own_db[2], dtype=np.float64)


def thermal_noise_dbm(bandwidth_hz: float) -> float:
    """k T0 B at 290 K, dBm."""
    return THERMAL_NOISE_DBM_PER_HZ + 10.0 * math.log10(bandwidth_hz)


def _factor(value_db: ArrayLike) -> FloatArray:
    return np.asarray(10.0 ** (np.asarray(value_db, dtype=np.float64) / 10.0))


def _check_frequency(frequency_mhz: float) -> None:
    if not LOWEST_MHZ <= frequency_mhz <= HIGHEST_MHZ:
        raise OutOfRange(
            f"noise at {frequency_mhz:.8g} MHz: the noise lines hold from {LOWEST_MHZ:g} to "
            f"{HIGHEST_MHZ:g} MHz"
        )

"""How far people must stay from a transmitting antenna: far-field power density against the limits.

Sources : FCC OET Bulletin 65, S = EIRP g / (4 pi R^2); limits of 47 CFR 1.1310 (table seen in a public copy)
and the reference levels of ICNIRP 2020, whole body, averaged over 30 minutes (table 5, from memory). The
stricter of the two holds at each frequency, in W/m2 for the public: 28.5 MHz 2.20 (ICNIRP; FCC 2.22), 29.6
MHz 2.05 (FCC; ICNIRP 2.08), 2 m both 2.0, 446 MHz 2.23 (ICNIRP; FCC 2.97). The operator's own rules prevail.
Within about half a wavelength or an antenna's length the formula does not hold; a hand-held needs the care
its maker states.

The gain is the antenna's own and never less than a dipole's: the body that weakens a hand-held far away takes
up what it weakens.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from reach.errors import OutOfRange
from reach.units import DIPOLE_GAIN_DBI, dbm_to_watts

CAUTION = (
    "These are far-field estimates (FCC OET Bulletin 65) against the public's limits, the stricter of 47 CFR "
    "1.1310 and ICNIRP 2020, the carrier on all the time; for a hand-held follow its maker. Your own "
    "country's rules prevail, and each operator answers for them."
)
LEAST_GAIN_DBI = DIPOLE_GAIN_DBI
FREE_SPACE_OHM = 376.73


@dataclass(frozen=True)
class KeepAway:
    """How far the public must stay from a station's antenna while it transmits on a frequency."""

    call_sign: str
    distance_m: float
    eirp_dbm: float
    frequency_mhz: float


def keep_away_words(antennas: Sequence[KeepAway]) -> str:
    """The distances in a sentence, each rounded up to 0.1 m, with whose limits they are and who decides."""
    each = " and ".join(
        f"{math.ceil(10.0 * a.distance_m) / 10.0:.1f} m from {a.call_sign}'s antenna" for a in antennas
    )
    return f"While they transmit, keep people at least {each}. {CAUTION}"


class Audience(Enum):
    """Who may be near: averaged over 30 minutes for the public, 6 for those who know and can leave."""

    PUBLIC = "public"
    CONTROLLED = "controlled"


class Reflection(Enum):
    """Factor on power density for waves reflected by the ground (OET Bulletin 65)."""

    FREE_SPACE = 1.0
    USUAL = 2.56  # field 1.6 times
    FULL = 4.0  # field twice


def power_density_limit_w_per_m2(*, frequency_mhz: float, audience: Audience) -> float:
    """The stricter of the two published limits, W/m2 (10 W/m2 = 1 mW/cm2). Raises : OutOfRange."""
    return min(
        fcc_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience),
        icnirp_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience),
    )


def fcc_limit_w_per_m2(*, frequency_mhz: float, audience: Audience) -> float:
    """Maximum permissible exposure of 47 CFR 1.1310, W/m2, 3 to 100 000 MHz. Raises : OutOfRange."""
    _check(frequency_mhz)
    public = audience is Audience.PUBLIC
    if frequency_mhz < 30.0:
        return (1800.0 if public else 9000.0) / frequency_mhz**2
    if frequency_mhz < 300.0:
        return 2.0 if public else 10.0
    return min(frequency_mhz, 1500.0) / (150.0 if public else 30.0)


def icnirp_limit_w_per_m2(*, frequency_mhz: float, audience: Audience) -> float:
    """Reference level of ICNIRP 2020, whole body, 30 minutes, W/m2, 3 to 100 000 MHz. Raises : OutOfRange.

    Up to 30 MHz it is given as field strengths, E = 300 / f^0.7 V/m and H = 2.2 / f A/m for the public, 660
    and 4.9 for those at work: here as the power density of a plane wave, whichever of the two is less.
    """
    _check(frequency_mhz)
    public = audience is Audience.PUBLIC
    if frequency_mhz <= 30.0:
        electric: float = (300.0 if public else 660.0) / frequency_mhz**0.7
        magnetic: float = (2.2 if public else 4.9) / frequency_mhz
        return min(electric**2 / FREE_SPACE_OHM, magnetic**2 * FREE_SPACE_OHM)
    if frequency_mhz <= 400.0:
        return 2.0 if public else 10.0
    return min(frequency_mhz, 2000.0) / (200.0 if public else 40.0)


def _check(frequency_mhz: float) -> None:
    if not 3.0 <= frequency_mhz <= 100_000.0:
        raise OutOfRange(f"exposure limit at {frequency_mhz:.8g} MHz: known here from 3 to 100 000 MHz")


def keep_away_m(
    *,
    eirp_dbm: float,
    frequency_mhz: float,
    audience: Audience = Audience.PUBLIC,
    reflection: Reflection = Reflection.USUAL,
    duty: float = 1.0,
) -> float:
    """Distance from the antenna at which the power density falls to the limit, m.

    duty : share of the averaging time the carrier is on, above 0 to 1; FM is all carrier while keyed.
    Raises : OutOfRange for the frequency or the duty.
    """
    if not 0.0 < duty <= 1.0:
        raise OutOfRange(f"duty {duty:g} must lie above 0 and up to 1")
    limit = power_density_limit_w_per_m2(frequency_mhz=frequency_mhz, audience=audience)
    eirp_w = float(dbm_to_watts(eirp_dbm)) * duty
    return math.sqrt(eirp_w * reflection.value / (4.0 * math.pi * limit))

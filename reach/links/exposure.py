"""How far people must stay from a transmitting antenna: far-field power density against the limits.

Source : FCC OET Bulletin 65, S = EIRP g / (4 pi R^2); limits of 47 CFR 1.1310 (table seen in a public copy).
Other countries have their own, mostly after ICNIRP: the operator's own rules prevail. Within about half a
wavelength or an antenna's length the formula does not hold; a hand-held needs the care its maker states.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum

from reach.errors import OutOfRange
from reach.units import dbm_to_watts

CAUTION = (
    "These are far-field estimates (FCC OET Bulletin 65) against the public's limits of 47 CFR 1.1310, the "
    "carrier on all the time; for a hand-held follow its maker. Your own country's rules prevail, and each "
    "operator answers for them."
)


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
    """Maximum permissible exposure, W/m2 (10 W/m2 = 1 mW/cm2), 3 to 100 000 MHz. Raises : OutOfRange."""
    if not 3.0 <= frequency_mhz <= 100_000.0:
        raise OutOfRange(f"exposure limit at {frequency_mhz:g} MHz: known here from 3 to 100 000 MHz")
    public = audience is Audience.PUBLIC
    if frequency_mhz < 30.0:
        return (1800.0 if public else 9000.0) / frequency_mhz**2
    if frequency_mhz < 300.0:
        return 2.0 if public else 10.0
    return min(frequency_mhz, 1500.0) / (150.0 if public else 30.0)


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

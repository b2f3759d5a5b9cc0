"""ITM: climates, grounds, what the percentages mean, and warnings in plain words."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum, IntEnum, IntFlag

from reach.errors import OutOfRange


class Climate(IntEnum):
    """Radio climates of NTIA Report 82-100."""

    EQUATORIAL = 1
    CONTINENTAL_SUBTROPICAL = 2
    MARITIME_SUBTROPICAL = 3
    DESERT = 4
    CONTINENTAL_TEMPERATE = 5
    MARITIME_TEMPERATE_OVER_LAND = 6
    MARITIME_TEMPERATE_OVER_SEA = 7


# N-units reduced to sea level usual in each climate: NTIA Report 82-100, from memory
USUAL_REFRACTIVITY_N_UNITS = {
    Climate.EQUATORIAL: 360.0,
    Climate.CONTINENTAL_SUBTROPICAL: 320.0,
    Climate.MARITIME_SUBTROPICAL: 370.0,
    Climate.DESERT: 280.0,
    Climate.CONTINENTAL_TEMPERATE: 301.0,
    Climate.MARITIME_TEMPERATE_OVER_LAND: 320.0,
    Climate.MARITIME_TEMPERATE_OVER_SEA: 350.0,
}


@dataclass(frozen=True)
class Ground:
    """Electrical ground. relative_permittivity : >= 1; conductivity_s_per_m : > 0, S/m."""

    relative_permittivity: float
    conductivity_s_per_m: float

    def __post_init__(self) -> None:
        if not (math.isfinite(self.relative_permittivity) and self.relative_permittivity >= 1.0):
            raise OutOfRange(f"ground permittivity is {self.relative_permittivity}; it must be 1 or more")
        if not (math.isfinite(self.conductivity_s_per_m) and self.conductivity_s_per_m > 0.0):
            raise OutOfRange(f"ground conductivity is {self.conductivity_s_per_m} S/m; it must be above 0")


# The ITM user guide's table of grounds
AVERAGE_GROUND = Ground(15.0, 0.005)
POOR_GROUND = Ground(4.0, 0.001)
GOOD_GROUND = Ground(25.0, 0.020)
FRESH_WATER = Ground(81.0, 0.010)
SEA_WATER = Ground(81.0, 5.0)


class VariabilityMode(IntEnum):
    """Which kinds of variation are taken together (NTIA Report 82-100).

    SINGLE_MESSAGE : time and place vary with the situation; only the situation percentage counts.
    ACCIDENTAL : for interference; place varies with the situation, time apart.
    MOBILE : time and place vary together.
    BROADCAST : all three apart.
    """

    SINGLE_MESSAGE = 0
    ACCIDENTAL = 1
    MOBILE = 2
    BROADCAST = 3


class LeftOut(IntEnum):
    """Variation that does not apply: LOCATION between fixed, known sites; SITUATION for interference."""

    NOTHING = 0
    LOCATION = 10
    SITUATION = 20
    LOCATION_AND_SITUATION = 30


@dataclass(frozen=True)
class Percentages:
    """Shares in which the loss is at most the one returned, each above 0 and below 100 %.

    time_pct : of hours; location_pct : of comparable places; situation_pct : of comparable paths. 50 is
    the median.
    """

    time_pct: float = 50.0
    location_pct: float = 50.0
    situation_pct: float = 50.0

    def __post_init__(self) -> None:
        for name in ("time_pct", "location_pct", "situation_pct"):
            value = getattr(self, name)
            if not 0.0 < value < 100.0:
                raise OutOfRange(f"{name} is {value} %; it must lie between 0 and 100 %, both excluded")

    @classmethod
    def of_confidence(cls, *, confidence_pct: float, reliability_pct: float) -> Percentages:
        """Confidence (of situations) and reliability (of time) instead; places stay at their median.

        Source : ITM 1.2.2, confidence and reliability entry. Beware in BROADCAST mode: places stay at 50 %.
        """
        return cls(time_pct=reliability_pct, location_pct=50.0, situation_pct=confidence_pct)


MEDIAN = Percentages()


class Region(Enum):
    """Which branch of the model gave the loss. NEAR does not mean that the ends see each other."""

    NEAR = 1
    DIFFRACTION = 2
    SCATTER = 3

    @property
    def words(self) -> str:
        """In plain words, fit to show to a user."""
        return {
            Region.NEAR: "nearer than the smooth-earth horizons (says nothing of clearance)",
            Region.DIFFRACTION: "beyond the horizon by diffraction",
            Region.SCATTER: "far beyond the horizon by scatter in the air",
        }[self]


class ItmWarning(IntFlag):
    """Why a loss is doubtful, with the bits of ITM 1.2.2."""

    TX_HEIGHT = 0x0001
    RX_HEIGHT = 0x0002
    FREQUENCY = 0x0004
    FAR = 0x0008
    TOO_FAR = 0x0010
    STEEP_PATH = 0x0020
    TOO_NEAR = 0x0040
    TX_STEEP_HORIZON = 0x0080
    RX_STEEP_HORIZON = 0x0100
    TX_NEAR_OBSTACLE = 0x0200
    RX_NEAR_OBSTACLE = 0x0400
    TX_FAR_HORIZON = 0x0800
    RX_FAR_HORIZON = 0x1000
    FAR_TAIL = 0x2000
    HIGH_SITE = 0x4000


WARNING_WORDS = {
    ItmWarning.TX_HEIGHT: "transmitter antenna height is near the model's limits (usual range 1 to 1000 m)",
    ItmWarning.RX_HEIGHT: "receiver antenna height is near the model's limits (usual range 1 to 1000 m)",
    ItmWarning.FREQUENCY: "frequency is near the model's limits (usual range 40 to 10 000 MHz)",
    ItmWarning.FAR: "path is longer than 1000 km",
    ItmWarning.TOO_FAR: "path is longer than 2000 km: do not trust the figure",
    ItmWarning.STEEP_PATH: "path is very steep: the model assumes small angles",
    ItmWarning.TOO_NEAR: "path is shorter than 1 km: the figure is doubtful",
    ItmWarning.TX_STEEP_HORIZON: "horizon at the transmitter is steeper than 0.2 rad (11 degrees)",
    ItmWarning.RX_STEEP_HORIZON: "horizon at the receiver is steeper than 0.2 rad (11 degrees)",
    ItmWarning.TX_NEAR_OBSTACLE: "horizon very near the transmitter: a bank or a house may decide the link",
    ItmWarning.RX_NEAR_OBSTACLE: "horizon very near the receiver: a bank or a house may decide the link",
    ItmWarning.TX_FAR_HORIZON: "horizon at the transmitter is unusually far (hilltop)",
    ItmWarning.RX_FAR_HORIZON: "horizon at the receiver is unusually far (hilltop)",
    ItmWarning.FAR_TAIL: "a percentage is so near 0 or 100 % that the statistics are guesswork",
    ItmWarning.HIGH_SITE: "path runs so high that the air is thinner than the model was fitted for",
}
SKYWAVE_WORDS = "signals by way of the ionosphere (skywave) are not modelled"
SKYWAVE_BELOW_MHZ = 40.0


def warning_words(bits: int) -> tuple[str, ...]:
    """Plain words for a mask of ItmWarning bits, in the order of the bits."""
    return tuple(text for flag, text in WARNING_WORDS.items() if bits & flag)

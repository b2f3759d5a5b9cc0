"""Loss into buildings, Rec. ITU-R P.2109: a distribution over buildings, not one figure.

A median says that half of all such buildings lose less. Inside one building a window side and a cellar
differ more than two buildings do: common practice, no source, says 5 to 10 dB at a window of a wooden
house and 20 to 30 dB in a basement.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.propagation.variability import normal_quantile

FloatArray = NDArray[np.float64]

LOWEST_MHZ, HIGHEST_MHZ = 80.0, 100_000.0


@dataclass(frozen=True)
class EntryConstants:
    """Row of P.2109-1 Table 1, by the Recommendation's letters."""

    r: float
    s: float
    t: float
    u: float
    v: float
    w: float
    x: float
    y: float
    z: float


class Building(Enum):
    """Class of building: traditional, or thermally efficient (metallised glass, foil-backed panels)."""

    TRADITIONAL = EntryConstants(12.64, 3.72, 0.96, 9.6, 2.0, 9.1, -3.0, 4.5, -2.0)
    THERMALLY_EFFICIENT = EntryConstants(28.19, -3.00, 8.48, 13.5, 3.8, 27.8, -2.9, 9.4, -2.1)


def building_entry_loss_db(
    *,
    frequency_mhz: ArrayLike,
    building: Building = Building.TRADITIONAL,
    share_of_buildings: float = 0.5,
    elevation_deg: ArrayLike = 0.0,
) -> FloatArray:
    """Building entry loss not exceeded in that share of buildings, dB; arguments broadcast.

    share_of_buildings : 0..1, both excluded. elevation_deg : of the path at the facade, either sign.
    Valid : 80 MHz to 100 GHz. Raises : OutOfRange naming the first frequency outside.
    Source : Rec. ITU-R P.2109-1, eqs (1) to (10) and Table 1 (constants checked against a public
        transcription).
    Check : traditional, 146 MHz, 50 and 90 %: 14.06 and 22.98 dB.
    """
    frequency = np.asarray(frequency_mhz, dtype=np.float64)
    bad = np.flatnonzero(~((frequency >= LOWEST_MHZ) & (frequency <= HIGHEST_MHZ)))
    if bad.size:
        raise OutOfRange(
            f"frequency is {frequency.flat[bad[0]]:g} MHz (element {bad[0]}); building entry loss (P.2109) "
            f"is valid from {LOWEST_MHZ:g} to {HIGHEST_MHZ:g} MHz"
        )
    c = building.value
    lg = np.log10(frequency / 1000.0)
    L_h = c.r + c.s * lg + c.t * lg * lg  # eq. (9)
    L_e = 0.212 * np.abs(np.asarray(elevation_deg, dtype=np.float64))  # eq. (10)
    quantile = float(normal_quantile(share_of_buildings))
    A = quantile * (c.u + c.v * lg) + L_h + L_e  # eqs (2), (5), (7)
    B = quantile * (c.y + c.z * lg) + c.w + c.x * lg  # eqs (3), (6), (8)
    C = -3.0  # eq. (4)
    return np.asarray(
        10.0 * np.log10(10.0 ** (A / 10.0) + 10.0 ** (B / 10.0) + 10.0 ** (C / 10.0))
    )  # eq. (1)


def indoor_loss_db(
    *, frequency_mhz: float, building: Building, share_of_buildings: float = 0.5
) -> tuple[float, str]:
    """A line for the budget of a station indoors: loss, dB, and a note; on any amateur band.

    Below 80 MHz, where the Recommendation says nothing, the figure for 80 MHz serves and the note says so.
    """
    inside = max(frequency_mhz, LOWEST_MHZ)
    loss_db = float(
        building_entry_loss_db(frequency_mhz=inside, building=building, share_of_buildings=share_of_buildings)
    )
    kind = building.name.lower().replace("_", " ")
    note = f"{kind} building, not exceeded in {share_of_buildings:.0%} of them (ITU-R P.2109)"
    if inside != frequency_mhz:
        note += f"; not defined below {LOWEST_MHZ:g} MHz, the figure for {LOWEST_MHZ:g} MHz taken"
    return loss_db, note

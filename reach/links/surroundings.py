"""What an antenna's surroundings cost, as lines of the budget: body, vehicle, building, trees.

Which of them dull the noise from outside too? A body against the antenna makes the antenna itself a poor one:
the whip on the belt loses noise as it loses signal, exactly as a lossy antenna kind does. Walls, cars and
trees stand between an antenna and the others; the noise of the house and of the car is on its own side of
them, so outside noise counts in full there, which is the careful choice. A loss given as a bare figure is
taken that way too.
"""

from __future__ import annotations

from typing import NamedTuple

from reach.propagation.building_entry import Building, building_entry_loss_db, indoor_loss_db
from reach.propagation.foliage import woodland_loss_db
from reach.propagation.variability import margin_for_chance_db
from reach.stations import Surrounding

WOODLAND_DEPTH_M = 100.0
UHF_FROM_MHZ = 300.0

# (dB below 300 MHz, dB above): middle of the usual range, common practice, no source
_USUAL_DB: dict[Surrounding, tuple[float, float]] = {
    Surrounding.IN_VEHICLE: (10.0, 8.0),
    Surrounding.VEHICLE_SHADOW: (4.0, 5.0),
    Surrounding.ON_BELT: (7.0, 7.0),
    Surrounding.AT_WINDOW: (7.0, 7.0),
    Surrounding.BASEMENT: (25.0, 25.0),
}
_BUILDINGS = {
    Surrounding.INDOORS: Building.TRADITIONAL,
    Surrounding.INSULATED_BUILDING: Building.THERMALLY_EFFICIENT,
}


class SurroundingLoss(NamedTuple):
    """A median loss in dB, its spread between places of the kind (1 standard deviation), and its source."""

    label: str
    loss_db: float
    sigma_db: float
    note: str
    dulls_noise: bool = False  # takes outside noise as it takes signal


def surrounding_loss(surrounding: Surrounding, *, frequency_mhz: float) -> SurroundingLoss:
    """Loss of one surrounding at a frequency in MHz.

    Buildings : Rec. ITU-R P.2109, median, with the spread its 90 % figure implies. Woodland : Rec. ITU-R
    P.833 at 100 m of trees; where a land-cover raster already puts trees on the paths, naming it counts them
    twice.
    The rest : common practice, no source.
    """
    building = _BUILDINGS.get(surrounding)
    if building is not None:
        loss_db, note = indoor_loss_db(frequency_mhz=frequency_mhz, building=building)
        inside_mhz = max(frequency_mhz, 80.0)
        most_db = float(
            building_entry_loss_db(frequency_mhz=inside_mhz, building=building, share_of_buildings=0.9)
        )
        per_sigma = float(margin_for_chance_db(0.9, 1.0))
        return SurroundingLoss(surrounding.value, loss_db, (most_db - loss_db) / per_sigma, note)
    if surrounding is Surrounding.WOODLAND:
        loss_db = float(woodland_loss_db(frequency_mhz=frequency_mhz, depth_m=WOODLAND_DEPTH_M))
        return SurroundingLoss(
            surrounding.value, loss_db, 0.0, f"{WOODLAND_DEPTH_M:g} m of trees in leaf (ITU-R P.833)"
        )
    below_db, above_db = _USUAL_DB[surrounding]
    loss_db = below_db if frequency_mhz < UHF_FROM_MHZ else above_db
    dulls_noise = surrounding is Surrounding.ON_BELT
    note = "usual figure; outside noise is as much weaker" if dulls_noise else "usual figure"
    return SurroundingLoss(surrounding.value, loss_db, 0.0, note, dulls_noise)

"""What a member can do by hand to be heard better, from the least effort to the most, as changed equipment.

Only what people really do on the day: hold the antenna up, step outside, turn the power up, hang a roll-up
antenna into a tree, raise the one at home. Heights and powers are usual ones, common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from reach.inputs.equipment import ANTENNAS, FEED_LINES
from reach.stations import Category, Station, Surrounding
from reach.units import power_in_words, watts_to_dbm

FULL_POWER_W = 50.0  # of a usual radio at home or in a car
ROLL_UP_M = 6.0  # a branch or a telescopic pole
ROLL_UP_LINE_M = 8.0
HOME_MAST_M = 12.0
INSIDE = (
    Surrounding.AT_WINDOW,
    Surrounding.INDOORS,
    Surrounding.INSULATED_BUILDING,
    Surrounding.BASEMENT,
    Surrounding.IN_VEHICLE,
)


@dataclass(frozen=True)
class Deed:
    """One thing to do. words : 'goes outside', said of the member; station : the member then."""

    words: str
    station: Station


def deeds_of(station: Station) -> tuple[Deed, ...]:
    """What this member can do, least effort first; later ones include being outside and off the belt."""
    found: list[Deed] = []
    if Surrounding.ON_BELT in station.surroundings:
        station = _off_the_belt(station)
        found.append(Deed("takes the antenna off the belt and holds it up", station))
    if any(place in INSIDE for place in station.surroundings):
        out = "steps out of the car" if Surrounding.IN_VEHICLE in station.surroundings else "goes outside"
        station = replace(station, surroundings=tuple(s for s in station.surroundings if s not in INSIDE))
        both = f"{found[-1].words} and {out}" if found else out
        found.append(Deed(both, station))
    if station.category is Category.PORTABLE:
        found.append(Deed(f"hangs a roll-up j-pole at {ROLL_UP_M:g} m outside", _rolled_up(station)))
        return tuple(found)
    full_dbm = float(watts_to_dbm(FULL_POWER_W))
    if station.transmit_power_dbm < full_dbm - 0.05:
        station = replace(station, transmit_power_dbm=full_dbm)
        found.append(Deed(f"sends with {power_in_words(full_dbm)}, if the licence allows", station))
    if station.category is Category.MOBILE:
        found.append(Deed(f"parks and hangs a roll-up j-pole at {ROLL_UP_M:g} m", _rolled_up(station)))
    elif station.antenna.height_m < HOME_MAST_M:
        higher = replace(station.antenna, height_m=HOME_MAST_M)
        found.append(
            Deed(
                f"raises the antenna to {HOME_MAST_M:g} m, clear of power lines",
                replace(station, antenna=higher),
            )
        )
    return tuple(found)


def deeds_in_words(call_sign: str, helping: Sequence[str], *, tried: Sequence[str]) -> str:
    """One sentence on what brings a member in. helping : what does, of all that was tried."""
    if helping:
        return f"{call_sign} comes in when it {'; or '.join(helping)}."
    what = f" (tried: it {', '.join(tried)})" if tried else ""
    return (
        f"{call_sign}: nothing it can do where it is brings it in{what}; `reach sites FOLDER "
        f"--for {call_sign}` finds where to go."
    )


def _off_the_belt(station: Station) -> Station:
    antenna = station.antenna
    if Surrounding.ON_BELT in (ANTENNAS[antenna.kind].surroundings if antenna.kind in ANTENNAS else ()):
        antenna = ANTENNAS["handheld whip"].at(antenna.height_m)
    around = tuple(s for s in station.surroundings if s is not Surrounding.ON_BELT)
    return replace(station, antenna=antenna, surroundings=around)


def _rolled_up(station: Station) -> Station:
    return replace(
        station,
        antenna=ANTENNAS["roll-up j-pole"].at(ROLL_UP_M),
        feed_line=FEED_LINES["RG-58"].of(ROLL_UP_LINE_M),
        surroundings=tuple(s for s in station.surroundings if s is Surrounding.WOODLAND),
    )

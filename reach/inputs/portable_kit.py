"""Equipment away from home: a relay on a portable mast, and what a member can take along in the car.

The defaults are usual middle values, common practice without a published source.
"""

from __future__ import annotations

from dataclasses import replace

from reach.errors import InputProblem
from reach.inputs.equipment import DEFAULTS, FEED_LINES
from reach.inputs.equipment_cells import parse_antenna
from reach.inputs.quantities import parse_height_m, parse_power_dbm, quoted, refuse
from reach.stations import Antenna, Category, Position, Station
from reach.units import metres_in_words, power_in_words

PORTABLE_MAST = "8 m"
PORTABLE_POWER = "25 W"
PORTABLE_ANTENNA = "j-pole"
PORTABLE_LINE = "RG-8X"
LINE_BEYOND_MAST_M = 2.0
LOWEST_MAST_M = 1.0

_CAR = DEFAULTS[Category.MOBILE]


def portable_relay(
    *, mast: str = PORTABLE_MAST, power: str = PORTABLE_POWER, antenna: str = PORTABLE_ANTENNA
) -> Station:
    """A relay on a portable mast, from texts such as "8 m", "25 W", "j-pole" or "6 dBi".

    It stands still on a mast, so its place spreads like a fixed station's. Position : to be replaced.
    Raises : InputProblem with every text that cannot be read.
    """
    faults = []
    height_m, power_dbm, made = 0.0, 0.0, Antenna(0.0, 0.0)
    try:
        height_m = parse_height_m(mast)
        if height_m < LOWEST_MAST_M:
            raise refuse(f"{quoted(mast)} is no mast", f"write {LOWEST_MAST_M:g} m or more")
    except InputProblem as problem:
        faults += [replace(fault, key="--mast") for fault in problem.faults]
    try:
        power_dbm = parse_power_dbm(power)
    except InputProblem as problem:
        faults += [replace(fault, key="--power") for fault in problem.faults]
    try:
        made = _antenna(antenna, height_m)
    except InputProblem as problem:
        faults += [replace(fault, key="--antenna") for fault in problem.faults]
    if faults:
        raise InputProblem(faults)
    return Station(
        call_sign="PORTABLE RELAY",
        name="portable relay",
        position=Position(0.0, 0.0),
        category=Category.BASE,
        antenna=made,
        transmit_power_dbm=power_dbm,
        feed_line=FEED_LINES[PORTABLE_LINE].of(height_m + LINE_BEYOND_MAST_M),
    )


def _antenna(text: str, height_m: float) -> Antenna:
    kind = parse_antenna(text)
    return replace(kind.at(height_m), kind=kind.name or text.strip())


def relay_words(relay: Station) -> str:
    """'25 W, j-pole at 8 m, 10 m of RG-8X'."""
    line = relay.feed_line
    return (
        f"{power_in_words(relay.transmit_power_dbm)}, {relay.antenna.kind} at "
        f"{metres_in_words(relay.antenna.height_m)}, {metres_in_words(line.length_m)} of {line.kind}"
    )


def taken_along(member: Station) -> Station:
    """What a member works with away from home, standing still outdoors.

    Hand-helds and mobiles as they are; from a base station the radio, with at most the usual power of a
    mobile, on the usual mobile antenna of a parked car. What surrounds them at home, and its noise, stays
    there.
    """
    if member.category is Category.BASE:
        return replace(
            member,
            category=Category.PORTABLE,
            antenna=_CAR.usual_antenna(),
            transmit_power_dbm=min(member.transmit_power_dbm, _CAR.transmit_power_dbm),
            feed_line=_CAR.usual_line(),
            extra_loss_db=0.0,
            local_noise_db=0.0,
            noise=None,
            surroundings=(),
        )
    parked = Category.PORTABLE if member.category is Category.MOBILE else member.category
    return replace(member, category=parked, local_noise_db=0.0, noise=None, surroundings=())


def with_own_kit(
    member: Station, *, mast: str | None = None, power: str | None = None, antenna: str | None = None
) -> Station:
    """What a member takes along, with the mast, power or antenna said. Raises : InputProblem."""
    kit = taken_along(member)
    if mast is None and power is None and antenna is None:
        return kit
    own = portable_relay(
        mast=mast or metres_in_words(max(kit.antenna.height_m, LOWEST_MAST_M)),
        power=power or PORTABLE_POWER,
        antenna=antenna or PORTABLE_ANTENNA,
    )
    if power is not None:
        kit = replace(kit, transmit_power_dbm=own.transmit_power_dbm)
    if antenna is not None or mast is not None:
        made = own.antenna if antenna is not None else replace(kit.antenna, height_m=own.antenna.height_m)
        line = own.feed_line if mast is not None else kit.feed_line
        kit = replace(kit, antenna=made, feed_line=line)
    return kit


def kit_words(kit: Station) -> str:
    """'25 W, mobile whip at 2 m'."""
    power = power_in_words(kit.transmit_power_dbm)
    return f"{power}, {kit.antenna.kind or 'own antenna'} at {metres_in_words(kit.antenna.height_m)}"

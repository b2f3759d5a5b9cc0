"""A station at any place, for an area nobody of the roster stands in: a mast in a field, a found site."""

from __future__ import annotations

from dataclasses import replace

from reach.errors import InputProblem
from reach.inputs.locators import parse_position
from reach.inputs.portable_kit import PORTABLE_ANTENNA, PORTABLE_MAST, PORTABLE_POWER, portable_relay
from reach.stations import Net, Station

PLACE = "PLACE"  # stands for a call sign; no member can be called so


def station_at(place: str, *, mast: str = "", power: str = "", antenna: str = "") -> Station:
    """The usual portable station at a place, with what is said in words instead: '15 m', '50 W', 'j-pole'.

    place : coordinates or a locator. Raises : InputProblem naming the option.
    """
    station = portable_relay(
        mast=mast or PORTABLE_MAST, power=power or PORTABLE_POWER, antenna=antenna or PORTABLE_ANTENNA
    )
    try:
        where = parse_position(place)
    except InputProblem as problem:
        raise InputProblem(replace(fault, key="--at") for fault in problem.faults) from None
    usual = (
        ("mast", mast, PORTABLE_MAST), ("power", power, PORTABLE_POWER),
        ("antenna", antenna, PORTABLE_ANTENNA),
    )  # fmt: skip
    taken = tuple(f"{what} {value} (usual portable)" for what, said, value in usual if not said)
    return replace(station, call_sign=PLACE, name="", position=where, assumed=taken)


def with_station(net: Net, station: Station) -> Net:
    """The net and a station more."""
    return replace(net, stations=(*net.stations, station))

"""Beams that point at someone: from a call sign or a locator to a bearing, once everyone's place is known."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from reach.errors import Fault, InputProblem
from reach.geodesy import distance_and_bearing
from reach.inputs.locators import looks_like_locator, parse_position
from reach.inputs.quantities import quoted
from reach.lists import did_you_mean_or
from reach.stations import Antenna, Position

SAME_PLACE_M = 10.0


def aimed(antenna: Antenna, position: Position, places: Mapping[str, Position]) -> Antenna:
    """The antenna with the bearing of what its beam points at; any other antenna as it is.

    places : everyone of the net by call sign; a call sign goes before a locator of the same letters.
    Raises : InputProblem (column 'direction') for a name nobody has, or a place too close to tell a bearing.
    """
    beam = antenna.beam
    if beam is None or not beam.towards:
        return antenna
    name = beam.towards
    target = places.get(name)
    if target is None and looks_like_locator(name):
        target = parse_position(name)
    if target is None:
        otherwise = "write degrees, a call sign of this net, a locator, rotates or unknown"
        raise _fault(
            f"{quoted(name)} is neither a call sign of this net nor a direction",
            did_you_mean_or(name, places, otherwise=otherwise),
        )
    distance_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=position.latitude_deg,
        from_longitude_deg=position.longitude_deg,
        to_latitude_deg=target.latitude_deg,
        to_longitude_deg=target.longitude_deg,
    )
    if float(distance_m) <= max(SAME_PLACE_M, target.uncertainty_m):
        raise _fault(f"{quoted(name)} is too close to tell a bearing", "write the direction in degrees")
    return replace(antenna, beam=replace(beam, bearing_deg=float(bearing_deg)))


def _fault(problem: str, fix: str) -> InputProblem:
    return InputProblem(Fault(problem, fix, column="direction"))

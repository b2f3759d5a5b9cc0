"""What-if changes as typed, applied to a net: a new net comes out, the old one stays as it is.

    without QK3ABC                          leave a station out
    add QK9NEW base 41.30,-38.10            add one, on the defaults of its category
    QK3ABC height 15 m                      also: power 25 W, antenna base vertical, antenna 6 dBd
    QK3ABC relay yes                        also: control yes
    QK3ABC backup 40 Ah                     also: backup no, yes, 8 h
    QK3ABC at 41.30,-38.10                  goes there with a portable mast and a battery, ready to relay
    QK3ABC place 41.30,-38.10               moves there with all it has
    QK3ABC direction 225                    also: SW, a call sign, rotates: where its beam points
    QK3ABC line RG-213 30 m                 also: line 2 dB: its feed line
"""  # fmt: skip

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.aiming import aimed
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.equipment import ANTENNAS
from reach.inputs.equipment_cells import parse_antenna, parse_backup, parse_direction, parse_feed_line
from reach.inputs.locators import parse_position
from reach.inputs.lookup import find_station
from reach.inputs.portable_kit import portable_relay
from reach.inputs.quantities import quoted, refuse
from reach.inputs.roster import parse_category, parse_roster
from reach.stations import BackupPower, FeedLine, Net, Position, Station

_ASPECTS = ("height", "power", "antenna", "relay", "control", "backup", "at", "place", "direction", "line")
_HOW = (
    'write "without QK3ABC", "add QK9NEW base 41.30,-38.10", "QK3ABC height 15 m", "QK3ABC power 25 W",'
    ' "QK3ABC antenna base vertical", "QK3ABC relay yes",'
    ' "QK3ABC control yes", "QK3ABC backup 8 h", "QK3ABC place 41.30,-38.10", "QK3ABC direction SW",'
    ' "QK3ABC line RG-213 30 m" or "QK3ABC at 41.30,-38.10"'
)


def changed_net(net: Net, changes: Sequence[str]) -> Net:
    """The net with every change made, in the order given.

    Raises : InputProblem with every fault of every change (unknown call signs with the nearest spelling).
    """
    faults: list[Fault] = []
    for text in changes:
        try:
            net = _changed(net, text)
        except InputProblem as problem:
            faults += [replace(fault, column=f"change {quoted(text)}") for fault in problem.faults]
    if faults:
        raise InputProblem(faults)
    return net


def _changed(net: Net, text: str) -> Net:
    words = text.split()
    if len(words) < 2:
        raise refuse("is not a change known here", _HOW)
    verb = words[0].lower()
    if verb == "without" and len(words) == 2:
        gone = find_station(net, words[1])
        return replace(net, stations=tuple(s for s in net.stations if s is not gone))
    if verb == "add":
        return replace(net, stations=(*net.stations, _added(net, words[1:])))
    station = find_station(net, words[0])
    aspect = words[1].lower()
    if aspect not in _ASPECTS or len(words) < 3:
        raise refuse("is not a change known here", _HOW)
    value = " ".join(words[2:])
    new = _pointed(net, station, value) if aspect == "direction" else _with(station, aspect, value)
    return net.exchanged(new)


def _with(station: Station, aspect: str, value: str) -> Station:
    antenna = station.antenna
    if aspect == "height":
        return replace(station, antenna=replace(antenna, height_m=q.parse_antenna_height_m(value)))
    if aspect == "power":
        return replace(station, transmit_power_dbm=q.parse_power_dbm(value))
    if aspect == "antenna":
        kind = parse_antenna(value)
        before = ANTENNAS[antenna.kind].surroundings if antenna.kind in ANTENNAS else ()
        kept = tuple(s for s in station.surroundings if s not in (*before, *kind.surroundings))
        new = replace(kind.at(antenna.height_m), polarisation=antenna.polarisation)
        if new.beam is not None and antenna.beam is not None:
            new = replace(new, beam=antenna.beam)
        return replace(station, antenna=new, surroundings=(*kept, *kind.surroundings))
    if aspect == "backup":
        return replace(station, backup=parse_backup(value))
    if aspect == "place":
        return replace(station, position=parse_position(value))
    if aspect == "line":
        return replace(station, feed_line=_line(station, value))
    if aspect == "at":
        return _on_a_mast(station, parse_position(value))
    if aspect == "relay":
        return replace(station, willing_relay=q.parse_yes_no(value))
    return replace(station, willing_control=q.parse_yes_no(value))


def _pointed(net: Net, station: Station, value: str) -> Station:
    """A station whose beam points elsewhere."""
    beam, said = station.antenna.beam, parse_direction(value)
    if beam is None:
        fix = f'give it a beam first: "{station.call_sign} antenna 5-element yagi"'
        raise refuse(f"{station.call_sign}'s antenna radiates alike on every bearing", fix)
    turned = replace(beam, aim=said.aim, bearing_deg=said.bearing_deg, towards=said.towards)
    places = {one.call_sign: one.position for one in net.stations}
    places |= {one.call_sign: one.position for one in net.repeaters}
    antenna = aimed(replace(station.antenna, beam=turned), station.position, places)
    return replace(station, antenna=antenna)


def _line(station: Station, value: str) -> FeedLine:
    """Another feed line; as long as the one before where its length is not said."""
    choice = parse_feed_line(value)
    if choice.kind is None:
        return FeedLine(fixed_loss_db=choice.loss_db or 0.0)
    length_m = choice.length_m if choice.length_m is not None else station.feed_line.length_m
    if not length_m:
        raise refuse(f"{quoted(value)} does not say how long the line is", 'write "RG-213 30 m"')
    return choice.kind.of(length_m)


def _on_a_mast(station: Station, where: Position) -> Station:
    """A member who goes to a place with the usual portable mast, on a battery, to relay there."""
    put = portable_relay()
    return replace(
        put,
        call_sign=station.call_sign,
        name=station.name,
        position=where,
        sensitivity_dbm=station.sensitivity_dbm,
        backup=station.backup or BackupPower(),
        willing_control=station.willing_control,
        willing_relay=True,
        bands=station.bands,
    )


def _added(net: Net, words: Sequence[str]) -> Station:
    if len(words) < 3:
        raise refuse("does not say who, what kind and where", 'write "add QK9NEW base 41.30,-38.10"')
    call_sign = parse_call_sign(words[0])
    if any(station.call_sign == call_sign for station in net.stations):
        raise refuse(f"{call_sign} is in the net already", "choose another call sign, or change that station")
    parse_category(words[1])
    where = parse_position(" ".join(words[2:]))
    row = (call_sign, words[1], repr(where.latitude_deg), repr(where.longitude_deg))
    (station,) = parse_roster(f"call_sign,category,latitude,longitude\n{','.join(row)}\n").stations
    return replace(station, position=where)

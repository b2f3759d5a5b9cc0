"""Finding what a user named in a net, and saying what is near when it is not there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reach.errors import Fault, InputProblem
from reach.inputs.quantities import parse_frequency_mhz
from reach.lists import did_you_mean, named
from reach.stations import Channel, Net, Repeater, Station

MOST_LISTED = 12
SAME_MHZ = 1e-6  # two writings of one frequency


def unknown_name(name: str, known: Iterable[str], *, what: str, net: Net) -> InputProblem:
    """The error for a name that is not there, with the nearest that is; without one near, some that are."""
    names = sorted(known)
    some = f"there are {named(names, most=MOST_LISTED)}" if names else "there is none"
    fix = did_you_mean(name, names, otherwise=some)
    return InputProblem(Fault(f'"{name}" is no {what} of {net.name}', fix))


def _check_there(net: Net, call_sign: str) -> None:
    """Raises : InputProblem for a member who is left out for tonight."""
    call = call_sign.strip().upper()
    if call in net.away:
        raise InputProblem(
            Fault(f"{call} is away tonight", "name somebody who is there, or do not leave it out")
        )


def find_station(net: Net, call_sign: str) -> Station:
    """The member with that call sign, any case. Raises : InputProblem, for one who is away as well."""
    try:
        return net.station(call_sign.strip())
    except KeyError:
        _check_there(net, call_sign)
        known = (station.call_sign for station in net.stations)
        raise unknown_name(call_sign, known, what="member", net=net) from None


def find_repeater(net: Net, call_sign: str) -> Repeater:
    """The repeater with that call sign, any case. Raises : InputProblem."""
    if not net.repeaters:
        raise InputProblem(Fault(f"{net.name} has no repeater", "add a [[repeaters]] table to net.toml"))
    try:
        return net.repeater(call_sign.strip())
    except KeyError:
        known = (repeater.call_sign for repeater in net.repeaters)
        raise unknown_name(call_sign, known, what="repeater", net=net) from None


def find_repeaters(net: Net, call_signs: Sequence[str]) -> tuple[Repeater, ...]:
    """The repeaters named, or all of the net's when none is. Raises : InputProblem."""
    if not call_signs and not net.repeaters:
        find_repeater(net, "")
    return tuple(find_repeater(net, call_sign) for call_sign in call_signs) or net.repeaters


def find_party(net: Net, call_sign: str) -> Station | Repeater:
    """The member or repeater with that call sign, any case. Raises : InputProblem, for one away as well."""
    parties: list[Station | Repeater] = [*net.stations, *net.repeaters]
    for party in parties:
        if party.call_sign == call_sign.strip().upper():
            return party
    _check_there(net, call_sign)
    known = (party.call_sign for party in parties)
    raise unknown_name(call_sign, known, what="member or repeater", net=net)


def named_channel(channels: Iterable[Channel], text: str) -> Channel | None:
    """The first channel of that name, else of that frequency ("146.52", "146.520 MHz"); None without one."""
    known = tuple(channels)
    by_name = (channel for channel in known if channel.name.casefold() == text.strip().casefold())
    found = next(by_name, None)
    if found is not None:
        return found
    try:
        frequency_mhz = parse_frequency_mhz(text)
    except InputProblem:
        return None
    return next((one for one in known if abs(one.frequency_mhz - frequency_mhz) < SAME_MHZ), None)


def find_channel(net: Net, name: str | None) -> Channel:
    """The channel of that name or frequency; the net's first when none is named. Raises : InputProblem."""
    if name is None:
        return net.channels[0]
    channel = named_channel(net.channels, name)
    if channel is not None:
        return channel
    raise unknown_name(name, (channel.name for channel in net.channels), what="channel", net=net)

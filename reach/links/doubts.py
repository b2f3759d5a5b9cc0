"""What to beware of in a net's own data, said beside the answers it touches and no others."""

from __future__ import annotations

from collections.abc import Sequence

from reach.inputs.bands import band_name, frequency_warnings, works_on
from reach.links.noise import is_extrapolated
from reach.links.plausibility import unlikely_equipment
from reach.notes import Note, NoteKind, once
from reach.stations import Channel, Net, Repeater, Station

COARSE_LOCATOR_M = 200.0


def net_doubts(net: Net) -> tuple[Note, ...]:
    """Everything there is to beware of in a net, for whoever looks it through as a whole."""
    of_files = [Note(NoteKind.DATA, "", text) for text in net.warnings]
    of_channels = [note for channel in net.channels for note in _of_channel(net, channel)]
    of_repeaters = [
        note
        for repeater in net.repeaters
        for note in (*_of_repeater(net, repeater), *keepers_questions(repeater))
    ]
    of_members = [note for station in net.stations for note in _own(station)]
    return once(of_files, of_channels, of_repeaters, of_members, unlikely_equipment(net))


def simplex_doubts(net: Net, channel: Channel) -> tuple[Note, ...]:
    """What concerns a simplex channel and the members of the net who use it."""
    frequencies = [channel.frequency_mhz]
    return once(
        _of_channel(net, channel),
        _without_radio(frequencies, net.stations),
        _of_members(net, frequencies, net.stations),
    )


def repeater_doubts(net: Net, repeater: Repeater, members: Sequence[Station]) -> tuple[Note, ...]:
    """What concerns a repeater and the members who look to it."""
    frequencies = [repeater.input_mhz, repeater.output_mhz]
    return once(
        _of_repeater(net, repeater),
        _without_radio(frequencies, members),
        _of_members(net, frequencies, members),
    )


def keepers_questions(repeater: Repeater) -> tuple[Note, ...]:
    """What to ask whoever keeps a repeater, since nobody wrote it down; usual values stand in meanwhile."""
    if not repeater.unsaid:
        return ()
    *others, last = repeater.unsaid
    asked = f"{', '.join(others)} and {last}" if others else last
    text = (
        f"{repeater.call_sign}: ask its keeper for {asked}; usual values stand in. A lone hilltop is often "
        "rural, a site shared with other services 6 dB noisier (common practice): noise and local_noise_db "
        "say so."
    )
    return (Note(NoteKind.DATA, repeater.call_sign, text),)


def _without_radio(frequencies_mhz: Sequence[float], members: Sequence[Station]) -> tuple[Note, ...]:
    """Who has no radio for the band, and so no link there."""
    lacking = [s.call_sign for s in members if s.has_radio_path and not works_on(s, *frequencies_mhz)]
    if not lacking:
        return ()
    bands = " and ".join(dict.fromkeys(band_name(frequency_mhz) for frequency_mhz in frequencies_mhz))
    text = f"No radio for {bands}, so no link there: {', '.join(lacking)}."
    return (Note(NoteKind.BAND, " ".join(lacking), text),)


def _own(party: Station | Repeater) -> tuple[Note, ...]:
    return tuple(Note(NoteKind.DATA, party.call_sign, text) for text in party.warnings)


def _of_channel(net: Net, channel: Channel) -> tuple[Note, ...]:
    said = frequency_warnings(channel.frequency_mhz, region=net.region, who=f"channel {channel.name}")
    return tuple(Note(NoteKind.BAND, channel.name, text) for text in said)


def _of_repeater(net: Net, repeater: Repeater) -> tuple[Note, ...]:
    said: dict[str, str] = {}  # what both frequencies have in common is said once
    for name, frequency_mhz in (("output", repeater.output_mhz), ("input", repeater.input_mhz)):
        for text in frequency_warnings(frequency_mhz, region=net.region, who=f"{repeater.call_sign} {name}"):
            said.setdefault(text.partition(": ")[2], text)
    of_bands = (Note(NoteKind.BAND, repeater.call_sign, text) for text in said.values())
    return (*_own(repeater), *of_bands)


def _of_members(net: Net, frequencies_mhz: Sequence[float], members: Sequence[Station]) -> tuple[Note, ...]:
    on_air = [station for station in members if station.has_radio_path]
    said = [note for station in members for note in _own(station)]
    highest_mhz = max(frequencies_mhz)
    extrapolated = sorted(
        environment.value.replace("_", " ")
        for environment in {station.noise or net.noise for station in on_air}
        if is_extrapolated(environment=environment, frequency_mhz=highest_mhz)
    )
    if extrapolated:
        said.append(
            Note(
                NoteKind.MODEL,
                f"{highest_mhz:.8g} MHz",
                f"Man-made noise at {highest_mhz:.8g} MHz is extrapolated ({', '.join(extrapolated)}): "
                "the standard's line is stated for lower frequencies.",
            )
        )
    coarse = [s.call_sign for s in on_air if s.position.uncertainty_m > COARSE_LOCATOR_M and not s.warnings]
    if coarse:
        who = ", ".join(coarse)
        said.append(
            Note(
                NoteKind.DATA,
                who,
                f"positions from coarse locators ({who}): the real path may be quite another; "
                "give coordinates.",
            )
        )
    return tuple(said)

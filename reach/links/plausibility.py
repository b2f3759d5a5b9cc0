"""Equipment nobody is likely to have: said when a net is looked through, and planned with all the same.

Bounds are common practice, no source: what a club's members hardly ever exceed, so that a unit mixed up (feet
under a heading of metres, milliwatts as watts) is seen.
"""

from __future__ import annotations

from dataclasses import dataclass

from reach.notes import Note, NoteKind
from reach.stations import Category, Net, Repeater, Station
from reach.units import METRES_PER_FOOT, dbm_to_watts, figure


@dataclass(frozen=True)
class _Usual:
    """The most that is usual. who : how such a station is called."""

    who: str
    height_m: float
    power_w: float
    gain_dbi: float


_IN_THE_HAND = _Usual("a handheld", 3.0, 10.0, 3.0)
_BY_CATEGORY = {
    Category.BASE: _Usual("a home station", 60.0, 1500.0, 20.0),
    Category.MOBILE: _Usual("a car", 4.5, 200.0, 9.0),
    Category.PORTABLE: _Usual("a portable station", 15.0, 100.0, 15.0),
}
_REPEATER = _Usual("a repeater", 400.0, 500.0, 15.0)
_MOST_FEED_LOSS_DB = 12.0


def unlikely_equipment(net: Net) -> tuple[Note, ...]:
    """What in the equipment of members and repeaters is most likely a slip, a note each."""
    notes = []
    for station in net.stations:
        if station.has_radio_path:
            notes += _of(station, _usual(station), net.channels[0].frequency_mhz)
    for repeater in net.repeaters:
        notes += _of(repeater, _REPEATER, repeater.output_mhz)
    return tuple(notes)


def _usual(station: Station) -> _Usual:
    in_the_hand = station.category is Category.PORTABLE and station.antenna.kind.startswith("handheld")
    return _IN_THE_HAND if in_the_hand else _BY_CATEGORY[station.category]


def _of(owner: Station | Repeater, usual: _Usual, frequency_mhz: float) -> list[Note]:
    said = []
    height_m = owner.antenna.height_m
    if height_m > usual.height_m:
        meant = height_m * METRES_PER_FOOT
        guess = f"; {height_m:.0f} ft would be {meant:.0f} m" if meant <= usual.height_m else ""
        said.append(f"antenna {figure(height_m, 4)} m above ground{guess}")
    power_w = float(dbm_to_watts(owner.transmit_power_dbm))
    if power_w > 1.001 * usual.power_w:
        guess = f"; {power_w:.0f} mW would be {figure(power_w / 1000.0, 2)} W" if power_w >= 1000.0 else ""
        said.append(f"{figure(power_w, 4)} W{guess}")
    gain_dbi = owner.antenna.gain_dbi_at(frequency_mhz)
    if gain_dbi > usual.gain_dbi:
        said.append(f"an antenna of {gain_dbi:.3g} dBi")
    loss_db = owner.feed_line.loss_db(frequency_mhz)
    if loss_db > _MOST_FEED_LOSS_DB:
        said.append(f"{loss_db:.0f} dB lost in the feed line")
    call = owner.call_sign
    return [
        Note(NoteKind.DATA, call, f"{call}: {text}, for {usual.who}? Unusual; planned with as it is.")
        for text in said
    ]

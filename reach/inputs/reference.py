"""Every column of roster.csv and key of net.toml with what it means, from the tables that read them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from reach.inputs.club import CHANNEL_COLUMNS, NET_COLUMNS, TERRAIN_COLUMNS
from reach.inputs.columns import Column
from reach.inputs.nets import NETS_COLUMNS
from reach.inputs.planning import PLANNING_COLUMNS, SCHEDULE_COLUMNS
from reach.inputs.repeaters import REPEATER_COLUMNS
from reach.inputs.roster import ROSTER_COLUMNS
from reach.inputs.settings import NET_FILE
from reach.inputs.station_fields import MEMBER_COLUMNS

_PLACE = {
    "latitude": "decimal degrees, or degrees, minutes and seconds; north positive",
    "longitude": "the same; east positive",
    "position": "a Maidenhead locator of eight characters or more, or both coordinates in one cell",
}
_EQUIPMENT = {
    "antenna_height": "of the antenna above the ground it stands over",
    "power": "at the transmitter's socket",
    "antenna": "a kind known by name, such as base vertical, or a gain, such as 6 dBd",
    "gain": "of the antenna, in place of its kind's",
    "feed_line": "a kind known by name with its length, such as RG-213 15 m, or its loss, such as 2.5 dB",
    "feed_length": "of the feed line, where its cell names the kind only",
    "feed_loss": "of the whole feed line, in place of its kind's",
    "sensitivity": "of the receiver for 12 dB SINAD",
    "extra_loss": "what stands in the way at the station, in dB or words such as indoors; join words with +",
    "local_noise": "how much noisier it is there than its surroundings usually are",
    "noise": "city, residential, rural or quiet_rural",
    "direction": "where a beam points: degrees from true north, SW, a call sign, a locator, rotates, unknown",
    "front_to_back": "the most a beam loses behind",
    "polarisation": "vertical or horizontal",
    "backup": "what runs it without mains: no, yes, 8 h or 40 Ah",
    "land": "what stands round it within 500 m: open, houses, trees or town",
}
_MEMBER = _EQUIPMENT | {"bands": "radios it has, such as 2 m / 70 cm"}
_ROSTER = (
    _PLACE
    | _MEMBER
    | {
        "call_sign": "of the member; with a suffix such as /P for a second station",
        "name": "as it is spoken on the net",
        "category": "base, mobile, portable (or handheld), or internet for a member without a radio path",
        "control": "willing to be net control: yes or no",
        "relay": "willing to relay: yes or no",
        "brief": "wants to be called early and leave: yes or no",
        "attendance": "how often usually there: 80 %, 0.8 or 3 in 4; empty counts as always",
        "notes": "for yourselves; not read",
    }
)
_NET = {
    "name": "of the net",
    "region": "IARU region 1, 2 or 3, for warnings about band edges",
    "noise": "city, residential, rural or quiet_rural, where a station says nothing",
    "beams": "how a beam without direction counts: turn (to whoever it works) or unknown (its mean gain)",
    "model": "path-loss model; auto unless you compare",
    "k_factor": "bending of radio paths in the air, as effective-earth factor",
}
_TERRAIN = {
    "folders": "list of folders with elevation tiles",
    "elevation_unit": "m or ft, for tiles that do not say",
    "land_cover": "raster of land-cover classes",
    "surface": "typical (ground carries what usually stands on it) or bare",
    "clutter_heights_m": "table: land-cover code = height in metres, in place of the usual one",
}
_CHANNEL = {
    "name": "of the channel",
    "frequency": "of the channel",
    "deviation": "5 kHz on 20 and 25 kHz channels, 2.5 kHz on 12.5 kHz ones",
    "polarisation": "vertical or horizontal",
}
_REPEATER = (
    _PLACE
    | _EQUIPMENT
    | {
        "call_sign": "of the repeater",
        "name": "of the repeater",
        "output": "what members listen to",
        "input": "what members transmit on; or say offset",
        "offset": "of the input from the output",
        "tone": 'access tone, or "none"; it does not change the range',
        "duplexer_loss": "in each direction",
        "desensitising": "how much weaker it hears while it transmits",
        "deviation": "5 or 2.5 kHz, of both its frequencies",
    }
)
_PLANNING = {
    "relay_readability": "lowest readability a plan may use, both ways: R1 to R5",
    "relay_chance": "or the lowest chance of working, such as 0.8",
    "most_relays_in_a_row": "0 to 3 relays between net control and a member",
    "battery_relays": "whether stations on battery may relay: yes or no",
    "mobile_relays": "whether cars may relay: yes or no",
    "portable_relays": "whether portables and handhelds may relay: yes or no",
    "transmit_share": "share of the time a station transmits, for battery hours",
    "receive_current": "while listening, for battery hours",
    "transmitter_efficiency": "radio power over supply power, for battery hours",
    "usable_share": "share of a battery that can be used",
    "control_candidates": "list of call signs considered for net control; everyone willing without it",
}
_SCHEDULE = {
    "weekday": "day of the net",
    "start": "on the 24-hour clock",
    "duration": "of a net",
    "timezone": "such as UTC or Europe/London",
    "every": "week, 2 weeks or month",
    "week_of_month": "first to fifth, or last; for a monthly net",
    "first_date": "earliest day, such as 2027-01-05; with 2 weeks it says which weeks count",
}

_NETS = _SCHEDULE | {
    "name": "of this net, for --net",
    "channel": "its simplex channel by name; the first of [[channels]] without it",
    "repeater": "call sign of its repeater",
    "on": "simplex, repeater, or both: the repeater net and then simplex; as it has a repeater without it",
    "script": "file of its wording beside net.toml; script.txt without it",
    "control_candidates": "list of call signs considered for its net control; as [planning] without it",
}


@dataclass(frozen=True)
class Entry:
    """One column or key. units : it may carry, the first as shown; also : other names read; needed : must be
    there."""

    name: str
    units: tuple[str, ...]
    also: tuple[str, ...]
    meaning: str
    needed: bool


@dataclass(frozen=True)
class Section:
    """One table of a file. title : how it is headed there; about : what it is."""

    file: str
    title: str
    about: str
    entries: tuple[Entry, ...]


def _section(
    file: str,
    title: str,
    about: str,
    columns: Iterable[Column],
    meanings: Mapping[str, str],
    *,
    beside: tuple[str, ...] = (),
) -> Section:
    """beside : keys read by hand, not by a column."""
    entries = [
        Entry(
            column.name,
            tuple(column.quantity.units) if column.quantity else (),
            column.also,
            meanings[column.name],
            bool(column.missing),
        )
        for column in columns
    ]
    entries += [Entry(name, (), (), meanings[name], False) for name in beside]
    return Section(file, title, about, tuple(entries))


def sections() -> tuple[Section, ...]:
    """Every table of both files, in the order they are usually written.

    Raises : KeyError for a column without a meaning (held by a test).
    """
    return (
        _section("roster.csv", "heading row", "one member a row", ROSTER_COLUMNS, _ROSTER),
        _section(NET_FILE, "[net]", "the net as a whole", NET_COLUMNS, _NET),
        _section(
            NET_FILE, "[terrain]", "the ground", TERRAIN_COLUMNS, _TERRAIN,
            beside=("folders", "clutter_heights_m"),
        ),
        _section(NET_FILE, "[[channels]]", "one block a simplex channel", CHANNEL_COLUMNS, _CHANNEL),
        _section(NET_FILE, "[[repeaters]]", "one block a repeater", REPEATER_COLUMNS, _REPEATER),
        _section(
            NET_FILE, "[defaults.base], [defaults.mobile], [defaults.portable]",
            "what a member is taken to have who says nothing", MEMBER_COLUMNS, _MEMBER,
        ),
        _section(
            NET_FILE, "[planning]", "what a plan keeps to", PLANNING_COLUMNS, _PLANNING,
            beside=("control_candidates",),
        ),
        _section(NET_FILE, "[schedule]", "when the net meets", SCHEDULE_COLUMNS, _SCHEDULE),
        _section(
            NET_FILE, "[[nets]]", "in place of [schedule], one block a net of a club with several",
            NETS_COLUMNS, _NETS, beside=("control_candidates",),
        ),
    )  # fmt: skip


MEANINGS: tuple[tuple[Mapping[str, str], tuple[Column, ...], tuple[str, ...]], ...] = (
    (_ROSTER, tuple(ROSTER_COLUMNS), ()),
    (_NET, tuple(NET_COLUMNS), ()),
    (_TERRAIN, tuple(TERRAIN_COLUMNS), ("folders", "clutter_heights_m")),
    (_CHANNEL, tuple(CHANNEL_COLUMNS), ()),
    (_REPEATER, tuple(REPEATER_COLUMNS), ()),
    (_MEMBER, tuple(MEMBER_COLUMNS), ()),
    (_PLANNING, tuple(PLANNING_COLUMNS), ("control_candidates",)),
    (_SCHEDULE, tuple(SCHEDULE_COLUMNS), ()),
    (_NETS, tuple(NETS_COLUMNS), ("control_candidates",)),
)

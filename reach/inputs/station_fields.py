"""What may be written about a station's equipment, and how it becomes an antenna, a feed line and the rest.

The same fields serve a row of the roster, a repeater of net.toml and the [defaults] tables. A value left out
is taken from the net's own default, then from the table of its category, and is put down in plain words.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.bands import parse_bands
from reach.inputs.columns import Column
from reach.inputs.equipment import (
    ANTENNAS,
    FEED_LINES,
    AntennaKind,
    EquipmentDefaults,
)
from reach.inputs.equipment_cells import (
    BACKUP,
    BEARING,
    Direction,
    ExtraLoss,
    FeedChoice,
    parse_antenna,
    parse_backup,
    parse_direction,
    parse_extra_loss,
    parse_feed_line,
    parse_land,
    parse_noise,
    parse_polarisation,
)
from reach.stations import (
    Aim,
    Antenna,
    BackupPower,
    Beam,
    FeedLine,
    Land,
    NoiseEnvironment,
    Polarisation,
    Surrounding,
)
from reach.units import metres_in_words, power_in_words


@dataclass(frozen=True)
class BackupChoice:
    """A backup cell that says something; power : None for mains only."""

    power: BackupPower | None = None


EQUIPMENT_COLUMNS: tuple[Column, ...] = (
    Column("antenna_height", q.ANTENNA_HEIGHT, ("height",)),
    Column("power", q.POWER, ("transmit_power", "tx_power")),
    Column("antenna", reads=lambda c: parse_antenna(c.text)),
    Column("gain", q.GAIN, ("antenna_gain",), lambda c: q.parse_gain_dbi(c.text, c.unit)),
    Column("feed_line", None, ("feedline", "coax"), lambda c: parse_feed_line(c.text)),
    Column("feed_length", q.LENGTH, ("feed_line_length", "feedline_length")),
    Column("feed_loss", q.LOSS, ("feed_line_loss", "feedline_loss")),
    Column("sensitivity", q.SENSITIVITY),
    Column("extra_loss", q.LOSS, ("surroundings",), lambda c: parse_extra_loss(c.text, c.unit)),
    Column("local_noise", q.NOISE_OFFSET),
    Column("noise", None, ("noise_environment",), lambda c: parse_noise(c.text)),
    Column(
        "direction",
        BEARING,
        ("beam_direction", "antenna_direction", "beam", "azimuth", "heading", "bearing", "points_at"),
        lambda c: parse_direction(c.text, c.unit),
    ),
    Column("front_to_back", q.LOSS, ("front_to_back_ratio",)),
    Column("polarisation", None, ("polarization",), lambda c: parse_polarisation(c.text)),
    Column(
        "backup",
        BACKUP,
        ("backup_power", "battery"),
        lambda c: BackupChoice(parse_backup(c.text, c.unit)),
    ),
    Column("land", None, ("surrounding_land",), lambda c: parse_land(c.text)),
)

# what a member has and a repeater has not; in the roster and in the [defaults] tables
MEMBER_COLUMNS: tuple[Column, ...] = (
    *EQUIPMENT_COLUMNS,
    Column("bands", None, ("band",), lambda c: parse_bands(c.text)),
)


@dataclass(frozen=True, kw_only=True)
class EquipmentFields:
    """Equipment as written: None where nothing was."""

    antenna_height: float | None = None  # m
    power: float | None = None  # dBm
    antenna: AntennaKind | None = None
    gain: float | None = None  # dBi
    feed_line: FeedChoice | None = None
    feed_length: float | None = None  # m
    feed_loss: float | None = None  # dB
    sensitivity: float | None = None  # dBm
    extra_loss: ExtraLoss | None = None
    local_noise: float | None = None  # dB
    noise: NoiseEnvironment | None = None
    direction: Direction | None = None
    front_to_back: float | None = None  # dB
    polarisation: Polarisation | None = None
    backup: BackupChoice | None = None
    bands: tuple[str, ...] | None = None  # empty for all
    land: Land | None = None


@dataclass(frozen=True)
class Equipment:
    """Equipment complete; `assumed` says in plain words what was filled in."""

    antenna: Antenna
    transmit_power_dbm: float
    feed_line: FeedLine
    sensitivity_dbm: float
    extra_loss: ExtraLoss
    local_noise_db: float
    noise: NoiseEnvironment | None
    backup: BackupPower | None
    land: Land | None
    bands: tuple[str, ...]
    assumed: tuple[str, ...]


def _antenna_of(fields: EquipmentFields) -> AntennaKind | None:
    """A stated gain overrides the kind's own figures, its body included, but keeps its name and shape."""
    if fields.gain is None:
        return fields.antenna
    if fields.antenna is None:
        return AntennaKind("", fields.gain)
    return AntennaKind(fields.antenna.name, fields.gain, is_beam=fields.antenna.is_beam)


def complete(
    given: EquipmentFields,
    *,
    own_defaults: EquipmentFields,
    defaults: EquipmentDefaults,
    who: str,
    undirected: Aim = Aim.TURNS,
    bands: tuple[str, ...] = (),
) -> Equipment:
    """Equipment with every gap filled, first from the net's own defaults, then from the built-in ones.

    who : 'base', 'mobile', 'portable' or 'repeater', for the words of `assumed`.
    undirected : how a beam counts whose direction is not given; bands : those the net works on.
    Raises : InputProblem when a feed line is given twice over (kind and length beside a whole loss), or a
        direction beside an antenna that has none.
    """
    assumed: list[str] = []

    def note(what: str, source: str) -> None:
        assumed.append(f"{what} ({source})")

    of_net, built_in = f"{who} default in net.toml", f"{who} default"

    height_m = given.antenna_height
    if height_m is None:
        height_m, source = (
            (own_defaults.antenna_height, of_net)
            if own_defaults.antenna_height is not None
            else (defaults.antenna_height_m, built_in)
        )
        note(f"antenna height {metres_in_words(height_m)}", source)
    power_dbm = given.power
    if power_dbm is None:
        power_dbm, source = (
            (own_defaults.power, of_net)
            if own_defaults.power is not None
            else (defaults.transmit_power_dbm, built_in)
        )
        note(f"power {power_in_words(power_dbm)}", source)
    kind = _antenna_of(given)
    if kind is None:
        own_kind = _antenna_of(own_defaults)
        kind, source = (own_kind, of_net) if own_kind else (ANTENNAS[defaults.antenna], built_in)
        note(f"antenna {kind.name or f'of {kind.gain_dbi:.3g} dBi'}", source)
    sensitivity_dbm = given.sensitivity
    if sensitivity_dbm is None:
        sensitivity_dbm, source = (
            (own_defaults.sensitivity, of_net)
            if own_defaults.sensitivity is not None
            else (defaults.sensitivity_dbm, built_in)
        )
        note(f"receiver sensitivity {sensitivity_dbm:.0f} dBm for 12 dB SINAD", source)

    feed_line = _feed_line_of(given, defaults, note, built_in)
    if feed_line is None:
        feed_line = _feed_line_of(own_defaults, defaults, note, of_net)
        if feed_line is not None:
            note(f"feed line {feed_line.kind or f'loss {feed_line.fixed_loss_db:g} dB'}", of_net)
        else:
            feed_line = defaults.usual_line()
            length = f"feed line {metres_in_words(feed_line.length_m)} of {feed_line.kind}"
            note(length if feed_line.length_m else "no feed line", built_in)

    def either(own: float | None, net: float | None, what: str) -> float:
        if own is None and net is not None:
            note(f"{what} {net:g} dB", of_net)
        return own if own is not None else (net or 0.0)

    backup = given.backup
    if backup is None:
        backup, source = (
            (own_defaults.backup, of_net)
            if own_defaults.backup is not None
            else (BackupChoice(defaults.backup), built_in)
        )
        note(f"{backup.power.words} power" if backup.power else "mains only", source)
    own_bands = given.bands if given.bands is not None else own_defaults.bands
    if given.bands is None and len(bands) > 1:
        source = built_in if own_defaults.bands is None else of_net
        note(f"radios for {', '.join(own_bands or bands)}", source)

    extra_loss = given.extra_loss
    if extra_loss is None:
        extra_loss = own_defaults.extra_loss or ExtraLoss()
        if own_defaults.extra_loss is not None:
            note(f"extra loss {extra_loss.words}", of_net)
    worn = tuple(s for s in kind.surroundings if s not in extra_loss.surroundings)
    extra_loss = ExtraLoss(extra_loss.loss_db, (*extra_loss.surroundings, *worn))

    land = given.land or own_defaults.land
    if land is None and Surrounding.WOODLAND not in extra_loss.surroundings:
        note("houses round it", "not stated")
    elif given.land is None and own_defaults.land is not None:
        note(f"{own_defaults.land.value} round it", of_net)

    return Equipment(
        antenna=replace(
            kind.at(height_m),
            beam=_beam_of(given, kind, undirected, note, built_in),
            polarisation=given.polarisation or own_defaults.polarisation,
        ),
        transmit_power_dbm=power_dbm,
        feed_line=feed_line,
        sensitivity_dbm=sensitivity_dbm,
        extra_loss=extra_loss,
        local_noise_db=either(given.local_noise, own_defaults.local_noise, "local noise"),
        noise=given.noise or own_defaults.noise,
        backup=backup.power,
        bands=own_bands or (),
        land=land,
        assumed=tuple(assumed),
    )


def _beam_of(
    given: EquipmentFields,
    kind: AntennaKind,
    undirected: Aim,
    note: Callable[[str, str], None],
    source: str,
) -> Beam | None:
    """How a beam points, None for an antenna without a direction. A gain with a direction is a beam."""
    if not kind.is_beam and (kind.name or given.direction is None):
        for column, said in (("direction", given.direction), ("front_to_back", given.front_to_back)):
            if said is not None:
                what = f"a {kind.name}" if kind.name else "an antenna without a direction"
                raise InputProblem(
                    Fault(
                        f"{what} radiates alike on every bearing",
                        "take this out, or name a beam such as 5-element yagi",
                        column=column,
                    )
                )
        return None
    direction = given.direction
    if direction is None:
        direction = Direction(undirected)
        turns = undirected is Aim.TURNS
        note(f"beam {'turned to whoever it works' if turns else 'of unknown direction'}", source)
    return Beam(direction.aim, direction.bearing_deg, direction.towards, given.front_to_back)


def _feed_line_of(
    fields: EquipmentFields, defaults: EquipmentDefaults, note: Callable[[str, str], None], source: str
) -> FeedLine | None:
    """The feed line the fields speak of; None when they say nothing about one."""
    choice = fields.feed_line or FeedChoice()
    if fields.feed_loss is not None and choice.loss_db is not None:
        raise InputProblem(
            Fault("the feed line's loss is given twice", "keep one of the two", column="feed_loss")
        )
    loss_db = fields.feed_loss if fields.feed_loss is not None else choice.loss_db
    if loss_db is not None:
        return FeedLine(kind=choice.kind.name if choice.kind else "", fixed_loss_db=loss_db)
    if fields.feed_length is not None and choice.length_m is not None:
        raise InputProblem(
            Fault("the feed line's length is given twice", "keep one of the two", column="feed_length")
        )
    length_m = fields.feed_length if fields.feed_length is not None else choice.length_m
    kind = choice.kind
    if kind is None and length_m is None:
        return None
    if kind is None:
        kind = FEED_LINES[defaults.feed_line or "RG-58"]
        note(f"feed line kind {kind.name}", source)
    if length_m is None:
        length_m = defaults.feed_length_m or 5.0
        note(f"feed line length {metres_in_words(length_m)}", source)
    return kind.of(length_m)

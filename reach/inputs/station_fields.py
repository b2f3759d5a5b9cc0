"""What may be written about a station's equipment, and how it becomes an antenna, a feed line and the rest.

The same fields serve a row of the roster, a repeater of net.toml and the [defaults] tables. A value left out
is taken from the net's own default, then from the table of its category, and is put down in plain words.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.bands import parse_bands
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.columns import Column
from reach.inputs.equipment import (
    ANTENNAS,
    FEED_LINES,
    AntennaKind,
    EquipmentDefaults,
    FeedLineKind,
)
from reach.inputs.quantities import quoted, refuse
from reach.stations import (
    Aim,
    Antenna,
    BackupPower,
    Beam,
    FeedLine,
    NoiseEnvironment,
    Polarisation,
    Surrounding,
)
from reach.units import power_in_words

BEARING = q.Quantity(
    what="a direction",
    example="225 deg, from true north",
    units={"deg": lambda value: value},
    spellings={"°": "deg", "degs": "deg", "degree": "deg", "degrees": "deg"},
    internal="deg",
    bare_unit="deg",
    lowest=0.0,
    highest=360.0,
)
BACKUP = q.Quantity(
    what="backup power",
    example="yes, no, 8 h or 12 Ah",
    units={"h": lambda value: value, "Ah": lambda value: value},
    spellings={"hours": "h", "hour": "h"},
    internal="",
    lowest=0.0,
)


@dataclass(frozen=True)
class Direction:
    """Where a beam is said to point; `towards` : a call sign or locator whose bearing is yet to be found."""

    aim: Aim
    bearing_deg: float = 0.0
    towards: str = ""


@dataclass(frozen=True)
class FeedChoice:
    """A feed-line cell: a kind with or without length, or the whole loss. None where not said."""

    kind: FeedLineKind | None = None
    length_m: float | None = None
    loss_db: float | None = None


@dataclass(frozen=True)
class ExtraLoss:
    """An extra-loss cell: a figure in dB, what stands around the antenna, or both."""

    loss_db: float = 0.0
    surroundings: tuple[Surrounding, ...] = ()

    @property
    def words(self) -> str:
        """As it is said among the defaults used."""
        figure = [f"{self.loss_db:g} dB"] if self.loss_db else []
        return " + ".join([*figure, *(s.value for s in self.surroundings)]) or "none"


def _words(text: str) -> str:
    return re.sub(r"[\s_\-]+", " ", text.strip().lower())


def _letters(text: str) -> str:
    return re.sub(r"[^a-z0-9]", "", text.lower().replace("½", "half"))


_ANTENNAS_BY_WORDS = {_words(name): kind for name, kind in ANTENNAS.items()}
_FEED_LINES_BY_LETTERS = {_letters(name): kind for name, kind in FEED_LINES.items()}
_SURROUNDINGS = {surrounding.value: surrounding for surrounding in Surrounding}
_OPEN_AIR = frozenset({"none", "open air"})
_NO_FEED_LINE = frozenset({"none", "no", "-", "direct"})


def did_you_mean(text: str, names: Iterable[str], *, otherwise: str, kinds: str = "") -> str:
    """What to do about a word nobody knows: the nearest one that is known, and what else may be written.

    otherwise : what may be written always; kinds : the list of all that are known, where none is near.
    """
    close = difflib.get_close_matches(text, list(names), n=1, cutoff=0.65)
    return f"did you mean {close[0]}? If not, {otherwise}" if close else otherwise + kinds


def parse_antenna(text: str) -> AntennaKind:
    """A named kind, or a gain such as '6 dBd' as a kind without a name. Raises : InputProblem."""
    kind = _ANTENNAS_BY_WORDS.get(_words(text))
    if kind:
        return kind
    if re.match(r"\s*[-+−.0-9]", text) and "db" in text.lower():
        return AntennaKind("", q.parse_gain_dbi(text))
    raise refuse(
        f"{quoted(text)} is not an antenna known here",
        did_you_mean(
            _words(text),
            _ANTENNAS_BY_WORDS,
            otherwise="write a gain such as 6 dBd",
            kinds=f", or one of: {', '.join(ANTENNAS)}",
        ),
    )


def parse_feed_line(text: str) -> FeedChoice:
    """'RG-213', 'RG-213 30 m', '2.5 dB' or 'none'. Raises : InputProblem."""
    tidy = text.strip()
    if tidy.lower() in _NO_FEED_LINE:
        return FeedChoice(loss_db=0.0)
    if re.fullmatch(r"[-+−.,0-9\s]*db", tidy.lower()):
        return FeedChoice(loss_db=q.parse_loss_db(tidy))
    named, length = tidy, None
    if found := re.fullmatch(r"(.*?[^\s,;])[\s,;]+([0-9][0-9.,]*\s*[A-Za-z'′]+)", tidy):
        named, length = found.group(1), q.parse_length_m(found.group(2))
    letters = _letters(named)
    kind = _FEED_LINES_BY_LETTERS.get(letters) or _FEED_LINES_BY_LETTERS.get(letters.removesuffix("u"))
    if kind is None:
        raise refuse(
            f"{quoted(text)} is not a feed line known here",
            did_you_mean(
                named.upper(),
                FEED_LINES,
                otherwise="write the line's loss, such as 2.5 dB",
                kinds=f", or one of: {', '.join(FEED_LINES)}, with its length",
            ),
        )
    return FeedChoice(kind=kind, length_m=length)


def parse_extra_loss(text: str, heading_unit: str = "") -> ExtraLoss:
    """A loss in dB, surroundings, or both joined by '+': 'indoors + on the belt'. Raises : InputProblem."""
    loss_db, surroundings = 0.0, []
    for part in [text] if heading_unit else text.strip().lstrip("+").split("+"):
        words = _words(part)
        if heading_unit or re.match(r"\s*[-−.]?[0-9]", part):
            loss_db += q.parse_loss_db(part, heading_unit)
        elif words in _SURROUNDINGS:
            surroundings.append(_SURROUNDINGS[words])
        elif words not in _OPEN_AIR:
            raise refuse(
                f"{quoted(part.strip())} is not a surrounding known here",
                did_you_mean(
                    words,
                    _SURROUNDINGS,
                    otherwise="write a loss such as 10 dB",
                    kinds=f", or one of: open air, {', '.join(_SURROUNDINGS)}",
                ),
            )
    return ExtraLoss(loss_db, tuple(surroundings))


_COMPASS = [
    "N",
    "NNE",
    "NE",
    "ENE",
    "E",
    "ESE",
    "SE",
    "SSE",
    "S",
    "SSW",
    "SW",
    "WSW",
    "W",
    "WNW",
    "NW",
    "NNW",
]
_TURNS = frozenset({"rotates", "rotate", "rotator", "rotatable", "turns", "turn"})
_ANYWHERE = frozenset({"unknown", "not known", "anywhere", "?"})
POLARISATIONS = {p.value: p for p in Polarisation}


def parse_direction(text: str, heading_unit: str = "") -> Direction:
    """'225', '225 deg', 'SW', a call sign, a locator, 'rotates' or 'unknown'. Raises : InputProblem."""
    words = _words(text)
    if words in _TURNS:
        return Direction(Aim.TURNS)
    if words in _ANYWHERE:
        return Direction(Aim.ANYWHERE)
    if words.upper() in _COMPASS:
        return Direction(Aim.FIXED, 22.5 * _COMPASS.index(words.upper()))
    if re.fullmatch(r"[-+−.,0-9]+\s*(°|deg|degs|degree|degrees)?\.?", text.strip().lower()):
        return Direction(Aim.FIXED, BEARING.parse(text, heading_unit) % 360.0)
    if re.search(r"\s", text.strip()):
        raise refuse(
            f"{quoted(text)} is not a direction",
            "write degrees from true north such as 225, SW, a call sign, a locator, rotates or unknown",
        )
    return Direction(Aim.FIXED, towards=parse_call_sign(text))


def parse_polarisation(text: str) -> Polarisation:
    """'vertical' or 'horizontal'. Raises : InputProblem."""
    found = POLARISATIONS.get({"v": "vertical", "h": "horizontal"}.get(_words(text), _words(text)))
    if found is None:
        raise refuse(f"{quoted(text)} is not a polarisation", f"write one of: {', '.join(POLARISATIONS)}")
    return found


def parse_noise(text: str) -> NoiseEnvironment:
    """One of the environments of Rec. ITU-R P.372. Raises : InputProblem."""
    try:
        return NoiseEnvironment(_words(text).replace(" ", "_"))
    except ValueError:
        names = ", ".join(e.value for e in NoiseEnvironment)
        raise refuse(f"{quoted(text)} is not a noise environment", f"write one of: {names}") from None


def parse_backup(text: str, heading_unit: str = "") -> BackupPower | None:
    """'yes', 'no', '8 h', '12 Ah', '12 Ah 13.8 V'; None for no. Raises : InputProblem."""
    words = _words(text)
    if words in ("no", "n", "none", "mains", "mains only", "-", "false"):
        return None
    if words in ("yes", "y", "x", "true", "battery"):
        return BackupPower()
    if heading_unit:
        value = BACKUP.parse(text, heading_unit)
        if not value:
            return None
        return BackupPower(hours=value) if heading_unit == "h" else BackupPower(battery_ah=value)
    hours: float | None = None
    charge_ah: float | None = None
    voltage_v = BackupPower.battery_v
    for part in re.findall(r"[^\s,;][^\s,;]*(?:[ ]+[A-Za-z]+)?", text) or [text]:
        unit = re.sub(r"[^a-z]", "", part.lower())
        if unit == "v":
            voltage_v = q.VOLTAGE.parse(part)
        elif unit in ("ah", "mah"):
            charge_ah = q.CHARGE.parse(part)
        elif unit in ("h", "hour", "hours", "hr", "hrs", "min", "minutes"):
            hours = q.DURATION.parse(part)
        else:
            raise refuse(
                f"{quoted(text)} does not say how much backup power",
                "write yes, no, 8 h, 12 Ah or 12 Ah 12.8 V",
            )
    if hours is None and charge_ah is None:
        raise refuse(
            f"{quoted(text)} does not say how much backup power", "write yes, no, 8 h, 12 Ah or 12 Ah 12.8 V"
        )
    return BackupPower(battery_ah=charge_ah, battery_v=voltage_v, hours=hours)


@dataclass(frozen=True)
class BackupChoice:
    """A backup cell that says something; power : None for mains only."""

    power: BackupPower | None = None


EQUIPMENT_COLUMNS: tuple[Column, ...] = (
    Column("antenna_height", q.HEIGHT, ("height",)),
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
        note(f"antenna height {height_m:g} m", source)
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
            length = f"feed line {feed_line.length_m:g} m of {feed_line.kind}"
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
        note(f"feed line length {length_m:g} m", source)
    return kind.of(length_m)

"""What may be written about a station's equipment, and how it becomes an antenna, a feed line and the rest.

The same fields serve a row of the roster, a repeater of net.toml and the [defaults] tables. A value left out
is taken from the net's own default, then from the table of its category, and is put down in plain words.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Annotated

from pydantic import BaseModel, ConfigDict, PlainValidator

from reach.errors import Fault, InputProblem
from reach.inputs import quantities as q
from reach.inputs.columns import Column
from reach.inputs.equipment import (
    ANTENNAS,
    CONNECTORS_DB,
    FEED_LINES,
    AntennaKind,
    EquipmentDefaults,
    FeedLineKind,
)
from reach.inputs.quantities import quoted, refuse
from reach.stations import Antenna, BackupPower, FeedLine, NoiseEnvironment, Surrounding
from reach.units import dbm_to_watts

BACKUP = q.Quantity(
    what="backup power",
    example="yes, no, 8 h or 12 Ah",
    units={"h": lambda value: value, "Ah": lambda value: value},
    spellings={"hours": "h", "hour": "h"},
    internal="",
    lowest=0.0,
)

EQUIPMENT_COLUMNS: tuple[Column, ...] = (
    Column("antenna_height", q.HEIGHT, ("height",)),
    Column("power", q.POWER, ("transmit_power", "tx_power")),
    Column("antenna"),
    Column("gain", q.GAIN, ("antenna_gain",)),
    Column("feed_line", None, ("feedline", "coax")),
    Column("feed_length", q.LENGTH, ("feed_line_length", "feedline_length")),
    Column("feed_loss", q.LOSS, ("feed_line_loss", "feedline_loss")),
    Column("sensitivity", q.SENSITIVITY),
    Column("extra_loss", q.LOSS, ("surroundings",)),
    Column("local_noise", q.NOISE_OFFSET),
    Column("noise", None, ("noise_environment",)),
    Column("backup", BACKUP, ("backup_power", "battery")),
)


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


class EquipmentFields(BaseModel):
    """Equipment as written: None where nothing was. Each field is read from a `Cell`."""

    model_config = ConfigDict(frozen=True, arbitrary_types_allowed=True, extra="forbid")

    antenna_height: Annotated[
        float | None, PlainValidator(lambda c: q.parse_antenna_height_m(c.text, c.unit))
    ] = None
    power: Annotated[float | None, PlainValidator(lambda c: q.parse_power_dbm(c.text, c.unit))] = None
    antenna: Annotated[AntennaKind | None, PlainValidator(lambda c: parse_antenna(c.text))] = None
    gain: Annotated[float | None, PlainValidator(lambda c: q.parse_gain_dbi(c.text, c.unit))] = None
    feed_line: Annotated[FeedChoice | None, PlainValidator(lambda c: parse_feed_line(c.text))] = None
    feed_length: Annotated[float | None, PlainValidator(lambda c: q.parse_length_m(c.text, c.unit))] = None
    feed_loss: Annotated[float | None, PlainValidator(lambda c: q.parse_loss_db(c.text, c.unit))] = None
    sensitivity: Annotated[
        float | None, PlainValidator(lambda c: q.parse_sensitivity_dbm(c.text, c.unit))
    ] = None
    extra_loss: Annotated[ExtraLoss | None, PlainValidator(lambda c: parse_extra_loss(c.text, c.unit))] = None
    local_noise: Annotated[float | None, PlainValidator(lambda c: q.NOISE_OFFSET.parse(c.text, c.unit))] = (
        None
    )
    noise: Annotated[NoiseEnvironment | None, PlainValidator(lambda c: parse_noise(c.text))] = None
    backup: Annotated[BackupPower | None, PlainValidator(lambda c: parse_backup(c.text, c.unit))] = None


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
    assumed: tuple[str, ...]


def _antenna_of(fields: EquipmentFields) -> AntennaKind | None:
    """A stated gain overrides the kind's own figures but keeps its name."""
    if fields.gain is not None:
        return AntennaKind(fields.antenna.name if fields.antenna else "", fields.gain)
    return fields.antenna


def watts(power_dbm: float) -> str:
    """A power as people say it, e.g. '50 W' or '500 mW'."""
    power_w = float(dbm_to_watts(power_dbm))
    return f"{power_w:.3g} W" if power_w >= 1.0 else f"{power_w * 1000.0:.3g} mW"


def complete(
    given: EquipmentFields, *, own_defaults: EquipmentFields, defaults: EquipmentDefaults, who: str
) -> Equipment:
    """Equipment with every gap filled, first from the net's own defaults, then from the built-in ones.

    who : 'base', 'mobile', 'portable' or 'repeater', for the words of `assumed`.
    Raises : InputProblem when a feed line is given twice over (kind and length beside a whole loss).
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
        note(f"power {watts(power_dbm)}", source)
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
        elif defaults.feed_line:
            feed_line = _named_line(FEED_LINES[defaults.feed_line], defaults.feed_length_m)
            note(f"feed line {defaults.feed_length_m:g} m of {defaults.feed_line}", built_in)
        else:
            feed_line = FeedLine(kind="none")
            note("no feed line", built_in)

    def either(own: float | None, net: float | None, what: str) -> float:
        if own is None and net is not None:
            note(f"{what} {net:g} dB", of_net)
        return own if own is not None else (net or 0.0)

    extra_loss = given.extra_loss
    if extra_loss is None:
        extra_loss = own_defaults.extra_loss or ExtraLoss()
        if own_defaults.extra_loss is not None:
            note(f"extra loss {extra_loss.words}", of_net)

    return Equipment(
        antenna=Antenna(
            height_m=height_m, gain_dbi=kind.gain_dbi, kind=kind.name, gain_by_band_dbi=kind.gain_by_band_dbi
        ),
        transmit_power_dbm=power_dbm,
        feed_line=feed_line,
        sensitivity_dbm=sensitivity_dbm,
        extra_loss=extra_loss,
        local_noise_db=either(given.local_noise, own_defaults.local_noise, "local noise"),
        noise=given.noise or own_defaults.noise,
        backup=given.backup if "backup" in given.model_fields_set else own_defaults.backup,
        assumed=tuple(assumed),
    )


def _named_line(kind: FeedLineKind, length_m: float) -> FeedLine:
    fixed_db = CONNECTORS_DB if length_m > 0.0 else 0.0
    return FeedLine(
        kind=kind.name, length_m=length_m, k1_db=kind.k1_db, k2_db=kind.k2_db, fixed_loss_db=fixed_db
    )


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
    return _named_line(kind, length_m)

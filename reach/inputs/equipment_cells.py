"""Cells about a station's equipment: what each may say, and what is told where it says nothing known."""

from __future__ import annotations

import re
from dataclasses import dataclass

from reach.inputs import quantities as q
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.equipment import ANTENNAS, FEED_LINES, AntennaKind, FeedLineKind
from reach.inputs.quantities import quoted, refuse
from reach.lists import did_you_mean_or
from reach.stations import Aim, BackupPower, Land, NoiseEnvironment, Polarisation, Surrounding

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
_LOCATOR = re.compile(r"[A-Ra-r]{2}[0-9]{2}([A-Xa-x]{2}([0-9]{2}([A-Xa-x]{2})?)?)?")  # IARU: Maidenhead
_NO_FEED_LINE = frozenset({"none", "no", "-", "direct"})


def parse_antenna(text: str) -> AntennaKind:
    """A named kind, or a gain such as '6 dBd' as a kind without a name. Raises : InputProblem."""
    kind = _ANTENNAS_BY_WORDS.get(_words(text))
    if kind:
        return kind
    if re.match(r"\s*[-+−.0-9]", text) and "db" in text.lower():
        return AntennaKind("", q.parse_gain_dbi(text))
    raise refuse(
        f"{quoted(text)} is not an antenna known here",
        did_you_mean_or(
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
            did_you_mean_or(
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
                did_you_mean_or(
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
    locator = _LOCATOR.fullmatch(text.strip())
    return Direction(Aim.FIXED, towards=text.strip().upper() if locator else parse_call_sign(text))


def parse_polarisation(text: str) -> Polarisation:
    """'vertical' or 'horizontal'. Raises : InputProblem."""
    found = POLARISATIONS.get({"v": "vertical", "h": "horizontal"}.get(_words(text), _words(text)))
    if found is None:
        raise refuse(f"{quoted(text)} is not a polarisation", f"write one of: {', '.join(POLARISATIONS)}")
    return found


def parse_land(text: str) -> Land:
    """What stands round a station: open, houses, trees or town. Raises : InputProblem."""
    try:
        return Land(_words(text))
    except ValueError:
        names = ", ".join(land.value for land in Land)
        raise refuse(
            f"{quoted(text)} does not say what stands round the station", f"write one of: {names}"
        ) from None


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

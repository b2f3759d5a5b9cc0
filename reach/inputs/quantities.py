"""Numbers with units as people write them: "35 ft", "50 W", "6 dBd", "0.2 µV", "12 Ah".

Every function takes the text of one cell and, where the column heading names a unit, that unit. A unit in the
cell and another in the heading contradict each other and are refused. A bare number is read only where its
unit cannot be mistaken (dB of loss, MHz, Hz of a tone). Each raises InputProblem and nothing else; the
caller adds file, row and column to its faults.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable
from dataclasses import dataclass, replace

from reach.errors import Fault, InputProblem
from reach.units import DBM_OF_ONE_MICROVOLT_50_OHM, DIPOLE_GAIN_DBI, METRES_PER_FOOT, METRES_PER_MILE, figure

_NUMBER = re.compile(r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?", re.ASCII)
_COMMA_NUMBER = re.compile(r"([+-]?)([0-9]+),([0-9]+)(?![0-9.,])", re.ASCII)
_LONGEST_QUOTE = 40


def quoted(text: str) -> str:
    """The text as typed, in quotation marks, shortened when very long, control characters made visible."""
    shown = text if len(text) <= _LONGEST_QUOTE else text[: _LONGEST_QUOTE - 3] + "..."
    return '"' + "".join(c if c.isprintable() else repr(c)[1:-1] for c in shown) + '"'


def refuse(problem: str, fix: str = "") -> InputProblem:
    """The error for one faulty value, place still unknown."""
    return InputProblem(Fault(problem, fix))


def parse_number(text: str) -> float:
    """A plain finite number. A decimal comma is read where it cannot be a thousands mark.

    Raises : InputProblem for anything else, infinities and NaN included.
    """
    value, rest = _leading_number(text, what="a number", example="10.7")
    if rest:
        raise refuse(f"{quoted(text)} is not a number", "write digits only, e.g. 10.7")
    return value


def _leading_number(text: str, *, what: str, example: str) -> tuple[float, str]:
    """The number a text starts with and the rest of the text, stripped."""
    tidy = text.replace("−", "-").replace("\u00a0", " ").replace("\u202f", " ").strip()
    if comma := _COMMA_NUMBER.match(tidy):
        sign, whole, part = comma.groups()
        if len(part) == 3 and whole.lstrip("0"):
            raise refuse(
                f"{quoted(text)} can be read two ways",
                f"write {whole}{part} or {whole}.{part}, whichever it is",
            )
        tidy = f"{sign}{whole}.{part}{tidy[comma.end() :]}"
    found = _NUMBER.match(tidy)
    if not found:
        raise refuse(f"{quoted(text)} is not {what}", f"write {example}")
    value = float(found.group())
    if not math.isfinite(value):
        raise refuse(f"{quoted(text)} is too large to be {what}", f"write {example}")
    return value, tidy[found.end() :].strip()


@dataclass(frozen=True)
class Quantity:
    """One kind of quantity: its units, its bounds and how to speak of it.

    what : with its article, for messages; example : what to write instead.
    units : unit name -> conversion to the internal unit; the first is how messages show the bounds.
    spellings : other spellings -> unit name, all lower-case.
    bare_unit : unit of a number without any; empty when that has to be refused.
    lowest, highest : bounds in the internal unit, both allowed. bounds : how to say them, where that differs.
    under_heading : whether a column may hold it, so that its heading can name the unit.
    """

    what: str
    example: str
    units: dict[str, Callable[[float], float]]
    spellings: dict[str, str]
    internal: str
    bare_unit: str = ""
    lowest: float = -math.inf
    highest: float = math.inf
    bounds: str = ""
    under_heading: bool = True

    def unit_named(self, text: str) -> str | None:
        """The unit meant by a spelling, or None. Case matters only where mW and MW would differ."""
        folded = text.strip().rstrip(".").replace("μ", "µ")
        if folded in self.units:
            return folded
        lower = folded.lower()
        if lower in self.spellings:
            return self.spellings[lower]
        return next((unit for unit in self.units if unit.lower() == lower), None)

    def parse(self, text: str, heading_unit: str = "") -> float:
        """The value in the internal unit.

        heading_unit : the unit the column heading names, empty when it names none.
        Raises : InputProblem.
        """
        value, rest = _leading_number(text, what=self.what, example=self.example)
        if not rest:
            unit = heading_unit or self.bare_unit
            if not unit:
                raise refuse(f"{quoted(text)} has no unit", self._with_unit(text.strip()))
        else:
            named = self.unit_named(rest)
            if named is None:
                raise refuse(f"{quoted(text)} is not {self.what}", f"write {self.example}")
            if heading_unit and named != heading_unit:
                raise refuse(
                    f"{quoted(text)} is in {named} but the heading says {heading_unit}",
                    f"write the value in {heading_unit}, or take the unit out of the heading",
                )
            unit = named
        result = self.units[unit](value)
        if not (math.isfinite(result) and self.lowest <= result <= self.highest):
            bounds = self.bounds or f"{figure(self.lowest, 10)} to {figure(self.highest, 10)} {self.internal}"
            raise refuse(
                f"{quoted(text)} is outside {bounds}",
                f"check the value and its unit (here {unit})",
            )
        return result

    def _with_unit(self, number: str) -> str:
        if self.under_heading:
            return f"write {self.example}, or put the unit in the heading"
        *others, last = (f"{number} {unit}" for unit in self.units)
        return f"write {', '.join(others)} or {last}"


def _same(value: float) -> float:
    return value


def _times(factor: float) -> Callable[[float], float]:
    return lambda value: value * factor


def _log_of(factor: float, *, scale: float, offset: float) -> Callable[[float], float]:
    """To decibels; zero and less have none, which the bounds then refuse."""
    return lambda value: scale * math.log10(value * factor) + offset if value * factor > 0.0 else -math.inf


_METRES = {"metre": "m", "metres": "m", "meter": "m", "meters": "m"}
_FEET = {"foot": "ft", "feet": "ft", "'": "ft", "′": "ft"}

HEIGHT = Quantity(
    what="a length",
    example="35 ft or 10.7 m",
    units={"m": _same, "ft": _times(METRES_PER_FOOT)},
    spellings=_METRES | _FEET,
    internal="m",
    lowest=0.0,
    highest=1000.0,
)
ANTENNA_HEIGHT = replace(HEIGHT, lowest=0.1, bounds="0.1 to 1000 m")
LENGTH = Quantity(
    what="a length",
    example="50 ft or 15 m",
    units={"m": _same, "ft": _times(METRES_PER_FOOT)},
    spellings=_METRES | _FEET,
    internal="m",
    lowest=0.0,
    highest=1000.0,
)
DISTANCE = Quantity(
    what="a distance",
    example="5 km, 3 mi or 800 m",
    units={"km": _times(1000.0), "mi": _times(METRES_PER_MILE), "m": _same, "ft": _times(METRES_PER_FOOT)},
    spellings=_METRES | _FEET | {"kilometres": "km", "kilometers": "km", "mile": "mi", "miles": "mi"},
    internal="m",
    lowest=1.0,
    highest=500_000.0,
    bounds="1 m to 500 km",
    under_heading=False,
)
ELEVATION = Quantity(
    what="an elevation",
    example="250 m or 800 ft",
    units={"m": _same, "ft": _times(METRES_PER_FOOT)},
    spellings=_METRES | _FEET,
    internal="m",
    lowest=-500.0,
    highest=9000.0,
    under_heading=False,
)
POWER = Quantity(
    what="a power",
    example="50 W or 47 dBm",
    units={
        "W": _log_of(1.0, scale=10.0, offset=30.0),
        "mW": _log_of(1e-3, scale=10.0, offset=30.0),
        "kW": _log_of(1e3, scale=10.0, offset=30.0),
        "dBm": _same,
        "dBW": lambda value: value + 30.0,
    },
    spellings={
        "watt": "W",
        "watts": "W",
        "milliwatt": "mW",
        "milliwatts": "mW",
        "kilowatt": "kW",
        "kilowatts": "kW",
    },
    internal="dBm",
    lowest=-30.0,
    highest=70.0,
    bounds="1 microwatt to 10 kW",
)
GAIN = Quantity(
    what="an antenna gain",
    example="6 dBd or 8.15 dBi",
    units={"dBi": _same, "dBd": lambda value: value + DIPOLE_GAIN_DBI},
    spellings={},
    internal="dBi",
    lowest=-40.0,
    highest=40.0,
)
LOSS = Quantity(
    what="a loss",
    example="2.5 dB",
    units={"dB": _same},
    spellings={},
    internal="dB",
    bare_unit="dB",
    lowest=0.0,
    highest=100.0,
)
NOISE_OFFSET = Quantity(
    what="a noise level",
    example="10 dB",
    units={"dB": _same},
    spellings={},
    internal="dB",
    bare_unit="dB",
    lowest=-30.0,
    highest=60.0,
)
SENSITIVITY = Quantity(
    what="a sensitivity",
    example="0.2 uV or -121 dBm",
    units={"dBm": _same, "uV": _log_of(1.0, scale=20.0, offset=DBM_OF_ONE_MICROVOLT_50_OHM)},
    spellings={"µv": "uV", "microvolt": "uV", "microvolts": "uV"},
    internal="dBm",
    lowest=-150.0,
    highest=-60.0,
    bounds="-150 to -60 dBm (0.007 to 224 uV)",
)
_FREQUENCY_UNITS: dict[str, Callable[[float], float]] = {
    "MHz": _same,
    "kHz": _times(1e-3),
    "GHz": _times(1e3),
}
FREQUENCY = Quantity(
    what="a frequency",
    example="146.52 MHz",
    units=_FREQUENCY_UNITS,
    spellings={},
    internal="MHz",
    bare_unit="MHz",
    lowest=20.0,
    highest=3000.0,
)
OFFSET = Quantity(
    what="a frequency offset",
    example="-0.6 MHz or -600 kHz",
    units=_FREQUENCY_UNITS,
    spellings={},
    internal="MHz",
    lowest=-1000.0,
    highest=1000.0,
)
DEVIATION = Quantity(
    what="a deviation",
    example="5 kHz",
    units={"kHz": _same},
    spellings={},
    internal="kHz",
    bare_unit="kHz",
    lowest=1.0,
    highest=10.0,
)
TONE = Quantity(
    what="a tone",
    example="100.0 Hz",
    units={"Hz": _same},
    spellings={},
    internal="Hz",
    bare_unit="Hz",
    lowest=60.0,
    highest=3000.0,
)
DURATION = Quantity(
    what="a duration",
    example="8 h or 90 min",
    units={"h": _same, "min": _times(1.0 / 60.0)},
    spellings={"hour": "h", "hours": "h", "hr": "h", "hrs": "h", "minute": "min", "minutes": "min"},
    internal="h",
    lowest=0.0,
    highest=10_000.0,
)
CHARGE = Quantity(
    what="a battery capacity",
    example="12 Ah",
    units={"Ah": _same, "mAh": _times(1e-3)},
    spellings={},
    internal="Ah",
    lowest=0.0,
    highest=100_000.0,
)
VOLTAGE = Quantity(
    what="a battery voltage",
    example="12.8 V",
    units={"V": _same},
    spellings={"volt": "V", "volts": "V"},
    internal="V",
    bare_unit="V",
    lowest=1.0,
    highest=1000.0,
)


def parse_height_m(text: str, heading_unit: str = "") -> float:
    """A height above ground, m, 0 to 1000. Raises : InputProblem."""
    return HEIGHT.parse(text, heading_unit)


def parse_antenna_height_m(text: str, heading_unit: str = "") -> float:
    """Height of an antenna above the ground, m, 0.1 to 1000: none stands at 0. Raises : InputProblem."""
    return ANTENNA_HEIGHT.parse(text, heading_unit)


def parse_length_m(text: str, heading_unit: str = "") -> float:
    """Length of a feed line, m, 0 to 1000. Raises : InputProblem."""
    return LENGTH.parse(text, heading_unit)


def parse_distance_m(text: str) -> float:
    """A distance over the ground, m, 1 m to 500 km, from km, mi, m or ft. Raises : InputProblem."""
    return DISTANCE.parse(text)


def parse_elevation_m(text: str) -> float:
    """A height above sea level, m, from m or ft. Raises : InputProblem."""
    return ELEVATION.parse(text)


def parse_power_dbm(text: str, heading_unit: str = "") -> float:
    """Transmit power, dBm, from W, mW, kW, dBm or dBW. Raises : InputProblem."""
    return POWER.parse(text, heading_unit)


def parse_gain_dbi(text: str, heading_unit: str = "") -> float:
    """Antenna gain, dBi, from dBi or dBd; plain dB is refused. Raises : InputProblem."""
    value = text.strip()
    if value.lower().endswith("db"):
        raise refuse(
            f"{quoted(text)} does not say over what the gain is", "write dBi (isotropic) or dBd (dipole)"
        )
    return GAIN.parse(text, heading_unit)


def parse_loss_db(text: str, heading_unit: str = "") -> float:
    """A loss, dB, zero or more. Raises : InputProblem."""
    return LOSS.parse(text, heading_unit)


def parse_sensitivity_dbm(text: str, heading_unit: str = "") -> float:
    """Receiver level for 12 dB SINAD, dBm, from µV across 50 ohm or dBm. Raises : InputProblem."""
    return SENSITIVITY.parse(text, heading_unit)


def parse_frequency_mhz(text: str, heading_unit: str = "") -> float:
    """A frequency, MHz, 20 to 3000. Raises : InputProblem."""
    return FREQUENCY.parse(text, heading_unit)


def parse_deviation_khz(text: str, heading_unit: str = "") -> float:
    """Peak deviation of FM voice, kHz: 5 or 2.5. Raises : InputProblem for any other."""
    value = DEVIATION.parse(text, heading_unit)
    if value not in (2.5, 5.0):
        raise refuse(
            f"{quoted(text)} is not a deviation of FM voice known here",
            "write 5 for 20 or 25 kHz channels, 2.5 for 12.5 kHz channels",
        )
    return value


def parse_duration_h(text: str, heading_unit: str = "") -> float:
    """A duration, hours. Raises : InputProblem."""
    return DURATION.parse(text, heading_unit)


_YES = frozenset({"yes", "y", "true", "1", "x", "✓", "on"})
_NO = frozenset({"no", "n", "false", "0", "-", "off"})


def parse_yes_no(text: str) -> bool:
    """yes, y, true, 1, x or no, n, false, 0, -. Raises : InputProblem."""
    word = text.strip().lower()
    if word in _YES:
        return True
    if word in _NO:
        return False
    raise refuse(f"{quoted(text)} is neither yes nor no", "write yes or no")

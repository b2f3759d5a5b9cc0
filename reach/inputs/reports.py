"""Reports of who was really heard, as records, and what in one is refused whoever wrote it.

A report says how one station heard another on a channel or repeater at a time. What it may be learned from
depends on the list it comes from (`ListKind`): a missing name means nothing on a log.
"""

from __future__ import annotations

import datetime
import re
from dataclasses import dataclass
from enum import Enum

from reach.errors import Fault, InputProblem
from reach.inputs.bands import BAND_NAMES, band_name
from reach.inputs.quantities import quoted, refuse
from reach.stations import Net

EARLIEST = datetime.datetime(1990, 1, 1, tzinfo=datetime.UTC)
LOWEST_DBM, HIGHEST_DBM = -150.0, 20.0
_CHANNEL_WIDTH_MHZ = 0.0065  # a log's frequency this near a channel is that channel


class Outcome(Enum):
    """What became of a call; the value is how it is written."""

    HEARD = "yes"
    NOT_HEARD = "no"
    VOID = "void"  # only in a correction: the report it replaces was wrong, and nothing stands in for it


class ListKind(Enum):
    """What the writer's list holds; the value is how it is written."""

    COMPLETE = "complete"  # every station that called, heard or not
    TEST = "test"  # one call made to be reported, and listened for
    CONTROL = "control"  # net control's own list: nearly all that were heard
    HEARD_ONLY = "heard"  # a log: some of those heard, silence means nothing


@dataclass(frozen=True, kw_only=True)
class Report:
    """How `listener` heard `sender`.

    at : with its time zone. on : name of a channel, call sign of a repeater, or a band ('2 m') where no more
    was said. readability : 1 to 5. s_units : 0 to 9, 9 for all above. level_dbm with level_digit_db, the
    last digit given. via : who relayed it. by : who reported. replaces : number of the report it corrects.
    """

    at: datetime.datetime
    listener: str
    sender: str
    on: str
    outcome: Outcome = Outcome.HEARD
    readability: int | None = None
    s_units: int | None = None
    level_dbm: float | None = None
    level_digit_db: float = 1.0
    list_kind: ListKind = ListKind.HEARD_ONLY
    via: str = ""
    by: str = ""
    replaces: int | None = None


@dataclass(frozen=True)
class ReportRow:
    """A report and the row it stands in."""

    row: int
    report: Report


@dataclass(frozen=True)
class ReportFile:
    """What a file of reports holds: good rows, and every fault of the others."""

    name: str
    rows: tuple[ReportRow, ...]
    faults: tuple[Fault, ...] = ()
    warnings: tuple[str, ...] = ()


def checked(report: Report, *, now: datetime.datetime) -> Report:
    """The same report. Raises : InputProblem for what cannot be: heard by itself, a time to come."""
    if report.listener == report.sender:
        raise refuse(f"{report.listener} is said to hear itself", "write who was heard by whom")
    if report.at > now + datetime.timedelta(hours=26):  # a clock in any zone may be that far ahead
        raise refuse(f"{report.at:%Y-%m-%d %H:%M} is still to come", "check the date")
    if report.at < EARLIEST:
        raise refuse(f"{report.at:%Y-%m-%d} is long before any net here", "check the date")
    if report.outcome is Outcome.NOT_HEARD and (
        report.readability or report.s_units or report.level_dbm is not None
    ):
        raise refuse("not heard, and yet with a reading", "leave out the reading, or write heard yes")
    if report.outcome is Outcome.VOID and report.replaces is None:
        raise refuse('"void" takes back an earlier report', "say in replaces which, by its number")
    return report


def parse_readability(text: str) -> int:
    """'R4' or '4'. Raises : InputProblem."""
    found = re.fullmatch(r"[Rr]?\s*([1-5])", text.strip())
    if found is None:
        raise refuse(f"{quoted(text)} is not a readability", "write R1 to R5; the meter goes into s_meter")
    return int(found.group(1))


def parse_s_meter(text: str) -> int:
    """'S7', '7' or 'S9+20 dB' as 0 to 9. Raises : InputProblem."""
    found = re.fullmatch(r"[Ss]?\s*([0-9])(\s*\+\s*[0-9]{1,2}\s*(dB)?)?", text.strip(), re.IGNORECASE)
    if found is None or (found.group(2) and found.group(1) != "9"):
        raise refuse(f"{quoted(text)} is not a meter reading", "write S0 to S9, or S9+20 dB")
    return int(found.group(1))


def parse_level_dbm(text: str) -> tuple[float, float]:
    """'-97.5 dBm' as level and the step of its last digit. Raises : InputProblem off the scale."""
    found = re.fullmatch(r"([+\-−]?\d+)(?:[.,](\d+))?\s*(?:dBm)?", text.strip(), re.IGNORECASE)
    if found is None:
        raise refuse(f"{quoted(text)} is not a level", "write it in dBm, e.g. -97")
    whole, part = found.group(1).replace("−", "-"), found.group(2) or ""
    level = float(f"{whole}.{part or '0'}")
    if not LOWEST_DBM <= level <= HIGHEST_DBM:
        raise refuse(
            f"{quoted(text)} is off the scale",
            f"a level at a receiver lies from {LOWEST_DBM:g} to {HIGHEST_DBM:g} dBm; check sign and unit",
        )
    return level, float(10.0 ** -len(part))


def parse_outcome(text: str) -> Outcome:
    """'yes', 'heard', 'no', 'not heard' or 'void'. Raises : InputProblem."""
    words = " ".join(text.lower().split())
    if words in ("yes", "y", "heard", "1", "true", "x"):
        return Outcome.HEARD
    if words in ("no", "n", "not heard", "0", "false", "-"):
        return Outcome.NOT_HEARD
    if words == "void":
        return Outcome.VOID
    raise refuse(f"{quoted(text)} is neither yes nor no", "write yes or no; void only in a correction")


def parse_list_kind(text: str) -> ListKind:
    """'complete', 'test', 'control' or 'heard'. Raises : InputProblem."""
    for kind in ListKind:
        if text.strip().lower() == kind.value:
            return kind
    known = ", ".join(kind.value for kind in ListKind)
    raise refuse(f"{quoted(text)} is not a kind of list", f"write one of: {known}")


def parse_replaces(text: str) -> int:
    """Number of the report that is corrected. Raises : InputProblem."""
    if not re.fullmatch(r"[1-9][0-9]{0,8}", text.strip(), re.ASCII):
        raise refuse(f"{quoted(text)} is no report's number", "take it from the export's column number")
    return int(text)


def parse_medium(text: str, net: Net) -> str:
    """A channel of the net by name or frequency, a repeater by call sign or frequency, else a band.

    Raises : InputProblem for what is none of them.
    """
    said = text.strip()
    for channel in net.channels:
        if said.casefold() == channel.name.casefold():
            return channel.name
    for repeater in net.repeaters:
        if said.upper() == repeater.call_sign:
            return repeater.call_sign
    number = re.fullmatch(r"([0-9]+(?:\.[0-9]+)?)\s*(?:MHz)?", said, re.IGNORECASE)
    if number:
        frequency_mhz = float(number.group(1))
        if (found := medium_at(frequency_mhz, net)) or (found := band_name(frequency_mhz)):
            return found
    letters = re.sub(r"\s+", "", said.lower())
    for name in BAND_NAMES:
        if letters == name.replace(" ", ""):
            return name
    channels = ", ".join([c.name for c in net.channels] + [r.call_sign for r in net.repeaters])
    raise refuse(
        f"{quoted(text)} is no channel, repeater or band of {net.name}", f"there are {channels}; or write 2 m"
    )


def medium_at(frequency_mhz: float, net: Net) -> str:
    """The net's channel or repeater on a frequency, '' for none."""
    for channel in net.channels:
        if abs(channel.frequency_mhz - frequency_mhz) < _CHANNEL_WIDTH_MHZ:
            return channel.name
    for repeater in net.repeaters:
        if (
            min(abs(f - frequency_mhz) for f in (repeater.input_mhz, repeater.output_mhz))
            < _CHANNEL_WIDTH_MHZ
        ):
            return repeater.call_sign
    return ""


def parse_moment(date: str, time: str, zone: datetime.tzinfo) -> datetime.datetime:
    """Date 2026-11-24 and time 19:42, in the club's zone unless the time ends in Z or UTC.

    Raises : InputProblem.
    """
    day = re.fullmatch(r"(\d{4})-?(\d{2})-?(\d{2})", date.strip())
    clock = re.fullmatch(r"(\d{1,2})[:.]?(\d{2})(?:[:.]?(\d{2}))?\s*(Z|UTC)?", time.strip(), re.IGNORECASE)
    if day is None:
        raise refuse(f"{quoted(date)} is not a date", "write it as 2026-11-24")
    if clock is None:
        raise refuse(f"{quoted(time)} is not a time", "write it as 19:42, or 18:42Z for UTC")
    try:
        return datetime.datetime.combine(
            datetime.date(int(day.group(1)), int(day.group(2)), int(day.group(3))),
            datetime.time(int(clock.group(1)), int(clock.group(2)), int(clock.group(3) or 0)),
            tzinfo=datetime.UTC if clock.group(4) else zone,
        )
    except ValueError:
        raise refuse(
            f"{quoted(f'{date.strip()} {time.strip()}')} is no day or time there is", "check it"
        ) from None


def in_file(problem: InputProblem, *, file: str, row: int, column: str = "") -> tuple[Fault, ...]:
    """A problem's faults with their place in a file of reports."""
    return tuple(
        Fault(fault.problem, fault.fix, file=file, row=row, column=fault.column or column)
        for fault in problem.faults
    )

"""Stored reports as CSV that can be read in again, and as an ADIF log."""

from __future__ import annotations

import csv
import datetime
import io
import math
from collections.abc import Sequence

from reach.inputs.reports import Outcome
from reach.inputs.reports_adif import OWN_FIELD
from reach.reports.store import Stored
from reach.stations import Net

_HEADINGS = (
    "number", "date", "time", "station", "hears", "on", "heard", "readability", "s_meter", "dbm", "list",
    "via", "by", "replaces", "source", "came",
)  # fmt: skip
_ADIF_VERSION = "3.1.4"


def reports_csv(reports: Sequence[Stored]) -> str:
    """Everything ever stored, corrections beside what they replace. Times in UTC, so marked."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(_HEADINGS)
    for stored in reports:
        report = stored.report
        at = report.at.astimezone(datetime.UTC)
        places = max(0, round(-math.log10(report.level_digit_db)))
        writer.writerow(
            (
                stored.number,
                f"{at:%Y-%m-%d}",
                f"{at:%H:%M:%S}Z",
                report.listener,
                report.sender,
                report.on,
                report.outcome.value,
                "" if report.readability is None else f"R{report.readability}",
                "" if report.s_units is None else f"S{report.s_units}",
                "" if report.level_dbm is None else f"{report.level_dbm:.{places}f}",
                report.list_kind.value,
                report.via,
                report.by,
                report.replaces or "",
                stored.source,
                stored.came,
            )
        )
    return out.getvalue()


def reports_adi(reports: Sequence[Stored], *, net: Net, program_version: str) -> str:
    """The standing reports as a log: one record each, its own fields for what a log has no field for.

    A report that nothing was heard is a record with QSO_COMPLETE NIL.
    """
    lines = [
        f"Reports of {net.name}\n"
        + "".join(
            _field(name, value)
            for name, value in (
                ("ADIF_VER", _ADIF_VERSION),
                ("PROGRAMID", "REACH"),
                ("PROGRAMVERSION", program_version),
            )
        )
        + "<EOH>\n"
    ]
    frequencies = {channel.name: channel.frequency_mhz for channel in net.channels}
    frequencies |= {repeater.call_sign: repeater.output_mhz for repeater in net.repeaters}
    hubs = {repeater.call_sign for repeater in net.repeaters}
    for stored in reports:
        report = stored.report
        at = report.at.astimezone(datetime.UTC)
        fields = {
            "CALL": report.sender,
            "QSO_DATE": f"{at:%Y%m%d}",
            "TIME_ON": f"{at:%H%M%S}",
            "MODE": "FM",
            "STATION_CALLSIGN": report.listener,
            "RST_SENT": f"{report.readability}" if report.readability else "",
            "QSO_COMPLETE": "NIL" if report.outcome is Outcome.NOT_HEARD else "Y",
            "PROP_MODE": "RPT" if report.on in hubs else "",
            f"{OWN_FIELD}ON": report.on,
            f"{OWN_FIELD}LIST": report.list_kind.value,
            f"{OWN_FIELD}VIA": report.via,
            f"{OWN_FIELD}BY": report.by,
            f"{OWN_FIELD}S_METER": "" if report.s_units is None else str(report.s_units),
            f"{OWN_FIELD}DBM": "" if report.level_dbm is None else f"{report.level_dbm:g}",
        }
        if report.on in frequencies:
            fields["FREQ"] = f"{frequencies[report.on]:.6g}"
        else:
            fields["BAND"] = report.on.replace(" ", "")
        lines.append("".join(_field(name, value) for name, value in fields.items() if value) + "<EOR>\n")
    return "".join(lines)


def _field(name: str, value: str) -> str:
    return f"<{name}:{len(value)}>{value} "

"""Reports from a log in ADIF: what each contact says of who heard whom, and what it does not say.

A log proves check-ins, not silence: its reports are of the kind "heard" (`ListKind.HEARD_ONLY`). Contacts
over a satellite, a linked network or by skywave, and in other modes than FM, say nothing of the paths
planned here.
"""

from __future__ import annotations

import re
from dataclasses import replace

from reach.errors import Fault, InputProblem
from reach.inputs.adif import AdifLog, AdifRecord
from reach.inputs.bands import BAND_NAMES, band_name
from reach.inputs.call_signs import parse_call_sign
from reach.inputs.quantities import quoted, refuse
from reach.inputs.reports import (
    ListKind,
    Outcome,
    Report,
    ReportFile,
    ReportRow,
    checked,
    in_file,
    medium_at,
    parse_level_dbm,
    parse_list_kind,
    parse_medium,
    parse_moment,
)
from reach.inputs.reports_csv import Reading

OWN_FIELD = "APP_REACH_"  # our own fields, after the specification's rule for programs
_NOT_BY_THE_GROUND = frozenset(
    [
        "ECH",
        "IRL",
        "INTERNET",
        "SAT",
        "ES",
        "TR",
        "AUR",
        "AUE",
        "MS",
        "EME",
        "F2",
        "FAI",
        "TEP",
        "ION",
        "RS",
        "BS",
    ]
)


def reports_of(log: AdifLog, *, file: str, against: Reading, owner: str = "") -> ReportFile:
    """The reports in a log. owner : whose log it is, where its records do not say.

    Raises : InputProblem where no record says whose log it is and `owner` does not either.
    """
    faults = list(log.faults)
    rows: list[ReportRow] = []
    nobody = [r for r in log.records if not _logger(r, owner)]
    if nobody and len(nobody) == len(log.records):
        raise InputProblem(
            Fault("does not say whose log it is", "add --log-of CALL", file=file, row=nobody[0].row)
        )
    passed_over = 0
    for record in log.records:
        try:
            found = _reports(record, against, owner)
        except InputProblem as problem:
            faults += in_file(problem, file=file, row=record.row)
            continue
        passed_over += not found
        rows += [ReportRow(record.row, report) for report in found]
    warnings = list(log.warnings)
    if passed_over:
        warnings.append(
            f"{file}: {passed_over} contacts are not complete, or not by FM over the ground; left out."
        )
    return ReportFile(file, tuple(rows), tuple(faults), tuple(warnings))


def _logger(record: AdifRecord, owner: str) -> str:
    fields = record.fields
    return fields.get("STATION_CALLSIGN", "") or fields.get("OPERATOR", "") or owner


def _reports(record: AdifRecord, against: Reading, owner: str) -> list[Report]:
    fields = record.fields
    logger = parse_call_sign(_needed(_logger(record, owner), "STATION_CALLSIGN"))
    other = parse_call_sign(_needed(fields.get("CALL", ""), "CALL"))
    at = parse_moment(
        _needed(fields.get("QSO_DATE", ""), "QSO_DATE"), fields.get("TIME_ON", "1200") + "Z", against.zone
    )
    if fields.get("MODE", "FM").upper() != "FM" or fields.get("PROP_MODE", "").upper() in _NOT_BY_THE_GROUND:
        return []
    complete = fields.get("QSO_COMPLETE", "Y").upper()
    if complete not in ("Y", "NIL"):
        return []
    own = {key.removeprefix(OWN_FIELD): value for key, value in fields.items() if key.startswith(OWN_FIELD)}
    report = Report(
        at=at,
        listener=logger,
        sender=other,
        on=_medium(fields, own, against),
        outcome=Outcome.NOT_HEARD if complete == "NIL" else Outcome.HEARD,
        readability=_readability(fields.get("RST_SENT", "")),
        list_kind=parse_list_kind(own["LIST"]) if "LIST" in own else ListKind.HEARD_ONLY,
        via=parse_call_sign(own["VIA"]) if "VIA" in own else "",
        by=own.get("BY", logger),
    )
    if "DBM" in own:
        level_dbm, digit_db = parse_level_dbm(own["DBM"])
        report = replace(report, level_dbm=level_dbm, level_digit_db=digit_db)
    if own.get("S_METER", "").isdecimal():
        report = replace(report, s_units=int(own["S_METER"]) % 10)
    found = [report]
    if complete == "Y" and fields.get("SWL", "").upper() != "Y" and "LIST" not in own:
        back = _readability(fields.get("RST_RCVD", ""))
        found.append(replace(report, listener=other, sender=logger, readability=back))
    return [checked(one, now=against.read_at) for one in found]


def _needed(value: str, name: str) -> str:
    if not value.strip():
        raise refuse(f"{name} is missing", "add it to the record")
    return value


def _readability(rst: str) -> int | None:
    """The first figure, where it is one of 1 to 5 and the report looks like RS or RST."""
    found = re.fullmatch(r"\s*([1-5])\s*([1-9]?)\s*([1-9]?)(\+.*)?", rst)
    return int(found.group(1)) if found else None


def _medium(fields: dict[str, str], own: dict[str, str], against: Reading) -> str:
    if "ON" in own:
        return parse_medium(own["ON"], against.net)
    found = _named_medium(fields, against)
    if fields.get("PROP_MODE", "").upper() != "RPT" or found in {r.call_sign for r in against.net.repeaters}:
        return found
    hubs = [r.call_sign for r in against.net.repeaters if band_name(r.output_mhz) == _band(found, against)]
    if len(hubs) != 1:
        raise refuse("was through a repeater, but not said which", "add FREQ with the repeater's frequency")
    return hubs[0]


def _band(medium: str, against: Reading) -> str:
    """The band of a channel's name, or the band itself."""
    return next((band_name(c.frequency_mhz) for c in against.net.channels if c.name == medium), medium)


def _named_medium(fields: dict[str, str], against: Reading) -> str:
    for key in ("FREQ", "FREQ_RX"):
        if key in fields:
            if not re.fullmatch(r"\s*\d+(\.\d*)?\s*", fields[key]) or float(fields[key]) > 30_000.0:
                raise refuse(
                    f"{key} {quoted(fields[key])} is not a frequency in MHz",
                    "write it as 146.52, with a point",
                )
            frequency_mhz = float(fields[key])
            if found := medium_at(frequency_mhz, against.net) or band_name(frequency_mhz):
                return found
    letters = fields.get("BAND", "").lower().replace(" ", "")
    for name in BAND_NAMES:
        if letters == name.replace(" ", ""):
            return name
    raise refuse("names no band or frequency planned here", "add BAND or FREQ")

"""One report as a line said by a person: "QK3ABC hears QK3DEF R4 two metres", "QK3ABC not heard by QK3RA"."""

from __future__ import annotations

import re

from reach.inputs.call_signs import parse_call_sign
from reach.inputs.quantities import quoted, refuse
from reach.inputs.reports import (
    ListKind,
    Outcome,
    Report,
    checked,
    parse_level_dbm,
    parse_medium,
    parse_moment,
    parse_readability,
    parse_replaces,
    parse_s_meter,
)
from reach.inputs.reports_csv import Reading

_FORMS = (
    (re.compile(r"(\S+) (?:hears|heard) (?!by )(\S+)(.*)", re.IGNORECASE), Outcome.HEARD, True),
    (re.compile(r"(\S+) (?:does not hear|did not hear) (\S+)(.*)", re.IGNORECASE), Outcome.NOT_HEARD, True),
    (re.compile(r"(\S+) (?:is |was )?heard by (\S+)(.*)", re.IGNORECASE), Outcome.HEARD, False),
    (re.compile(r"(\S+) (?:is |was )?not heard by (\S+)(.*)", re.IGNORECASE), Outcome.NOT_HEARD, False),
)
_READINGS = (
    ("readability", re.compile(r"(?<!\S)R[1-5](?!\S)", re.IGNORECASE)),
    ("s_units", re.compile(r"(?<!\S)S[0-9](?:\s*\+\s*\d{1,2}\s*dB)?(?!\S)", re.IGNORECASE)),
    ("level", re.compile(r"(?<!\S)[-−+]?\d+(?:\.\d+)?\s*dBm(?!\S)", re.IGNORECASE)),
    ("via", re.compile(r"(?<!\S)(?:via|through) (\S+)", re.IGNORECASE)),
    ("replaces", re.compile(r"(?<!\S)replaces (\S+)", re.IGNORECASE)),
    ("date", re.compile(r"(?<!\S)\d{4}-\d{2}-\d{2}(?!\S)")),
    ("time", re.compile(r"(?<!\S)(?:at )?(\d{1,2}:\d{2}(?::\d{2})?\s*(?:Z|UTC)?)(?!\S)", re.IGNORECASE)),
)
_HOW = (
    'write "QK3ABC hears QK3DEF R4 two metres" or "QK3ABC not heard by QK3RA"; a date, a time, via QK3XYZ may'
    " follow"
)


def looks_like_a_report(text: str) -> bool:
    """Whether a text is a report said by a person rather than a file's name."""
    return any(form.fullmatch(" ".join(text.split())) for form, *_ in _FORMS)


def parse_spoken(text: str, *, against: Reading) -> Report:
    """A report as typed on one line; a call made and listened for, so that "not heard" counts too.

    What is neither reading, date, time nor via is the channel, repeater or band; without it, the repeater
    that is named as one of the two, else the net's first channel. Without date and time it is now.
    Raises : InputProblem.
    """
    tidy = " ".join(text.split()).rstrip(".")
    matched = [(form.fullmatch(tidy), outcome, listens) for form, outcome, listens in _FORMS]
    taken = next(((m, o, w) for m, o, w in matched if m is not None), None)
    if taken is None:
        raise refuse(f"{quoted(text)} is not understood", _HOW)
    found, outcome, first_listens = taken
    one, other = parse_call_sign(found.group(1)), parse_call_sign(found.group(2).rstrip(","))
    rest = found.group(3).replace(",", " ")
    said: dict[str, str] = {}
    for name, pattern in _READINGS:
        if reading := pattern.search(rest):
            said[name] = reading.group(1) if pattern.groups else reading.group(0)
            rest = f"{rest[: reading.start()]} {rest[reading.end() :]}"
    place = re.sub(r"^on\s+", "", " ".join(rest.split()), flags=re.IGNORECASE)
    hubs = {repeater.call_sign for repeater in against.net.repeaters}
    usual = next((call for call in (one, other) if call in hubs), against.net.channels[0].name)
    local = against.read_at.astimezone(against.zone)
    level_dbm, digit_db = parse_level_dbm(said["level"]) if "level" in said else (None, 1.0)
    at = parse_moment(
        said.get("date", f"{local:%Y-%m-%d}"),
        said.get("time", f"{local:%H:%M}" if "date" not in said else "12:00"),
        against.zone,
    )
    report = Report(
        at=at,
        listener=one if first_listens else other,
        sender=other if first_listens else one,
        on=parse_medium(place, against.net) if place else usual,
        outcome=outcome,
        readability=parse_readability(said["readability"]) if "readability" in said else None,
        s_units=parse_s_meter(said["s_units"]) if "s_units" in said else None,
        level_dbm=level_dbm,
        level_digit_db=digit_db,
        list_kind=ListKind.TEST,
        via=parse_call_sign(said["via"]) if "via" in said else "",
        by="by hand",
        replaces=parse_replaces(said["replaces"]) if "replaces" in said else None,
    )
    return checked(report, now=against.read_at)

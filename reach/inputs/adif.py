"""ADIF, the amateur-radio log format, read into records of fields: .adi and .adx, version 3.

Source: the ADIF specification 3.1 (adif.org); its syntax partly from memory. A field is
`<NAME:LENGTH[:TYPE]>value`; what stands between a value and the next `<` is a comment; a file that does not
begin with `<` has a header up to `<EOH>`, and one that does may have one too. The value is taken by its
length, never by looking for `<`. Lengths count characters, yet many programs count bytes: where what
follows a value cannot follow one, bytes are tried, then the next known tag.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from xml.etree import ElementTree

from reach.errors import Fault, InputProblem
from reach.inputs.columns import shown_name

_TAG = re.compile(r"<\s*(?:(EOH|EOR)|([A-Z0-9_]+)\s*:\s*(\d{1,9})(?::([^<>]*))?)\s*>", re.IGNORECASE)
_BROKEN_TAG = re.compile(r"<\s*([A-Z][A-Z0-9_]*)\s*(?::([^<>]{0,20}))?\s*>", re.IGNORECASE)
_LONGEST_VALUE = 100_000


@dataclass(frozen=True)
class AdifRecord:
    """One contact: fields by upper-case name, and the line it begins on."""

    row: int
    fields: dict[str, str]


@dataclass
class AdifLog:
    """Records and header of a log, with every fault; a bad record never stops the file."""

    header: dict[str, str] = field(default_factory=dict)
    records: list[AdifRecord] = field(default_factory=list)
    faults: list[Fault] = field(default_factory=list)
    warnings: list[str] = field(default_factory=list)


def adif_text(raw: bytes) -> str:
    """UTF-8, else Windows-1252 as old logs are."""
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace")


def parse_adi(text: str, *, file: str) -> AdifLog:
    """The records of an .adi file's text. Raises : InputProblem for a text without one field."""
    log = AdifLog()
    lines = _LineCount(text)
    at = 0
    header_over = text.lstrip("\ufeff").startswith("<") and not re.search(r"<\s*EOH\s*>", text, re.IGNORECASE)
    current: dict[str, str] = {}
    begins: int | None = None
    spoiled = False
    while (tag := _TAG.search(text, at)) is not None:
        for broken in _BROKEN_TAG.finditer(text, at, tag.start()):
            if header_over and broken.group(2) is not None:
                spoiled = True
                log.faults.append(_broken(broken, file, lines.row(broken.start())))
        mark = (tag.group(1) or "").upper()
        if mark == "EOH":
            log.header, current, header_over, begins = current, {}, True, None
            at, spoiled = tag.end(), False
            continue
        if mark == "EOR":
            if current and not spoiled:
                log.records.append(AdifRecord(lines.row(begins or 0), current))
            elif not current:
                log.warnings.append(
                    f"{file}, row {lines.row(tag.start())}: a record without fields is passed over."
                )
            current, begins, spoiled = {}, None, False
            at = tag.end()
            continue
        name = tag.group(2).upper()
        row = lines.row(tag.start())
        begins = tag.start() if begins is None else begins
        value, at, problem = _value(text, tag.end(), int(tag.group(3)))
        if problem:
            where = f"{file}, row {row}: {name} {problem}"
            log.warnings.append(where)
        if name in current:
            log.warnings.append(f"{file}, row {row}: {name} is given twice; the last one counts.")
        if value:
            current[name] = value
    for broken in _BROKEN_TAG.finditer(text, at):
        if broken.group(2) is not None:
            spoiled = True
            log.faults.append(_broken(broken, file, lines.row(broken.start())))
    if current and not spoiled and (header_over or "CALL" in current):
        log.warnings.append(f"{file}: the last record lacks its <EOR>; it is read all the same.")
        log.records.append(AdifRecord(lines.row(begins or 0), current))
    if not log.records and not log.faults:
        raise InputProblem(Fault("holds no ADIF record", "export the log anew as ADIF", file=file))
    return log


def _broken(tag: re.Match[str], file: str, row: int) -> Fault:
    return Fault(
        f"<{shown_name(tag.group(1))}:{shown_name(tag.group(2))}> has no length that can be read",
        "write the number of characters after the colon; its record was left out",
        file=file,
        row=row,
    )


def _value(text: str, start: int, length: int) -> tuple[str, int, str]:
    """Value, where it ends, and what was wrong with its length, if anything."""
    if length > _LONGEST_VALUE:
        length = _LONGEST_VALUE
    end = start + length
    if end <= len(text) and _may_follow(text, end):
        return text[start:end], end, ""
    taken = text[start:end].encode("utf-8")[:length]
    by_bytes = start + len(taken.decode("utf-8", errors="ignore"))
    if len(taken) == length and by_bytes < end and _may_follow(text, by_bytes):
        return text[start:by_bytes], by_bytes, ""
    following = _TAG.search(text, start)
    cut = following.start() if following else len(text)
    return text[start:cut].rstrip(), cut, "has a wrong length; its value is taken up to the next field."


def _may_follow(text: str, at: int) -> bool:
    return at >= len(text) or text[at] == "<" or text[at].isspace()


class _LineCount:
    """Line numbers of ever later places, counted once."""

    def __init__(self, text: str) -> None:
        self._text, self._at, self._row = text, 0, 1

    def row(self, at: int) -> int:
        """Line of a place, as an editor shows it."""
        if at < self._at:
            return self._text.count("\n", 0, at) + 1
        self._row += self._text.count("\n", self._at, at)
        self._at = at
        return self._row


def parse_adx(text: str, *, file: str) -> AdifLog:
    """The records of an .adx file's text. Raises : InputProblem for what is no such XML, or declares
    entities.
    """
    if re.search(r"<!\s*(DOCTYPE|ENTITY)", text, re.IGNORECASE):
        raise InputProblem(
            Fault("declares a document type or entities", "an ADX log needs none; export it anew", file=file)
        )
    try:
        root = ElementTree.fromstring(text)
    except ElementTree.ParseError as error:
        raise InputProblem(
            Fault("is not XML that can be read", "export the log anew", file=file, row=error.position[0])
        ) from None
    if root.tag.upper() != "ADX":
        raise InputProblem(
            Fault(f"begins with <{shown_name(root.tag)}>, not <ADX>", "export it as ADX", file=file)
        )
    log = AdifLog()
    for part in root:
        if part.tag.upper() == "HEADER":
            log.header = _xml_fields(part)
        elif part.tag.upper() == "RECORDS":
            log.records = [
                AdifRecord(number, _xml_fields(record)) for number, record in enumerate(part, start=1)
            ]
    if not log.records:
        raise InputProblem(Fault("holds no record", "export the log anew", file=file))
    return log


def _xml_fields(element: ElementTree.Element) -> dict[str, str]:
    fields = {}
    for part in element:
        name = part.get("FIELDNAME") if part.tag.upper() in ("APP", "USERDEF") else part.tag
        if name and part.text:
            fields[name.upper()] = part.text
    return fields

"""A file of reports, whatever its form: .adi and .adx are logs in ADIF, everything else is a spreadsheet's
CSV.
"""

from __future__ import annotations

import hashlib
from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.adif import adif_text, parse_adi, parse_adx
from reach.inputs.reports import ReportFile
from reach.inputs.reports_adif import reports_of
from reach.inputs.reports_csv import Reading, parse_reports
from reach.inputs.text_files import LARGEST_FILE_BYTES, decoded

_LOGS = (".adi", ".adx", ".adif")


def read_reports(path: Path, *, against: Reading, owner: str = "") -> tuple[ReportFile, str]:
    """The reports of a file, and a fingerprint of its bytes. owner : whose log it is, where it does not say.

    Raises : InputProblem where the file as a whole cannot be read.
    """
    raw = _bytes(path)
    if path.suffix.lower() in _LOGS:
        text = adif_text(raw)
        log = (parse_adx if path.suffix.lower() == ".adx" else parse_adi)(text, file=path.name)
        found = reports_of(log, file=path.name, against=against, owner=owner)
    else:
        found = parse_reports(decoded(raw, file=path.name), file=path.name, against=against)
    return found, hashlib.sha256(raw).hexdigest()


def _bytes(path: Path) -> bytes:
    try:
        if path.stat().st_size > LARGEST_FILE_BYTES:
            raise InputProblem(
                Fault("is larger than 20 MB", "check that it is the right file", file=path.name)
            )
        return path.read_bytes()
    except FileNotFoundError:
        raise InputProblem(
            Fault("there is no such file", "or write a report in quotation marks", file=str(path))
        ) from None
    except OSError as error:
        raise InputProblem(Fault(f"cannot be read ({error.strerror or error})", file=path.name)) from error

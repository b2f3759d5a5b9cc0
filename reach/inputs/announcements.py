"""announcements.txt of a net folder: what net control reads out tonight, a paragraph each."""

from __future__ import annotations

from pathlib import Path

from reach.errors import Fault, InputProblem
from reach.inputs.text_files import read_text_file

ANNOUNCEMENTS_FILE = "announcements.txt"
_MOST, _LONGEST = 50, 2_000


def read_announcements(folder: Path) -> tuple[str, ...]:
    """Paragraphs between empty lines; lines that begin with # are left out. None without the file.

    Raises : InputProblem.
    """
    place = folder / ANNOUNCEMENTS_FILE
    if not place.exists():
        return ()
    lines = [line for line in read_text_file(place).splitlines() if not line.startswith("#")]
    paragraphs = "\n".join(line.strip() for line in lines).split("\n\n")
    found = tuple(" ".join(one.split()) for one in paragraphs if one.strip())
    if len(found) > _MOST:
        raise InputProblem(
            Fault(f"has {len(found)} announcements", f"keep it to {_MOST}", file=ANNOUNCEMENTS_FILE)
        )
    if too_long := next((number for number, one in enumerate(found, 1) if len(one) > _LONGEST), 0):
        problem = f"announcement {too_long} has over {_LONGEST:,} characters"
        raise InputProblem(Fault(problem, "shorten it", file=ANNOUNCEMENTS_FILE))
    return found

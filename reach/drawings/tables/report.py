"""Reports taken in, on one screen."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.report import ReportAnswer
from reach.drawings.tables.terminal import answer, notes_text, quiet_table


def report_screen(found: ReportAnswer) -> list[RenderableType]:
    """What `reach report` says."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank]
    if found.taken:
        rows = [(one.name, str(one.added), str(one.known), str(len(one.faults))) for one in found.taken]
        columns = (("source", "left"), ("added", "right"), ("known", "right"), ("faults", "right"))
        parts += [quiet_table("Taken in", columns, rows), blank]
    if found.bands:
        kept = [(band, str(count), str(logs)) for band, count, logs in found.bands]
        headings = (("band", "left"), ("reports", "right"), ("on lists of those heard only", "right"))
        parts += [quiet_table("Stored", headings, kept), blank]
    notes = list(found.warnings)
    if any(logs for *_, logs in found.bands):
        notes.append(
            "A list that names only those heard proves check-ins, not silence: it is kept, not learned from. "
            "Note who was not heard, too."
        )
    notes.append("Next: reach trust says what the reports teach; every plan uses them.")
    return [*parts, notes_text(notes)]

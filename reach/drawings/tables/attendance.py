"""Who came to the nets, on one screen."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.attendance import AttendanceAnswer, attendance_notes
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.learning.attendance import Attending
from reach.links.sayings import chance_in_figures


def attendance_screen(found: AttendanceAnswer) -> list[RenderableType]:
    """What `reach report --who-came` says."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank]
    came = found.came
    names = found.net.names
    if came.nets:
        members = sorted(came.members, key=lambda one: (-one.expected, one.call_sign))
        rows = [_row(one, names.get(one.call_sign, ""), len(came.nets)) for one in members]
        rows += [_row(one, "visitor", len(came.nets)) for one in came.visitors]
        columns = (
            ("station", "left"), ("name", "left"), ("came", "right"), ("last", "left"),
            ("comes next", "right"), ("through", "left"),
        )  # fmt: skip
        parts += [quiet_table("Who came", columns, rows), blank]
    if found.led:
        led = [
            (one.day.isoformat(), one.control, one.by_rota if one.by_rota != one.control else "")
            for one in found.led[-8:]
        ]
        headings = (("net", "left"), ("net control", "left"), ("whose turn it was", "left"))
        parts += [quiet_table("Who led", headings, led), blank]
    return [*parts, notes_text([*found.warnings, *attendance_notes(found)])]


def _row(one: Attending, name: str, nets: int) -> tuple[str, ...]:
    through = ", ".join(f"{relay} ({count})" for relay, count in one.through.items())
    last = one.last.isoformat() if one.last else "never"
    return (one.call_sign, name, f"{len(one.came)} of {nets}", last, chance_in_figures(one.expected), through)

"""The models against measurements, on one screen."""

from __future__ import annotations

from rich.console import RenderableType

from reach.answers.measured import MeasuredAnswer
from reach.drawings.style.words import signed
from reach.drawings.tables.terminal import answer, notes_text, quiet_table


def measured_screen(found: MeasuredAnswer) -> list[RenderableType]:
    """What `reach selfcheck --measured` says."""
    rows = [
        (
            group if not number else "",
            one.model,
            str(one.paths),
            signed(one.mean_db, 1),
            f"{one.sigma_db:.1f}" if one.paths > 1 else "",
            signed(one.median_db, 1),
            f"{one.ninth_db:.1f}",
        )
        for group in found.groups
        for number, one in enumerate(found.of(group))
    ]
    columns = (
        ("paths", "left"), ("model", "left"), ("how many", "right"), ("mean, dB", "right"),
        ("spread, dB", "right"), ("median, dB", "right"), ("9 in 10 within, dB", "right"),
    )  # fmt: skip
    blank = notes_text([""])
    note = (
        "Predicted less measured loss: + means that less arrives than was measured. Measurements stray too: "
        "4 dB and more from one spot to the next."
    )
    return [
        answer(found.headline),
        blank,
        quiet_table("Error by group", columns, rows),
        blank,
        notes_text([note]),
    ]

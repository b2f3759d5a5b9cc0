"""How far plans can be trusted, on one screen: figures, foretold against heard, who disagrees."""

from __future__ import annotations

from rich.console import RenderableType
from rich.table import Table

from reach.answers.trust import BandTrust, TrustAnswer
from reach.drawings.style.words import number, signed
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.learning.trust import ReliabilityBin, Trust


def trust_screen(found: TrustAnswer) -> list[RenderableType]:
    """What `reach trust` says."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank]
    for band in found.bands:
        if band.trust is not None:
            parts += [figures_table(band.band, band.trust), blank]
            parts += [reliability_table(band.band, band.trust.after.bins), blank]
        parts += [notes_text(_said(band)), blank]
    return [
        *parts,
        notes_text([*found.warnings, "Every net was foretold from all the others, never from itself."]),
    ]


def figures_table(band: str, trust: Trust) -> Table:
    """Before and after, side by side."""
    before, after = trust.before, trust.after
    rows = [
        ("heard or not foretold rightly", f"{100 * before.right:.0f} %", f"{100 * after.right:.0f} %"),
        ("mean squared error of the chance", number(before.brier, 3), number(after.brier, 3)),
        ("log score of a report, higher is better", signed(before.log_score, 3), signed(after.log_score, 3)),
        ("error of margins, mean dB", signed(trust.error_mean_db, 1), ""),
        ("error of margins, spread dB", number(trust.error_sigma_db, 1), ""),
        ("spread the planner states, dB", number(trust.stated_sigma_db, 1), number(trust.left_sigma_db, 1)),
    ]
    return quiet_table(
        f"{band}: {trust.reports} reports of {trust.nets} evenings",
        (("figure", "left"), ("as predicted", "right"), ("with reports", "right")),
        rows,
    )


def reliability_table(band: str, bins: tuple[ReliabilityBin, ...]) -> Table:
    """Foretold and really heard, in bins of like chance."""
    rows = [
        (
            f"{100 * one.foretold:.0f} in 100",
            f"{100 * one.seen:.0f} in 100",
            f"{100 * one.low:.0f} to {100 * one.high:.0f}",
            str(one.reports),
        )
        for one in bins
    ]
    columns = (("foretold", "left"), ("heard", "right"), ("when right", "right"), ("reports", "right"))
    return quiet_table(f"{band}: foretold with reports, and heard", columns, rows)


def _said(band: BandTrust) -> list[str]:
    said = [verdict.sentence for verdict in band.verdicts]
    said += [path.sentence for path in band.odd_paths[:5]]
    if not said:
        said = [f"{band.band}: no station and no path disagrees for good."]
    return said + [f"Not learned from: reports that {reason} ({count})." for reason, count in band.left_out]

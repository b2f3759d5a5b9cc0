"""Tables behind the answers: a link's budget line by line, models side by side, who could be net control."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.console import Group
from rich.table import Table

from reach.drawings.style.words import grade_words, number, signed
from reach.drawings.tables.terminal import notes_text, quiet_table
from reach.links.budget import BudgetLine, LineKind, LinkBudget
from reach.propagation.variability import SigmaParts

if TYPE_CHECKING:
    from reach.links.path_study import ModelFigure
    from reach.plans.relays.net_control import ControlChoice

_IN_DBM = (LineKind.POWER, LineKind.SENSITIVITY)


def budget_table(budget: LinkBudget) -> Table:
    """One direction from transmit power to margin, each line with its note."""
    grade = f"{grade_words(budget.grade)}, {budget.chance_words}"
    rows = [
        *(_line(line) for line in budget.signal_lines),
        (
            "received",
            number(budget.received_dbm, 1),
            "dBm",
            f"{budget.received_uv:.2f} uV, {budget.s_reading}",
        ),
        *(_line(line) for line in budget.requirement_lines),
        ("needed for workable", number(budget.required_dbm, 1), "dBm", ""),
        ("margin over workable", signed(budget.margin_db, 1), "dB", grade),
        ("spread of the margin", number(budget.sigma_db, 1), "dB", _spread_words(budget.spread)),
    ]
    return quiet_table(
        f"{budget.rx} hears {budget.tx} on {budget.frequency_mhz:g} MHz",
        (("line", "left"), ("value", "right"), ("unit", "left"), ("from", "left")),
        rows,
    )


def _spread_words(spread: SigmaParts | None) -> str:
    if spread is None:
        return ""
    path, there, here, evening, noise = (
        f"{float(part):.1f}"
        for part in (
            spread.path_db,
            spread.tx_station_db,
            spread.rx_station_db,
            spread.time_db,
            spread.rx_noise_db,
        )
    )
    return (
        f"not known {float(spread.lasting_db):.1f} (path {path}, ends {there}/{here}, noise {noise}), "
        f"evening {evening}"
    )


def _line(line: BudgetLine) -> tuple[str, str, str, str]:
    if line.kind in _IN_DBM:
        return line.label, number(line.value_db, 1), "dBm", line.note
    return line.label, signed(line.value_db, 1), "dB", line.note


def models_table(models: Sequence[ModelFigure]) -> Table:
    """Path loss by each model, and when to trust it."""
    rows = [
        (
            f"{model.name} (the net's)" if model.is_net_choice else model.name,
            number(model.loss_db, 1),
            number(model.over_free_space_db, 1),
            f"{model.summary} Note: {model.note}" if model.note else model.summary,
        )
        for model in models
    ]
    return quiet_table(
        "Path loss by every model",
        (
            ("model", "left"),
            ("loss dB", "right"),
            ("over free space dB", "right"),
            ("when to trust it", "left"),
        ),
        rows,
    )


def control_table(
    controls: Sequence[ControlChoice], *, most: int | None = None, most_reasons: int | None = None
) -> Group:
    """Willing net controls, best first, then the reasons, a line each. most : None shows all."""
    shown = controls[:most]
    rows = [
        (
            str(choice.rank),
            choice.call_sign,
            str(choice.direct),
            f"{choice.reaches} of {choice.of}",
            "" if choice.relays_needed is None else str(choice.relays_needed),
            number(choice.expected_with_relays, 1),
            "yes" if choice.backed_up else "no",
        )
        for choice in shown
    ]
    table = quiet_table(
        "Who could be net control tonight",
        (
            ("", "right"),
            ("station", "left"),
            ("direct", "right"),
            ("reached", "left"),
            ("relays", "right"),
            ("expects", "right"),
            ("battery", "left"),
        ),
        rows,
    )
    left = len(controls) - len(shown)
    lines = [f"and {left} more; `reach control` lists all"] if left else []
    lines += ["direct: worked without a relay; expects: how many it hears on average, relays helping."]
    lines += [f"{choice.rank}. {choice.reason}" for choice in shown[:most_reasons]]
    return Group(table, notes_text(lines))

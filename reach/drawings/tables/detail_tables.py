"""Tables behind a path's answer: a link's budget line by line, models side by side."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.table import Table

from reach.drawings.style.words import grade_words, number, signed
from reach.drawings.tables.terminal import quiet_table
from reach.links.budget import BudgetLine, LineKind, LinkBudget
from reach.propagation.variability import SigmaParts

if TYPE_CHECKING:
    from reach.links.path_study import ModelFigure

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
    return f"path {path}, ends {there}/{here}, time {evening}, noise {noise}"


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

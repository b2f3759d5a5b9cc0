"""One path on the screen: the answer, both directions, their budgets, the models side by side."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.learned_path import LearnedLink
from reach.answers.path import PathAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import grade_words, microvolt_figure, number, signed, worst_point_words
from reach.drawings.tables.terminal import answer, notes_text, path_table, quiet_table
from reach.links.budget import BudgetLine, LineKind, LinkBudget
from reach.links.exposure import keep_away_words
from reach.links.network import DirectedLink
from reach.links.path_study import ModelFigure
from reach.links.sayings import chance_in_words
from reach.propagation.variability import SigmaParts

_IN_DBM = (LineKind.POWER, LineKind.SENSITIVITY)


def path_screen(found: PathAnswer) -> list[RenderableType]:
    """What `reach path` says; its tables keep their columns at any width."""
    study, blank = found.study, notes_text([""])
    worst = worst_point_words(study.clearance, start=study.left.call_sign)
    spread = study.models_spread
    agreement = [] if spread is None else [spread.sentence]
    after = ["", *agreement, *found.warnings, *found.in_short, keep_away_words(study.keep_away), SHORT]
    heard: list[RenderableType] = []
    if found.learned is not None:
        heard = [learned_table(found.learned), blank]
    side_by_side: list[RenderableType] = [blank, models_table(study.models)] if study.models else []
    return [
        answer(found.headline),
        blank,
        *heard,
        path_table(*_shown(found)),
        notes_text([worst, ""]),
        budget_table(study.there_budget),
        blank,
        budget_table(study.back_budget),
        *side_by_side,
        notes_text(after),
    ]


def _shown(found: PathAnswer) -> tuple[DirectedLink, DirectedLink]:
    """Both directions, corrected where there are reports."""
    if found.learned is None:
        return found.study.there, found.study.back
    return found.learned[0].corrected, found.learned[1].corrected


def learned_table(links: Sequence[LearnedLink]) -> Table:
    """Predicted, heard and corrected, a row a direction."""
    rows = [
        (
            f"{link.predicted.rx} hears {link.predicted.tx}",
            f"{signed(link.predicted.margin_db, 1)} ± {number(link.predicted.sigma_db, 1)}, "
            f"{chance_in_words(link.predicted.chance)}",
            link.heard_words,
            f"{signed(link.corrected.margin_db, 1)} ± {number(link.corrected.sigma_db, 1)}, "
            f"{chance_in_words(link.corrected.chance)}",
            link.parts.words,
        )
        for link in links
    ]
    return quiet_table(
        "Predicted, heard, corrected (margin over workable, dB)",
        (
            ("direction", "left"),
            ("predicted", "left"),
            ("heard", "left"),
            ("corrected", "left"),
            ("its doubt", "left"),
        ),
        rows,
    )


def budget_table(budget: LinkBudget) -> Table:
    """One direction from transmit power to margin, each line with its note."""
    grade = f"{grade_words(budget.grade)}, {budget.chance_words}"
    rows = [
        *(_line(line) for line in budget.signal_lines),
        (
            "received",
            number(budget.received_dbm, 1),
            "dBm",
            f"{microvolt_figure(budget.received_uv)} uV, {budget.s_reading}",
        ),
        *(_line(line) for line in budget.requirement_lines),
        ("needed for workable", number(budget.required_dbm, 1), "dBm", ""),
        ("margin over workable", signed(budget.margin_db, 1), "dB", grade),
        ("spread of the margin", number(budget.sigma_db, 1), "dB", _spread_words(budget.spread)),
    ]
    return quiet_table(
        f"{budget.rx} hears {budget.tx} on {budget.frequency_mhz:.8g} MHz",
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

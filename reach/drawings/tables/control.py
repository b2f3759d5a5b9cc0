"""Who could be net control, and the rota, on one screen."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rich.console import Group, RenderableType
from rich.table import Table

from reach.answers.club_rota import ClubRotaAnswer
from reach.answers.control import ControlAnswer
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import number, who_words
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.plans.relays.net_control import ControlChoice
from reach.plans.relays.rota import Turn


def control_screen(found: ControlAnswer) -> list[RenderableType]:
    """What `reach control` says."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank, control_table(found.controls), blank]
    if found.turns:
        parts += [rota_table(found.turns, found.net.names), blank]
        if found.not_in_turn:
            words = f"Willing, but not in the rota, as they hear less than {found.share:.0%} of what the best"
            parts.append(notes_text([f"{words} hears (--fit): {', '.join(found.not_in_turn)}.", ""]))
    else:
        parts.append(notes_text(["No rota: net.toml has no [schedule] table.", ""]))
    return [*parts, notes_text([*found.warnings, *found.in_short, SHORT])]


def club_rota_screen(found: ClubRotaAnswer) -> list[RenderableType]:
    """What `reach control` says of a club with several nets."""
    blank = notes_text([""])
    rows = [
        (
            one.turn.start.strftime("%a %Y-%m-%d"),
            one.turn.start.strftime("%H:%M %Z"),
            one.net,
            who_words(one.turn.control, found.net.names),
            who_words(one.turn.stand_in, found.net.names) if one.turn.stand_in else "nobody else is fit",
        )
        for one in found.turns
    ]
    columns = (
        ("date", "left"), ("start", "left"), ("net", "left"), ("net control", "left"), ("stand-in", "left"),
    )  # fmt: skip
    fit = [f"{name}: {', '.join(calls)}." for name, calls in found.fit.items()]
    ask = 'Who would hear how much on one of them: `reach control … --net "NAME"`.'
    return [
        answer(found.headline), blank, quiet_table("Rota", columns, rows), blank,
        notes_text(["Who takes turns, the best placed first:", *fit, ask, ""]),
        notes_text([*found.warnings, *found.in_short, SHORT]),
    ]  # fmt: skip


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
            f"{number(choice.expected_direct, 1)} to {number(choice.expected_at_most, 1)}",
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
            ("expects", "left"),
            ("battery", "left"),
        ),
        rows,
    )
    left = len(controls) - len(shown)
    lines = [f"and {left} more; `reach control` lists all"] if left else []
    lines += [
        "direct: worked without a relay; expects: how many it hears on average, from itself alone "
        "to with every willing relay."
    ]
    lines += [f"{choice.rank}. {choice.reason}" for choice in shown[:most_reasons]]
    return Group(table, notes_text(lines))


def rota_table(turns: Sequence[Turn], names: Mapping[str, str]) -> Table:
    """Dates and local times, who controls, who stands in. names : call sign -> name."""
    rows = [
        (
            turn.start.strftime("%a %Y-%m-%d"),
            turn.start.strftime("%H:%M %Z"),
            who_words(turn.control, names),
            who_words(turn.stand_in, names) if turn.stand_in else "nobody else is fit",
        )
        for turn in turns
    ]
    columns = (("date", "left"), ("start", "left"), ("net control", "left"), ("stand-in", "left"))
    return quiet_table("Rota", columns, rows)

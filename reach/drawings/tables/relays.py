"""A relay plan on one screen, and what a change would change."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.relays import RelaysAnswer, WhatIfAnswer, surer_sentence, weak_sentence
from reach.drawings.style.cautions import SHORT
from reach.drawings.style.words import signed
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.links.sayings import chance_in_words
from reach.plans.relays.plan import RelayedStation, RelayPlan
from reach.plans.relays.what_if import Difference


def relays_screen(found: RelaysAnswer) -> list[RenderableType]:
    """What `reach relays` says."""
    plan, blank = found.plan, notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), notes_text([found.check_ins.sentence]), blank]
    if plan.relays:
        parts += [duties_table(plan), blank, ways_table(plan), blank]
    lines = [sentence for sentence in (surer_sentence(plan), weak_sentence(plan)) if sentence]
    lines += [f"left out: {out.words}" for out in plan.left_out]
    lines += [f"by hand: {one.words}" for one in found.by_hand]
    lines += [f"one change: {words}" for words in found.one_change]
    return [*parts, notes_text([*lines, found.basis, "", *found.warnings, *found.in_short, SHORT])]


def what_if_screen(found: WhatIfAnswer) -> list[RenderableType]:
    """What `reach relays --what-if` says: only what differs."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline), blank]
    if found.differences:
        parts += [difference_table(found.differences), blank]
    return [*parts, notes_text([*found.warnings, SHORT])]


def duties_table(plan: RelayPlan) -> Table:
    """Who relays for whom, and who stands by."""
    rows = [
        (duty.call_sign, "relay", duty.answers_to, str(duty.load), ", ".join(duty.serves))
        for duty in plan.relays
    ]
    rows += [(standby.call_sign, "stand-by", "", "", ", ".join(standby.backs)) for standby in plan.standbys]
    columns = (
        ("station", "left"),
        ("part", "left"),
        ("answers to", "left"),
        ("load", "right"),
        ("for", "left"),
    )
    return quiet_table("Relays; load is the number of stations whose traffic one passes", columns, rows)


def ways_table(plan: RelayPlan) -> Table:
    """First and second way of every station that goes through a relay."""
    rows = [
        (
            station.call_sign,
            " > ".join((*station.via, plan.control)),
            chance_in_words(station.chance),
            signed(station.weakest_db),
            _otherwise(station, plan.control),
        )
        for station in plan.relayed
    ]
    columns = (
        ("station", "left"),
        ("via", "left"),
        ("chance", "left"),
        ("dB to spare", "right"),
        ("if that relay is missing", "left"),
    )
    return quiet_table(
        "Ways to net control; dB to spare is the weakest link's over the threshold", columns, rows
    )


def _otherwise(station: RelayedStation, control: str) -> str:
    if station.second:
        return " > ".join((*station.second, control))
    return f"directly, {chance_in_words(station.direct_chance)}" if station.direct_chance else "none"


def difference_table(differences: Sequence[Difference]) -> Table:
    """What a change changes, a line each."""
    rows = [(difference.aspect.value, difference.words) for difference in differences]
    return quiet_table("What changes", (("about", "left"), ("change", "left")), rows)

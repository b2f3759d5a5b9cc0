"""The backup plan as tables: cases side by side, who goes through whom, single losses, batteries, remedies."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from reach.drawings.machine import Cell, Sheet
from reach.drawings.tables import notes_text, quiet_table
from reach.drawings.words import number
from reach.links.words import chance_in_words
from reach.plans.outage import MemberWay, OutagePlan, Part
from reach.plans.single_points import LossCost, SinglePoint

_NUMBERED = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def case_letter(index: int) -> str:
    """The letter a case is called by in tables: A, B, ... Z, AA, ..."""
    return _NUMBERED[index % 26] * (index // 26 + 1)


def cases_table(plans: Sequence[OutagePlan]) -> Table:
    """One row a case: what is lost, how many are left in the net, around whom, who is cut off."""
    rows = []
    for index, plan in enumerate(plans):
        relays = ", ".join(plan.plan.relay_calls) if plan.plan else ""
        rows.append(
            (
                case_letter(index),
                plan.outage.words,
                f"{len(plan.in_net)} of {plan.total}",
                plan.hub or ("simplex" if plan.plan else "no net"),
                plan.control,
                relays,
                ", ".join(plan.cut_off),
                str(len(plan.standing.dark)) if plan.standing.dark else "",
            )
        )
    return quiet_table(
        "",
        (
            ("", "left"),
            ("lost", "left"),
            ("in the net", "left"),
            ("net on", "left"),
            ("net control", "left"),
            ("relays", "left"),
            ("cut off", "left"),
            ("no power", "right"),
        ),
        rows,
    )


def members_table(plans: Sequence[OutagePlan]) -> Table:
    """One row a member, one column a case: where it calls."""
    calls = [way.call_sign for way in plans[0].ways]
    rows = [(call, *(way_words(plan.way(call), plan) for plan in plans)) for call in calls]
    columns = [("station", "left"), *((case_letter(k), "left") for k in range(len(plans)))]
    return quiet_table("Where each calls, case by case", columns, rows)


def way_words(way: MemberWay, plan: OutagePlan) -> str:
    """A member's part in a few words: 'on QK3RB', 'via QK3GRS', 'cut off', 'control'."""
    if way.part in (Part.CUT_OFF, Part.DARK, Part.ABSENT, Part.LINKED):
        return way.part.value
    on = way.over or "simplex"
    where = f"via {' '.join(way.via)}" + (f" on {on}" if way.over else "") if way.via else f"on {on}"
    if way.part is Part.CONTROL:
        return f"control on {plan.hub or 'simplex'}"
    return f"relay {where}" if way.part is Part.RELAY else where


def relays_table(plan: OutagePlan) -> Group:
    """Relays of one case with whom they serve; cut-off members with how near they come."""
    parts: list[RenderableType] = []
    rows = []
    for way in plan.ways:
        if way.serves:
            second = sorted({w.second[0] for w in plan.ways if w.via[:1] == (way.call_sign,) and w.second})
            rows.append(
                (way.call_sign, ", ".join(way.serves), ", ".join(second), chance_in_words(way.chance))
            )
    if rows:
        columns = (
            ("relay", "left"),
            ("passes for", "left"),
            ("if it is missing", "left"),
            ("gets through", "left"),
        )
        parts.append(quiet_table("", columns, rows))
    for service in plan.services:
        if service.call_sign != plan.hub and service.works:
            parts.append(Text(f"{service.call_sign} also serves {len(service.works)}: {', '.join(service.works)}."))
    misses = [f"{way.call_sign} is cut off. {way.near_miss}".rstrip() for way in plan.ways if way.part is Part.CUT_OFF]
    return Group(*parts, *([notes_text(misses)] if misses else []))


def battery_table(plan: OutagePlan) -> Group:
    """Hours of everyone left on the air, shortest first, and what becomes of the net."""
    known = sorted(plan.batteries, key=lambda life: (life.hours is None, life.hours or 0.0, life.call_sign))
    rows = [
        (
            life.call_sign,
            life.words,
            number(life.average_current_a, 1) if life.average_current_a is not None else "",
            f"{life.transmit_share:.0%}" if life.transmit_share is not None else "",
        )
        for life in known
    ]
    columns = (("station", "left"), ("lasts", "right"), ("A", "right"), ("sends", "right"))
    table = quiet_table("How long batteries last (hours as given, or from capacity)", columns, rows)
    return Group(table, Text(endurance_sentence(plan)))


def endurance_sentence(plan: OutagePlan) -> str:
    """'15 in the net at first; 13 after 6 h; none after 86 h.'"""
    said, last = [], -1
    for step in plan.endurance:
        if step.in_net != last:
            count = str(step.in_net) if step.in_net else "no net"
            said.append(f"{count} after {step.from_h:.0f} h" if step.from_h else f"{count} in the net at first")
            last = step.in_net
    return "; ".join(said) + "." if said else ""


def points_table(points: Sequence[SinglePoint], plans: Sequence[OutagePlan]) -> Table:
    """Who matters: repeaters in use, net controls, relays, and every other loss that costs somebody the net."""
    letters = [case_letter(k) for k in range(len(plans))]
    rows = [
        (point.call_sign, *(_cost_words(cost) for cost in point.costs))
        for point in points
        if point.worst or point.has_part
    ]
    columns = [("lost", "left"), *((f"in case {letter}", "left") for letter in letters)]
    return quiet_table("What each single loss costs, after planning anew", columns, rows)


def _cost_words(cost: LossCost) -> str:
    if cost.loses is None:
        return "(off the air)"
    lost = f"-{len(cost.loses)}: {', '.join(cost.loses)}" if cost.loses else "nobody"
    return f"{cost.part}; {lost}"


def ways_sheet(plans: Sequence[OutagePlan]) -> Sheet:
    """One row a case and member."""
    rows: list[tuple[Cell, ...]] = [
        (
            plan.outage.words,
            way.call_sign,
            way.part.value,
            plan.hub or ("simplex" if plan.plan else ""),
            " ".join(way.via),
            (way.over or "simplex") if way.chance > 0.0 else "",
            " ".join(way.second),
            " ".join(way.serves),
            way.chance if way.chance > 0.0 else None,
            next((life.hours for life in plan.batteries if life.call_sign == way.call_sign), None),
        )
        for plan in plans
        for way in plan.ways
    ]
    columns = (
        "lost",
        "station",
        "part",
        "net_on",
        "via",
        "calls_on",
        "second_via",
        "passes_for",
        "chance",
        "battery_hours",
    )
    return Sheet(columns, tuple(rows))

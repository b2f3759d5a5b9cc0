"""The backup plan on one screen: cases side by side, who goes through whom, single losses, batteries."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from reach.answers.backup import BackupAnswer, battery_remedy_sentence, endurance_sentence
from reach.answers.outages import OUT, net_on
from reach.drawings.style.cautions import MASTS, SHORT
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.links.words import chance_in_words
from reach.plans.outages.backup import MemberWay, OutagePlan, Part
from reach.plans.outages.battery import BatteryLife
from reach.plans.outages.remedies import Remedy
from reach.plans.outages.single_points import LossCost, SinglePoint

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def backup_screen(found: BackupAnswer) -> list[RenderableType]:
    """What `reach backup` says."""
    plans, blank = found.plans, notes_text([""])
    parts: list[RenderableType] = [*map(answer, found.headlines), blank, cases_table(plans), blank]
    if any(found.remedies) or any(plan.advice for plan in plans):
        parts += [shortfalls_text(plans, found.remedies), blank]
    parts += [answer(found.losses_sentence), points_table(found.single_losses, plans), blank]
    parts += [members_table(plans), blank, relays_table(plans), blank]
    if found.net.repeaters:
        parts += [services_table(plans[0]), blank]
    if any(plan.batteries for plan in plans):
        helps = dict.fromkeys(
            battery_remedy_sentence(batteries) for batteries in found.batteries if batteries
        )
        parts += [batteries_table(plans), notes_text([*helps]), blank]
    return [*parts, notes_text([*found.basis, *found.warnings, *found.in_short, MASTS, SHORT])]


def case_letter(index: int) -> str:
    """The letter a case is called by in tables: A, B, ... Z, AA, ..."""
    return _LETTERS[index % 26] * (index // 26 + 1)


def cases_table(plans: Sequence[OutagePlan]) -> Table:
    """One row a case: what is lost, how many are left in the net, around whom, who is cut off."""
    rows = [
        (
            case_letter(index),
            plan.outage.words,
            f"{len(plan.in_net)} of {plan.total}",
            net_on(plan),
            plan.control,
            ", ".join(plan.plan.relay_calls) if plan.plan else "",
            ", ".join(plan.cut_off),
            str(len(plan.standing.dark)) if plan.standing.dark else "",
        )
        for index, plan in enumerate(plans)
    ]
    columns = (
        ("", "left"),
        ("lost", "left"),
        ("in the net", "left"),
        ("net on", "left"),
        ("net control", "left"),
        ("relays", "left"),
        ("cut off", "left"),
        ("no power", "right"),
    )
    return quiet_table("", columns, rows)


def members_table(plans: Sequence[OutagePlan]) -> Table:
    """One row a member, one column a case: where it calls."""
    calls = [way.call_sign for way in plans[0].ways]
    rows = [(call, *(way_words(plan.way(call), plan) for plan in plans)) for call in calls]
    columns = [("station", "left"), *((case_letter(k), "left") for k in range(len(plans)))]
    return quiet_table("Where each calls, case by case", columns, rows)


def way_words(way: MemberWay, plan: OutagePlan) -> str:
    """A member's part in a few words: 'on QK3RB', 'via QK3GRS', 'cut off', 'control on simplex'."""
    if way.part in OUT:
        return way.part.value
    if way.part is Part.CONTROL:
        return f"control on {net_on(plan)}"
    if way.via:
        where = f"via {', '.join(way.via)}" + (f" on {way.over}" if way.over else "")
    else:
        where = f"on {way.over or 'simplex'}"
    return f"relay {where}" if way.part is Part.RELAY else where


def relays_table(plans: Sequence[OutagePlan]) -> Table:
    """Every relay of every case, whom it passes traffic for, and who steps in."""
    rows = []
    for index, plan in enumerate(plans):
        for way in plan.ways:
            if way.serves:
                seconds = {w.second[0] for w in plan.ways if w.via[:1] == (way.call_sign,) and w.second}
                rows.append(
                    (
                        case_letter(index),
                        way.call_sign,
                        ", ".join(way.serves),
                        ", ".join(sorted(seconds)) or "nobody",
                        chance_in_words(way.chance),
                    )
                )
    columns = (
        ("", "left"),
        ("relay", "left"),
        ("passes for", "left"),
        ("in its place", "left"),
        ("gets through", "left"),
    )
    return quiet_table("Who relays for whom", columns, rows)


def services_table(plan: OutagePlan) -> Table:
    """Each repeater that works in this case: whom it serves both ways."""
    rows = [(s.call_sign, str(len(s.works)), ", ".join(s.works)) for s in plan.services]
    columns = (("repeater", "left"), ("serves", "right"), ("stations", "left"))
    return quiet_table(f"Which repeater serves whom ({plan.outage.words.lower()})", columns, rows)


def shortfalls_text(plans: Sequence[OutagePlan], remedies: Sequence[Sequence[Remedy]]) -> Group:
    """Why there is no net; who is cut off in each case, how near they come, what would bring them in."""
    parts: list[RenderableType] = []
    for index, (plan, found) in enumerate(zip(plans, remedies)):
        lines = [plan.advice] if plan.advice else []
        for remedy in found:
            lines += [
                f"{remedy.call_sign} is cut off. {plan.way(remedy.call_sign).near_miss}",
                f"  {remedy.words}",
            ]
        if lines:
            parts.append(Text(f"{case_letter(index)}  {plan.outage.words}", style="bold"))
            parts.append(notes_text(lines))
    return Group(*parts)


def batteries_table(plans: Sequence[OutagePlan]) -> Group:
    """Hours of everyone left on the air, a column for each case without mains; then the net hour by hour."""
    dark = [(case_letter(k), plan) for k, plan in enumerate(plans) if plan.batteries]
    lives = [{life.call_sign: life for life in plan.batteries} for _, plan in dark]
    calls = sorted({call for case in lives for call in case}, key=lambda c: (_shortest_h(c, lives), c))
    rows = [(call, *(_life_words(case.get(call)) for case in lives)) for call in calls]
    columns = [("station", "left"), *((f"case {letter}", "left") for letter, _ in dark)]
    steps = [f"{letter}  {endurance_sentence(plan)}" for letter, plan in dark]
    return Group(quiet_table("How long batteries last", columns, rows), notes_text(steps))


def _shortest_h(call: str, lives: Sequence[dict[str, BatteryLife]]) -> float:
    hours = [case[call].hours for case in lives if call in case]
    return min((h for h in hours if h is not None), default=float("inf"))


def _life_words(life: BatteryLife | None) -> str:
    if life is None:
        return ""
    if life.average_current_a is None or life.transmit_share is None:
        return life.words
    return f"{life.words} ({life.average_current_a:.1f} A, sending {life.transmit_share:.0%})"


def points_table(points: Sequence[SinglePoint], plans: Sequence[OutagePlan]) -> Table:
    """Repeaters in use, net controls, relays, and whoever else takes others along; one column a case."""
    rows = [
        (point.call_sign, *(_cost_words(cost) for cost in point.costs))
        for point in points
        if point.worst or point.has_part
    ]
    columns = [("lost", "left"), *((case_letter(k), "left") for k in range(len(plans)))]
    return quiet_table("What each single loss costs on top of a case, after planning anew", columns, rows)


def _cost_words(cost: LossCost) -> str:
    if cost.loses is None:
        return "(off the air)"
    return f"{cost.part}: " + (f"loses {', '.join(cost.loses)}" if cost.loses else "nobody")

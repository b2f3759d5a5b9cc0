"""The backup plan as tables: cases side by side, who goes through whom, single losses, batteries, rounds."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from reach.answers.sheet import Cell, Sheet
from reach.drawings.tables.terminal import notes_text, quiet_table
from reach.links.words import chance_in_words
from reach.plans.outages.backup import MemberWay, OutagePlan, Part
from reach.plans.outages.battery import BatteryLife
from reach.plans.outages.exercise import ExerciseRound
from reach.plans.outages.remedies import BatteryRemedy, Remedy
from reach.plans.outages.single_points import LossCost, SinglePoint
from reach.plans.relays.rules import RelayRules

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_OUT = (Part.CUT_OFF, Part.DARK, Part.ABSENT, Part.LINKED)


def basis_note(rules: RelayRules) -> str:
    """What the plans stand on, in a sentence or two."""
    relays = f"{rules.chain_limit} relay{'' if rules.chain_limit == 1 else 's'}"
    return (
        f"A link counts from {rules.threshold.words}; at most {relays} in a row. Everyone is taken to have a "
        "radio for every repeater and the simplex channel."
    )


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
            _net_on(plan),
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


def _net_on(plan: OutagePlan) -> str:
    return plan.hub or ("simplex" if plan.plan else "no net")


def members_table(plans: Sequence[OutagePlan]) -> Table:
    """One row a member, one column a case: where it calls."""
    calls = [way.call_sign for way in plans[0].ways]
    rows = [(call, *(way_words(plan.way(call), plan) for plan in plans)) for call in calls]
    columns = [("station", "left"), *((case_letter(k), "left") for k in range(len(plans)))]
    return quiet_table("Where each calls, case by case", columns, rows)


def way_words(way: MemberWay, plan: OutagePlan) -> str:
    """A member's part in a few words: 'on QK3RB', 'via QK3GRS', 'cut off', 'control on simplex'."""
    if way.part in _OUT:
        return way.part.value
    if way.part is Part.CONTROL:
        return f"control on {_net_on(plan)}"
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


def endurance_sentence(plan: OutagePlan) -> str:
    """'15 in the net at first; 13 after 5.9 h; no net after 86 h.' Steps that print alike are one."""
    said: dict[str, int] = {}
    for step in plan.endurance:
        when = f"{step.from_h:.0f}" if step.from_h >= 9.5 else f"{step.from_h:.1f}"
        said[when] = step.in_net
    words, last = [], -1
    for when, count in said.items():
        if count != last:
            number = str(count) if count else "no net"
            words.append(f"{number} in the net at first" if when == "0.0" else f"{number} after {when} h")
            last = count
    return "; ".join(words) + "." if words else ""


def battery_remedy_sentence(found: Sequence[BatteryRemedy]) -> str:
    """The one battery that would help most."""
    best = found[0] if found else None
    if best is None or not best.brings:
        return "One battery more would bring nobody in." if found else ""
    equal = [remedy.call_sign for remedy in found if len(remedy.brings) == len(best.brings)]
    if len(best.brings) == 1:
        return f"One battery more brings in one member, its owner: {', '.join(equal)}."
    others = f" (as many as at {', '.join(equal[1:])})" if len(equal) > 1 else ""
    return f"One battery more helps most at {best.call_sign}: {', '.join(best.brings)} come in{others}."


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


def ways_sheet(plans: Sequence[OutagePlan]) -> Sheet:
    """One row a case and member."""
    rows: list[tuple[Cell, ...]] = []
    for plan in plans:
        hours = {life.call_sign: life.hours for life in plan.batteries}
        for way in plan.ways:
            out = way.part in _OUT
            rows.append(
                (
                    plan.outage.words,
                    way.call_sign,
                    way.part.value,
                    _net_on(plan),
                    " ".join(way.via),
                    "" if out else way.over or "simplex",
                    " ".join(way.second),
                    " ".join(way.serves),
                    None if out else way.chance,
                    hours.get(way.call_sign),
                )
            )
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
        "battery_h",
    )
    return Sheet(columns, tuple(rows))


def exercise_table(rounds: Sequence[ExerciseRound]) -> Table:
    """One row a round: what happens, and how the net goes on."""
    rows = [
        (
            str(r.number),
            r.outage.words,
            f"{len(r.plan.in_net)} of {r.on_air}",
            _net_on(r.plan),
            r.plan.control,
            ", ".join(r.plan.plan.relay_calls) if r.plan.plan else "",
            ", ".join(r.plan.cut_off),
        )
        for r in rounds
    ]
    columns = (
        ("", "right"),
        ("what is lost", "left"),
        ("in the net", "left"),
        ("net on", "left"),
        ("net control", "left"),
        ("relays", "left"),
        ("cut off", "left"),
    )
    return quiet_table("'in the net': of those who are there and have power", columns, rows)


def exercise_sheet(rounds: Sequence[ExerciseRound]) -> Sheet:
    """One row a round."""
    rows: list[tuple[Cell, ...]] = [
        (
            r.number,
            "; ".join(event.value for event in r.events),
            r.outage.words,
            r.on_air,
            len(r.plan.in_net),
            _net_on(r.plan),
            r.plan.control,
            " ".join(r.plan.plan.relay_calls) if r.plan.plan else "",
            " ".join(r.plan.cut_off),
            r.plan.sentence,
        )
        for r in rounds
    ]
    columns = (
        "round",
        "events",
        "lost",
        "on_air",
        "in_net",
        "net_on",
        "net_control",
        "relays",
        "cut_off",
        "outcome",
    )
    return Sheet(columns, tuple(rows))

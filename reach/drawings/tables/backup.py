"""The backup plan on one screen: a table of cases; on request what there is to know about a case."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import RenderableType
from rich.table import Table

from reach.answers.backup import BackupAnswer, CaseChange, battery_remedy_sentence
from reach.answers.outages import OUT, Case, frequency_words, hours_words, net_on, timeline_sentences
from reach.drawings.style.cautions import MASTS, SHORT
from reach.drawings.tables.terminal import answer, notes_text, quiet_table
from reach.links.sayings import chance_in_words
from reach.lists import named
from reach.plans.outages.backup import MemberWay, OutagePlan, Part
from reach.plans.outages.battery import Duty
from reach.plans.outages.remedies import Remedy
from reach.plans.outages.single_points import LossCost, SinglePoint
from reach.plans.outages.timeline import Timeline
from reach.stations import Channel

MOST_LEFT_OUT = 2  # call signs in a cell of the first screen


def backup_screen(found: BackupAnswer) -> list[RenderableType]:
    """What `reach backup` says first: what lacks, and every case in a line."""
    blank = notes_text([""])
    parts: list[RenderableType] = [answer(found.headline)]
    if found.lacks:
        parts += [blank, *map(answer, found.lacks)]
    parts += [blank, cases_table(found.cases, found.channel)]
    if found.changes:
        parts += [blank, differences_table(found.differences, found.changes)]
    asked = any(not case.plan.willing for case in found.cases)
    legend = ["Whoever is to take a part (if it agrees) is not marked willing: ask before you need it."]
    return [*parts, notes_text(["", *(legend if asked else []), *found.next_steps, SHORT])]


def case_screen(found: BackupAnswer, case: Case) -> list[RenderableType]:
    """All there is to say of one case."""
    blank, plan = notes_text([""]), case.plan
    at = found.cases.index(case)
    parts: list[RenderableType] = [answer(f"Case {case.letter}. {plan.sentence}")]
    notes = [*found.spared_relays(case), *shortfall_lines(plan, found.remedies[at])]
    if notes:
        parts += [blank, notes_text(notes)]
    parts += [blank, members_table(plan, found.channel)]
    if any(way.serves for way in plan.ways):
        parts += [blank, relays_table(plan, found.channel)]
    if found.net.repeaters and plan.services:
        parts += [blank, services_table(plan)]
    if case.timeline is not None:
        lines = [*timeline_sentences(case.timeline, found.channel)]
        helps = battery_remedy_sentence(found.batteries[at])
        parts += [blank, notes_text([*lines, *([helps] if helps else [])])]
        if case.timeline.empty_h:
            parts += [blank, batteries_table(case.timeline)]
    costs = [(point, point.costs[at]) for point in found.single_losses]
    parts += [blank, points_table(costs)]
    return [*parts, blank]


def basis_text(found: BackupAnswer) -> RenderableType:
    """What all cases stand on."""
    return notes_text([found.losses_sentence, *found.basis, *found.warnings, *found.in_short, MASTS, SHORT])


def channel_words(plan: OutagePlan, channel: Channel) -> str:
    """Where everyone meets: a repeater or a frequency."""
    return plan.hub or (frequency_words(channel).replace(" MHz", "") if plan.control else "no net")


def cases_table(cases: Sequence[Case], channel: Channel) -> Table:
    """One row a case."""
    rows = [
        (
            case.letter,
            case.plan.outage.words,
            case.control_words,
            case.stand_in_words,
            channel_words(case.plan, channel),
            ", ".join(case.plan.plan.relay_calls) if case.plan.plan else "",
            f"{len(case.plan.in_net)} of {case.plan.total}",
            named(case.left_out, most=MOST_LEFT_OUT) if case.left_out else "",
            case.lasts_words,
        )
        for case in cases
    ]
    columns = [
        ("", "left"),
        ("case", "left"),
        ("net control", "left"),
        ("stand-in", "left"),
        ("channel", "left"),
        ("relays", "left"),
        ("reached", "left"),
        ("left out", "left"),
        ("lasts", "left"),
    ]
    # a column without anything in it only takes room
    kept = [k for k in range(len(columns)) if k < 5 or any(row[k] for row in rows)]
    return quiet_table("", [columns[k] for k in kept], [[row[k] for k in kept] for row in rows])


def differences_table(found: Sequence[CaseChange], changes: Sequence[str]) -> Table:
    """What changes do, case by case."""
    rows = [
        (
            d.letter,
            f"{d.before} before, {d.after} now",
            ", ".join(d.comes_in),
            ", ".join(d.falls_out),
            d.control_after if d.control_after != d.control_before else "",
        )
        for d in found
    ]
    columns = (
        ("", "left"),
        ("in the net", "left"),
        ("comes in", "left"),
        ("falls out", "left"),
        ("new net control", "left"),
    )
    return quiet_table(f"What it changes: {'; '.join(changes)}", columns, rows)


def members_table(plan: OutagePlan, channel: Channel) -> Table:
    """One row a member: where it calls, through whom, and who steps in."""
    rows = [
        (
            way.call_sign,
            way_words(way, plan),
            ", ".join(way.second),
            "" if way.part in OUT or way.part is Part.CONTROL else chance_in_words(way.chance),
        )
        for way in plan.ways
    ]
    columns = (
        ("station", "left"),
        ("calls", "left"),
        ("if that is missing, via", "left"),
        ("gets through", "left"),
    )
    return quiet_table("Where each calls", columns, rows)


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


def relays_table(plan: OutagePlan, channel: Channel) -> Table:
    """Every relay, whom it passes traffic for, what it listens to, and who steps in."""
    rows = []
    for way in plan.ways:
        if way.serves:
            seconds = {w.second[0] for w in plan.ways if w.via[:1] == (way.call_sign,) and w.second}
            listens = (over or frequency_words(channel) for over in plan.listens_on(way.call_sign))
            rows.append(
                (
                    way.call_sign,
                    ", ".join(way.serves),
                    " and ".join(listens),
                    ", ".join(sorted(seconds)) or "nobody",
                )
            )
    columns = (
        ("relay", "left"),
        ("passes for", "left"),
        ("listens all the time on", "left"),
        ("in its place", "left"),
    )
    return quiet_table("Who relays for whom", columns, rows)


def services_table(plan: OutagePlan) -> Table:
    """Each repeater that works in this case: whom it serves both ways."""
    rows = [(s.call_sign, str(len(s.works)), ", ".join(s.works)) for s in plan.services]
    columns = (("repeater", "left"), ("serves", "right"), ("stations", "left"))
    return quiet_table("Which repeater serves whom", columns, rows)


def shortfall_lines(plan: OutagePlan, remedies: Sequence[Remedy]) -> list[str]:
    """What would make a net, or a larger one; who is cut off, how near they are, what brings them in."""
    lines = [plan.advice] if plan.advice else []
    for remedy in remedies:
        lines += [
            f"{remedy.call_sign} is cut off. {plan.way(remedy.call_sign).near_miss}",
            f"  {remedy.words}",
        ]
    return lines


def batteries_table(line: Timeline) -> Table:
    """When each battery is empty, shortest first, and what its station did until then."""
    rows = []
    for call, hours in sorted(line.empty_h.items(), key=lambda item: (item[1], item[0])):
        did: dict[Duty, float] = {}
        for stretch in line.stretches:
            for charge in stretch.charges:
                if charge.call_sign == call:
                    did.setdefault(charge.duty, stretch.from_h)
        words = [f"{duty.value} from {hours_words(at)}" if at else duty.value for duty, at in did.items()]
        rows.append((call, hours_words(hours), ", then ".join(words)))
    columns = (("battery", "left"), ("empty after", "left"), ("as", "left"))
    return quiet_table("How long batteries last", columns, rows)


def points_table(costs: Sequence[tuple[SinglePoint, LossCost]]) -> Table:
    """Repeaters in use, net control, relays, and whoever else takes others along."""
    rows = [
        (point.call_sign, cost.part, _cost_words(cost))
        for point, cost in costs
        if cost.loses is not None
        and (cost.loses or cost.part not in ("", Part.DIRECT.value, Part.RELAYED.value, Part.CUT_OFF.value))
    ]
    columns = (("if this goes too", "left"), ("it was", "left"), ("falls out with it", "left"))
    return quiet_table("What one loss more costs, after planning anew", columns, rows)


def _cost_words(cost: LossCost) -> str:
    text = ", ".join(cost.loses) if cost.loses else "nobody"
    return text if cost.willing_after else f"{text}, if {cost.control_after} agrees to be net control"

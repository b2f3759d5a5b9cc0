"""What backup plan, go-kit and exercise have in common: cases planned, what they stand on, rows."""

from __future__ import annotations

from collections.abc import Sequence

from reach.answers.sheet import Cell, Sheet
from reach.inputs.planning import BatteryRules
from reach.plans.outages.backup import OutagePlan, Part, likely_outages, plan_outages
from reach.plans.outages.failures import NetSurvey, Outage
from reach.plans.relays.rules import RelayRules

NOTHING_LOST = Outage()
OUT = (Part.CUT_OFF, Part.DARK, Part.ABSENT, Part.LINKED)


def planned_cases(
    survey: NetSurvey, rules: RelayRules, battery: BatteryRules, *, asked: Outage = NOTHING_LOST
) -> tuple[OutagePlan, ...]:
    """The plan with nothing lost, then for the outage asked about, for the likely ones when none is."""
    outages = likely_outages(survey) if asked == NOTHING_LOST else (NOTHING_LOST, asked)
    return plan_outages(survey, outages, rules, battery)


def basis_note(rules: RelayRules) -> str:
    """What the plans stand on, in a sentence or two."""
    relays = f"{rules.chain_limit} relay{'' if rules.chain_limit == 1 else 's'}"
    return (
        f"A link counts from {rules.threshold.words}; at most {relays} in a row. Everyone is taken to have a "
        "radio for every repeater and the simplex channel."
    )


def net_on(plan: OutagePlan) -> str:
    """Where the net goes on: the call sign of a repeater, 'simplex' or 'no net'."""
    return plan.hub or ("simplex" if plan.plan else "no net")


def case_rows(plans: Sequence[OutagePlan]) -> Sheet:
    """One row a case and member."""
    rows: list[tuple[Cell, ...]] = []
    for plan in plans:
        hours = {life.call_sign: life.hours for life in plan.batteries}
        for way in plan.ways:
            out = way.part in OUT
            rows.append(
                (
                    plan.outage.words,
                    way.call_sign,
                    way.part.value,
                    net_on(plan),
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

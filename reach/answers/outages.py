"""What backup plan, go-kit and exercise have in common: cases planned, what they stand on, rows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.sheet import Cell, Sheet
from reach.errors import Fault, InputProblem
from reach.inputs.planning import BatteryRules
from reach.lists import named
from reach.machinery.parallel import each
from reach.machinery.progress import Watch, unwatched
from reach.plans.outages.backup import OutagePlan, Part, likely_outages, plan_outage
from reach.plans.outages.failures import NetSurvey, Outage
from reach.plans.outages.timeline import Stretch, Timeline, battery_timeline
from reach.plans.relays.rules import RelayRules
from reach.stations import Channel

NOTHING_LOST = Outage()
MOST_UNKNOWN = 6  # call signs named whose battery nobody knows
_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
OUT = (Part.CUT_OFF, Part.DARK, Part.ABSENT, Part.LINKED)


@dataclass(frozen=True)
class Case:
    """One thing that can happen and how the net goes on. letter : what it is called by on every page.

    timeline : with the mains lost, the net on batteries hour by hour.
    """

    letter: str
    plan: OutagePlan
    timeline: Timeline | None = None

    @property
    def control_words(self) -> str:
        """'QK3AAB', 'QK3AAB (if it agrees)', '' without a net."""
        return asked_words(self.plan.control, willing=self.plan.willing)

    @property
    def stand_in_words(self) -> str:
        """Who takes over, 'nobody' when there is none, '' without a net."""
        stand_in = self.plan.stand_in
        if stand_in is None:
            return "nobody" if self.plan.control else ""
        return asked_words(stand_in.call_sign, willing=stand_in.willing)

    @property
    def left_out(self) -> tuple[str, ...]:
        """Who is on the roster, has a radio and is not in the net, by call sign."""
        standing = self.plan.standing
        return tuple(sorted({*self.plan.cut_off, *standing.dark, *standing.absent}))

    @property
    def lasts_words(self) -> str:
        """How long the net lasts on batteries, and when it first has to change; '' with the mains on."""
        line = self.timeline
        if line is None or not self.plan.control:
            return ""
        if line.ends_h is None:
            return "not known" if line.unknown else "no end known"
        text = f"{'at most ' if line.unknown else ''}{hours_words(line.ends_h)}"
        if line.changes_h is not None and line.changes_h < line.ends_h:
            text += f", changes at {hours_words(line.changes_h)}"
        return text


def case_of(cases: Sequence[Case], letter: str) -> Case:
    """The case of that letter. Raises : InputProblem naming those there are."""
    for case in cases:
        if case.letter == letter.strip().upper():
            return case
    known = ", ".join(f"{case.letter} ({_inside(case.plan.outage.words)})" for case in cases)
    raise InputProblem(Fault(f'"{letter}" is no case of this plan', f"choose one of: {known}"))


def _inside(words: str) -> str:
    """Words to stand inside a sentence; a call sign at their start stays as it is."""
    return words if words[:2].isupper() else words[:1].lower() + words[1:]


def case_letter(index: int) -> str:
    """The letter a case is called by: A, B, ... Z, AA, ..."""
    return _LETTERS[index % 26] * (index // 26 + 1)


def asked_words(call_sign: str, *, willing: bool) -> str:
    """A call sign, with what has to be asked first."""
    return call_sign if willing or not call_sign else f"{call_sign} (if it agrees)"


def hours_words(hours: float) -> str:
    """'6.2 h' below ten hours, '24 h' above."""
    return f"{hours:.0f} h" if hours >= 9.95 else f"{hours:.1f} h"


def frequency_words(channel: Channel) -> str:
    """'146.520 MHz simplex'."""
    text = f"{channel.frequency_mhz:.4f}"
    return f"{text[:-1] if text.endswith('0') else text} MHz simplex"


def timeline_sentences(line: Timeline, channel: Channel) -> tuple[str, ...]:
    """The net on batteries, a sentence for each stretch and one for what nobody said. channel : the simplex
    one.
    """  # fmt: skip
    found = [f"At first {_net_words(line.stretches[0], channel)}."]
    for before, stretch in zip(line.stretches, line.stretches[1:]):
        gone = ", ".join(stretch.gone)
        start = (
            f"After {hours_words(stretch.from_h)} {gone} {'is' if len(stretch.gone) == 1 else 'are'} silent"
        )
        if not stretch.control:
            found.append(f"{start}: no net is left.")
        elif stretch.same_net(before):
            found.append(f"{start}; {len(stretch.in_net)} in the net.")
        else:
            move = ""
            if stretch.hub != before.hub:
                move = f"everyone changes to {stretch.hub or frequency_words(channel)}; "
            found.append(f"{start}: {move}{_net_words(stretch, channel)}.")
    if line.unknown:
        one = len(line.unknown) == 1
        found.append(
            f"Nobody said how long {', '.join(line.unknown)} {'lasts' if one else 'last'}; "
            f"{'it is' if one else 'they are'} counted as lasting: time the battery and write it down."
        )
    return tuple(found)


def change_sentences(line: Timeline | None, channel: Channel) -> tuple[str, ...]:
    """The hours at which the net moves or is led by another."""
    found = [f"Hours not known: {named(line.unknown, most=MOST_UNKNOWN)}."] if line and line.unknown else []
    for before, after in zip(line.stretches, line.stretches[1:]) if line else ():
        if before.same_net(after):
            continue
        start = f"After {hours_words(after.from_h)} ({', '.join(after.gone)} empty)"
        if not after.control:
            found.append(f"{start} no net is left.")
            continue
        moves = []
        if after.hub != before.hub:
            moves.append(f"everyone to {after.hub or frequency_words(channel)}")
        if after.control != before.control:
            moves.append(f"{after.control} leads{'' if after.willing else ' if it agrees'}")
        if after.relays != before.relays:
            moves.append(f"relays {', '.join(after.relays)}" if after.relays else "no relays")
        found.append(f"{start}: {', '.join(moves)}.")
    return tuple(found)


def _net_words(stretch: Stretch, channel: Channel) -> str:
    if not stretch.control:
        return "no net"
    control = asked_words(stretch.control, willing=stretch.willing)
    relays = f"relays {', '.join(stretch.relays)}" if stretch.relays else "no relays"
    where = stretch.hub or frequency_words(channel)
    return f"{control} is net control on {where}, {relays}, {len(stretch.in_net)} in the net"


def relay_sentences(plan: OutagePlan, channel: Channel) -> tuple[str, ...]:
    """'QK3ELM relays for QK3SLO on QK3RA, for QK3HOL on 146.520 MHz simplex; it listens on QK3RB too.'"""
    found = []
    for way in plan.ways:
        duties = plan.duties(way.call_sign)
        if not duties:
            continue
        parts = [f"for {', '.join(calls)} on {over or frequency_words(channel)}" for over, calls in duties]
        served = {over for over, _ in duties}
        own = [over for over in plan.listens_on(way.call_sign) if over not in served]
        too = f"; it listens on {own[0] or frequency_words(channel)} too" if own else ""
        found.append(f"{way.call_sign} relays {', '.join(parts)}{too}.")
    return tuple(found)


def planned_cases(
    survey: NetSurvey, rules: RelayRules, battery: BatteryRules, *, asked: Outage = NOTHING_LOST,
    watch: Watch = unwatched,
) -> tuple[Case, ...]:  # fmt: skip
    """The plan with nothing lost, then for the outage asked about, for the likely ones when none is."""
    outages = likely_outages(survey) if asked == NOTHING_LOST else (NOTHING_LOST, asked)

    def planned(outage: Outage) -> tuple[OutagePlan, Timeline | None]:
        plan = plan_outage(survey, outage, rules)
        return plan, battery_timeline(survey, plan, rules, battery)

    with watch("cases") as progress:
        found = each(planned, outages, progress)
    return tuple(Case(case_letter(number), plan, timeline) for number, (plan, timeline) in enumerate(found))


def basis_note(rules: RelayRules) -> str:
    """What the plans stand on, in a sentence or two."""
    relays = f"{rules.chain_limit} relay{'' if rules.chain_limit == 1 else 's'}"
    return (
        f"A link counts from {rules.threshold.words}; at most {relays} in a row. Who has a "
        "radio for which band is as the roster says."
    )


def net_on(plan: OutagePlan) -> str:
    """Where the net goes on: the call sign of a repeater, 'simplex' or 'no net'."""
    return plan.hub or ("simplex" if plan.plan else "no net")


def case_rows(cases: Sequence[Case]) -> Sheet:
    """One row a case and member. battery_h : when it is empty, the duties it has by then counted."""
    rows: list[tuple[Cell, ...]] = []
    for case in cases:
        plan = case.plan
        hours = case.timeline.empty_h if case.timeline else {}
        for way in plan.ways:
            out = way.part in OUT
            rows.append(
                (
                    case.letter,
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
        "case",
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

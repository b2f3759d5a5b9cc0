"""What the page "Tonight" shows, as plain records: made from the evening and its plan, drawn by scripts."""

from __future__ import annotations

import datetime
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from reach.answers.evening_plan import EveningPlan, Missing
from reach.drawings.papers.evening_words import SpokenStep
from reach.evening.acts import (
    Asked,
    CheckedIn,
    Fragment,
    HandedOver,
    Missed,
    Served,
    Waits,
    about,
    act_name,
)
from reach.evening.check_ins import CheckIn
from reach.evening.fold import Entry, Event, Sitting
from reach.links.sayings import chance_in_figures, chance_in_words
from reach.plans.relays.plan import RelayPlan
from reach.stations import Net


@dataclass(frozen=True)
class EntryView:
    """One row of the list. time : local, '19:42'; known : in the roster."""

    seq: int
    call: str
    name: str
    time: str
    at: str
    kind: str
    heard: int | None
    given: int | None
    through: str
    relay_heard: int | None
    remark: str
    traffic: bool
    emergency: bool
    waits: tuple[str, ...]
    left: bool
    known: bool


@dataclass(frozen=True)
class GroupView:
    """Check-ins of one kind, in the order they came."""

    kind: str
    heading: str
    entries: tuple[EntryView, ...]


@dataclass(frozen=True)
class StepView:
    """One step of the words to say."""

    heading: str
    words: str
    kind: str


@dataclass(frozen=True)
class FragmentView:
    """A half-heard call sign."""

    seq: int
    text: str
    time: str


@dataclass(frozen=True)
class MissingView:
    """A member still to come. asked : the relay asked last; missed : who called for it and heard nothing."""

    call: str
    name: str
    kind: str
    comes: str
    directly: str
    relay: str
    through: str
    willing: bool
    asked: str
    missed: tuple[str, ...]


@dataclass(frozen=True)
class PlanView:
    """The relay plan over those present. changes : since net control last took it, '' for none."""

    ready: bool
    words: str
    missing: tuple[MissingView, ...] = ()
    relays: tuple[tuple[str, str], ...] = ()
    left_out: tuple[str, ...] = ()
    changes: str = ""


@dataclass(frozen=True)
class TonightView:
    """Everything the page shows. seq : of the last event it knows of.

    undo, redo : what either key takes back, in words; undo_of, redo_of : the event that names.
    suggested : net control before the net is opened, with why.
    """

    seq: int
    net: str
    dark: bool
    large: bool
    plan: PlanView
    opened: bool = False
    on: str = ""
    on_words: str = ""
    control: str = ""
    control_name: str = ""
    earlier: tuple[str, ...] = ()
    closed: str = ""
    groups: tuple[GroupView, ...] = ()
    counts: str = ""
    fragments: tuple[FragmentView, ...] = ()
    steps: tuple[StepView, ...] = ()
    step: int = 0
    undo: str = ""
    redo: str = ""
    undo_of: int = 0
    redo_of: int = 0
    complete: bool = False
    clock: str = ""
    suggested: str = ""
    suggested_why: str = ""


OVER_THE_LINK = "called over the link"
NOT_READY = PlanView(False, "Working out who hears whom …")


def entry_view(
    entry: Entry, names: Mapping[str, str], members: Mapping[str, object], zone: datetime.tzinfo
) -> EntryView:
    """One check-in."""
    said = entry.said
    return EntryView(
        seq=entry.seq,
        call=entry.call,
        name=names.get(entry.call, ""),
        time=clock_words(entry.at, zone),
        at=entry.at.isoformat(),
        kind=said.kind.key,
        heard=said.heard,
        given=said.given,
        through=said.through,
        relay_heard=said.relay_heard,
        remark=said.remark,
        traffic=said.traffic,
        emergency=said.emergency,
        waits=tuple(want.value for want in entry.waits),
        left=entry.left,
        known=entry.call in members,
    )


def group_views(
    sitting: Sitting, names: Mapping[str, str], net: Net, zone: datetime.tzinfo
) -> tuple[GroupView, ...]:
    """All kinds in the order of the script, empty ones too."""
    members = {station.call_sign: station for station in net.stations}
    return tuple(
        GroupView(
            kind.key,
            kind.heading,
            tuple(entry_view(entry, names, members, zone) for entry in sitting.of_kind(kind)),
        )
        for kind in CheckIn
    )


def step_views(steps: Sequence[SpokenStep]) -> tuple[StepView, ...]:
    """The words to say."""
    return tuple(StepView(one.heading, one.words, one.kind.key if one.kind else "") for one in steps)


def plan_view(
    found: EveningPlan,
    taken: RelayPlan | None,
    sitting: Sitting,
    names: Mapping[str, str],
    kinds: Mapping[str, str],
    usual: Collection[str],
) -> PlanView:
    """taken : the plan net control works by, None for none yet. usual : who is known to come how often."""
    plan = found.plan
    missed: dict[str, list[str]] = {}
    for miss in sitting.missed:
        missed.setdefault(miss.call, []).append(miss.by)
    missing = tuple(_missing_view(one, sitting, missed, names, kinds, usual) for one in found.missing)
    if plan is None:
        return PlanView(True, found.why, missing)
    relays = tuple((duty.call_sign, ", ".join(sorted(duty.serves))) for duty in plan.relays)
    left_out = tuple(out.call_sign for out in plan.left_out)
    words = plan_words(plan)
    if plan.relays and not found.willing:
        words += " Nobody in the roster says that they relay: ask whether they will."
    return PlanView(True, words, missing, relays, left_out, _changes(taken, plan))


def plan_words(plan: RelayPlan) -> str:
    """The plan over those present in a sentence."""
    others = len(plan.direct) + len(plan.relayed) + len(plan.left_out)
    if not plan.relays and not plan.left_out:
        return (
            f"All {others} on the air are worked directly."
            if others != 1
            else "The other station on the air is worked directly."
        )
    parts = [f"{plan.worked} of {others} on the air are worked directly"]
    if plan.relays:
        relays = len(plan.relays)
        more = plan.reached - plan.worked
        parts.append(f"{more} more through {relays} relay{'s' if relays > 1 else ''}")
    if plan.left_out:
        parts.append(f"{len(plan.left_out)} by nobody")
    return ", ".join(parts) + "."


def _changes(taken: RelayPlan | None, plan: RelayPlan) -> str:
    """What the newest plan asks of relays beyond the one in use, and whom it no longer needs."""
    if taken is None or taken.control != plan.control:
        return ""
    before = {duty.call_sign: set(duty.serves) for duty in taken.relays}
    after = {duty.call_sign: set(duty.serves) for duty in plan.relays}
    parts = [
        f"{relay} for {', '.join(sorted(serves - before.get(relay, set())))}"
        for relay, serves in after.items()
        if serves - before.get(relay, set())
    ]
    freed = [relay for relay in before if relay not in after]
    if freed:
        parts.append(f"{', '.join(freed)} no longer needed")
    return "; ".join(parts)


def _missing_view(
    one: Missing,
    sitting: Sitting,
    missed: Mapping[str, Sequence[str]],
    names: Mapping[str, str],
    kinds: Mapping[str, str],
    usual: Collection[str],
) -> MissingView:
    return MissingView(
        call=one.call_sign,
        name=names.get(one.call_sign, ""),
        kind=kinds.get(one.call_sign, CheckIn.BASE.key),
        comes=f"comes {chance_in_figures(one.comes)}" if one.call_sign in usual else "",
        directly=OVER_THE_LINK if one.linked else f"directly {chance_in_words(one.directly)}",
        relay=one.relay,
        through=chance_in_words(one.through) if one.relay else "",
        willing=one.willing,
        asked=sitting.asked.get(one.call_sign, ""),
        missed=tuple(dict.fromkeys(missed.get(one.call_sign, ()))),
    )


def clock_words(at: datetime.datetime, zone: datetime.tzinfo) -> str:
    """'19:42' in the club's zone."""
    return f"{at.astimezone(zone):%H:%M}"


def deed_words(event: Event | None) -> str:
    """What an act was, for the undo key: 'QK3ABC checked in'; '' for none."""
    match event.act if event is not None else None:
        case None:
            return ""
        case CheckedIn(call=call, through=relay) if relay:
            return f"{call} checked in through {relay}"
        case Asked(call=call, relay=relay):
            return f"{relay} asked to call {call}"
        case Missed(call=call, by=by):
            return f"{call} not heard by {by}"
        case Waits(call=call, want=want):
            return f"{call}: {want.value}"
        case Served(call=call, want=want):
            return f"{call}: {want.value} done"
        case HandedOver(to=to):
            return f"handed over to {to}"
        case Fragment(text=text):
            return f"half heard {text}"
        case act:
            return f"{about(act)} {act_name(act)}".strip()

"""Rehearsals: a seeded series of random failures, each with how the net would go on."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np

from reach.errors import OutOfRange
from reach.machinery.progress import Progress
from reach.plans.outages.backup import OutagePlan, Part, plan_outage, plan_without_stand_in
from reach.plans.outages.failures import Mains, NetSurvey, Outage, Standing, standing
from reach.plans.relays.rules import RelayRules

MOST_ROUNDS = 1000
MOST_EVENTS = 3
MOST_TRIES = 60  # draws for a round that has not been; then there are no more
LARGEST_SHARE_ABSENT = 0.25  # of the members, in one event (own choice)


class Event(Enum):
    """What can happen in a round, in the order it does; `value` is how it is said."""

    REPEATER = "a repeater fails"
    MAINS = "the mains fail"
    CONTROL = "net control does not answer"
    RELAY = "a relay does not answer"
    MEMBERS = "some members are not there"


@dataclass(frozen=True)
class ExerciseRound:
    """One round: what happens, what is lost by it, and the plan. number : from 1."""

    number: int
    events: tuple[Event, ...]
    plan: OutagePlan

    @property
    def outage(self) -> Outage:
        """What is lost."""
        return self.plan.outage

    @property
    def on_air(self) -> int:
        """Members who are there and have power."""
        return len(self.plan.standing.members)


def exercise(
    survey: NetSurvey,
    rules: RelayRules,
    *,
    seed: int,
    rounds: int,
    progress: Progress | None = None,
) -> tuple[ExerciseRound, ...]:
    """The same seed and net give the same rounds; more rounds go on where fewer ended. No round comes twice,
    nor one that leaves the same as another: a small net may have fewer than were asked for.

    One to three kinds of event come together; net control or a relay that is missing is one of the plan as it
    would be after the rest. Raises : OutOfRange for rounds outside 1 to 1000, or a negative seed.
    """  # fmt: skip
    if not 1 <= rounds <= MOST_ROUNDS:
        raise OutOfRange(f"an exercise has 1 to {MOST_ROUNDS} rounds, not {rounds}.")
    if seed < 0:
        raise OutOfRange(f"a seed is zero or more, not {seed}.")
    made: list[ExerciseRound] = []
    seen = {_left(survey, Outage())}
    for number in range(1, rounds + 1):
        drawn = _new_draw(survey, rules, np.random.default_rng([seed, number]), seen)
        if drawn is None:
            break
        outage, events = drawn
        seen.add(_left(survey, outage))
        made.append(ExerciseRound(number, events, plan_outage(survey, outage, rules)))
        if progress is not None:
            progress(number, rounds)
    return tuple(made)


def _left(survey: NetSurvey, outage: Outage) -> Standing:
    """What an outage leaves, as operators meet it: a silent repeater is silent, failed or without mains."""
    return replace(standing(survey, outage), dark_repeaters=())


def _new_draw(
    survey: NetSurvey, rules: RelayRules, rng: np.random.Generator, seen: set[Standing]
) -> tuple[Outage, tuple[Event, ...]] | None:
    """What is lost in a round that has not been, and by what; None when MOST_TRIES find none."""
    for _ in range(MOST_TRIES):
        outage, events = _draw(survey, rules, rng)
        if _left(survey, outage) not in seen:
            return outage, events
    return None


def _draw(survey: NetSurvey, rules: RelayRules, rng: np.random.Generator) -> tuple[Outage, tuple[Event, ...]]:
    possible = [event for event in Event if event is not Event.REPEATER or survey.repeaters]
    count = int(rng.integers(1, min(MOST_EVENTS, len(possible)) + 1))
    drawn = sorted(rng.choice(len(possible), size=count, replace=False).tolist())
    outage, happened = Outage(), list[Event]()
    for event in (possible[k] for k in drawn):
        more = _with_event(survey, rules, outage, event, rng)
        if more != outage:
            happened.append(event)
            outage = more
    return outage, tuple(happened)


def _with_event(
    survey: NetSurvey, rules: RelayRules, outage: Outage, event: Event, rng: np.random.Generator
) -> Outage:
    """The outage with one event more; as it was where the event cannot happen any more."""
    if event is Event.MAINS:
        return replace(outage, mains=Mains.LOST)
    if event is Event.REPEATER:
        calls = sorted(network.repeater.call_sign for network in survey.repeaters)
        failing = rng.choice(len(calls), size=int(rng.integers(1, len(calls) + 1)), replace=False)
        return replace(outage, repeaters=outage.repeaters | {calls[k] for k in failing})
    if event is Event.MEMBERS:
        calls = list(standing(survey, outage).members)
        most = max(int(len(calls) * LARGEST_SHARE_ABSENT), 1)
        count = min(int(rng.integers(1, most + 1)), len(calls))
        absent = {calls[k] for k in rng.choice(len(calls), size=count, replace=False)} if calls else set()
        return replace(outage, stations=outage.stations | absent)
    missing: list[str] = []
    if event is Event.CONTROL:
        plan = plan_without_stand_in(survey, outage, rules)
        missing = [plan.control] if plan.control else []
    else:
        plan = plan_without_stand_in(survey, outage, rules)
        missing = [way.call_sign for way in plan.ways if way.serves and way.part is Part.RELAY]
    if not missing:
        return outage
    return replace(outage, stations=outage.stations | {missing[int(rng.integers(len(missing)))]})


def exercise_sentence(rounds: tuple[ExerciseRound, ...]) -> str:
    """The answer in a few sentences: how the net holds, the worst round, who is cut off most often."""
    total = len(rounds)
    whole = sum(1 for r in rounds if r.plan.plan is not None and not r.plan.cut_off)
    shares = [len(r.plan.in_net) / r.on_air if r.on_air else 0.0 for r in rounds]
    worst = min(range(total), key=lambda k: (shares[k], k))
    heading = f"{whole} of {total} rounds keep everyone who is there and has power in the net"
    if total == 1:
        return f"{rounds[0].plan.sentence}"
    text = (
        f"{heading}; on average {sum(shares) / total:.0%} of them take part; the worst is round "
        f"{rounds[worst].number} with {len(rounds[worst].plan.in_net)} of {rounds[worst].on_air}."
    )
    none = [str(r.number) for r in rounds if r.plan.plan is None]
    if none:
        text += f" No net at all in round{'s' if len(none) > 1 else ''} {', '.join(none)}."
    cut = Counter(call for r in rounds if r.plan.plan is not None for call in r.plan.cut_off)
    if cut:
        most = max(cut.values())
        calls = sorted(call for call, times in cut.items() if times == most)
        verb = "is" if len(calls) == 1 else "are"
        text += f" Cut off most often {verb} {', '.join(calls)} ({most} round{'s' if most > 1 else ''})."
    return text

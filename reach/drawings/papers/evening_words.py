"""What net control says tonight, step by step: the club's script with the names and counts of the evening."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from reach.answers.evening_closing import who_came
from reach.answers.evening_people import names_of
from reach.drawings.papers.run_sheet import repeater_words
from reach.drawings.papers.script import NetWords, RelayWords, Script
from reach.drawings.style.words import frequency_words
from reach.evening.acts import Want
from reach.evening.check_ins import CheckIn
from reach.evening.fold import Evening, Sitting
from reach.lists import named
from reach.plans.relays.plan import RelayDuty, RelayPlan
from reach.stations import Channel, Net, Repeater
from reach.units import mhz_in_words

_MANY = 40  # names listed before the rest is counted


@dataclass(frozen=True)
class SpokenStep:
    """One step. kind : the check-ins called at it, None otherwise."""

    heading: str
    words: str
    kind: CheckIn | None = None


def spoken_steps(
    script: Script,
    net: Net,
    evening: Evening,
    sitting: Sitting,
    *,
    on: Channel | Repeater,
    plan: RelayPlan | None,
    announcements: Sequence[str],
    zone: datetime.tzinfo,
) -> tuple[SpokenStep, ...]:
    """The steps of the net as it stands. zone : the club's.

    Raises : InputProblem naming the part and line of a script that does not work.
    """
    came = who_came(sitting)
    known = _known(net, evening, sitting, on=on, plan=plan, zone=zone)
    steps = [
        SpokenStep("Opening", script.say("opening", known)),
        SpokenStep("Priority", script.say("priority", known)),
    ]
    steps += [SpokenStep("Announcement", text) for text in announcements]
    lead = script.say("check_in", known)
    for kind, calls in came.by_kind:
        so_far = f"In so far: {named(calls, most=_MANY)}." if calls else ""
        steps.append(SpokenStep(kind.heading, " ".join(part for part in (lead, so_far) if part), kind))
        lead = ""  # said once
    for duty in plan.relays if plan else ():
        words = script.say("relay", {**known, **_relay(net, plan, duty)})
        steps.append(SpokenStep(f"Relay {duty.call_sign}", words))
    for want in Want:
        if waiting := [entry.call for entry in sitting.entries if want in entry.waits]:
            heading = want.value.capitalize()
            steps.append(SpokenStep(heading, f"{heading}: {named(waiting, most=_MANY)}."))
    steps.append(SpokenStep("Closing", f"Tonight we had {came.counts}. {script.say('closing', known)}"))
    return tuple(steps)


def _known(
    net: Net,
    evening: Evening,
    sitting: Sitting,
    *,
    on: Channel | Repeater,
    plan: RelayPlan | None,
    zone: datetime.tzinfo,
) -> dict[str, str]:
    came = [relay for relay, _ in who_came(sitting).relays]
    opened = sitting.opened.astimezone(zone)
    return NetWords(
        net_name=net.name,
        date=f"{opened:%a %Y-%m-%d}",
        time=f"{opened:%H:%M}",
        control=sitting.control,
        control_name=names_of(evening, net).get(sitting.control, ""),
        channel=on.name if isinstance(on, Channel) else on.call_sign,
        frequency=frequency_words(on) if isinstance(on, Channel) else repeater_words(on),
        fallback=", then ".join(mhz_in_words(c.frequency_mhz) for c in net.channels if c != on),
        relays=named(came or (list(plan.relay_calls) if plan else []), most=_MANY),
        stand_in="",
    ).filled


def _relay(net: Net, plan: RelayPlan | None, duty: RelayDuty) -> dict[str, str]:
    seconds = {one.second[:1] for one in (plan.relayed if plan else ()) if one.call_sign in duty.serves}
    same = seconds.pop() if len(seconds) == 1 else ()
    return RelayWords(
        relay=duty.call_sign,
        relay_name=net.station(duty.call_sign).name,
        members=named(sorted(duty.serves), most=_MANY),
        second=same[0] if same else "",
    ).filled

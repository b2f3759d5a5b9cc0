"""What net control says tonight, step by step: the club's script with the names and counts of the evening."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from reach.answers.evening_closing import who_came
from reach.drawings.papers.run_sheet import repeater_words
from reach.drawings.papers.script import Script, default_script
from reach.drawings.papers.spoken import spoken
from reach.drawings.style.words import frequency_words
from reach.evening.acts import Want
from reach.evening.check_ins import CheckIn
from reach.evening.fold import Evening, Sitting
from reach.inputs.net_folder import NetFolder
from reach.lists import named
from reach.plans.relays.plan import RelayPlan
from reach.stations import Channel, Net, Repeater

_MANY = 40  # names listed before the rest is counted


@dataclass(frozen=True)
class SpokenStep:
    """One step. kind : the check-ins called at it, None otherwise."""

    heading: str
    words: str
    kind: CheckIn | None = None


def spoken_steps(
    folder: NetFolder,
    evening: Evening,
    sitting: Sitting,
    *,
    on: Channel | Repeater,
    plan: RelayPlan | None,
    announcements: Sequence[str],
    time: str,
    date: str,
) -> tuple[SpokenStep, ...]:
    """The steps of the net as it stands. time, date : local, in words.

    Raises : InputProblem naming the part and line of a script that does not work.
    """
    script = Script(default_script() if folder.script is None else folder.script)
    net = folder.net
    known = _known(net, evening, sitting, on=on, plan=plan, time=time, date=date)
    steps = [
        SpokenStep("Opening", script.say("opening", known)),
        SpokenStep("Priority", script.say("priority", known)),
    ]
    steps += [SpokenStep("Announcement", text) for text in announcements]
    for number, kind in enumerate(CheckIn):
        lead = script.say("check_in", known) if not number else ""
        here = sitting.of_kind(kind)
        so_far = f"In so far: {named([e.call for e in here], most=_MANY)}." if here else ""
        steps.append(SpokenStep(kind.heading, " ".join(part for part in (lead, so_far) if part), kind))
    steps += [SpokenStep(f"Relay {duty.call_sign}", _relay_words(script, known, net, plan, duty.call_sign))
              for duty in (plan.relays if plan else ())]  # fmt: skip
    for want, heading in ((Want.CALL_BACK, "Call back"), (Want.SECOND_TURN, "Second turn")):
        waiting = [entry.call for entry in sitting.entries if want in entry.waits]
        if waiting:
            steps.append(SpokenStep(heading, f"{heading}: {named(waiting, most=_MANY)}."))
    came = who_came(sitting)
    total = f"Tonight we had {came.counts}."
    steps.append(SpokenStep("Closing", f"{total} {script.say('closing', known)}"))
    return tuple(steps)


def _known(
    net: Net,
    evening: Evening,
    sitting: Sitting,
    *,
    on: Channel | Repeater,
    plan: RelayPlan | None,
    time: str,
    date: str,
) -> Mapping[str, str]:
    names = {station.call_sign: station.name for station in net.stations} | dict(evening.names)
    others = [f"{c.frequency_mhz:.3f} MHz" for c in net.channels if c != on]
    came = [relay for relay, _ in who_came(sitting).relays]
    planned = list(plan.relay_calls) if plan else []
    return {
        "net_name": net.name,
        "date": date,
        "time": time,
        "control": sitting.control,
        "control_spoken": spoken(sitting.control),
        "control_name": names.get(sitting.control, ""),
        "channel": on.name if isinstance(on, Channel) else on.call_sign,
        "frequency": frequency_words(on) if isinstance(on, Channel) else repeater_words(on),
        "fallback": ", then ".join(others),
        "relays": named(came or planned, most=_MANY),
        "stand_in": "",
        "count": str(len(sitting.entries)),
        "counts": who_came(sitting).counts,
    }


def _relay_words(
    script: Script, known: Mapping[str, str], net: Net, plan: RelayPlan | None, relay: str
) -> str:
    duty = next(one for one in plan.relays if one.call_sign == relay) if plan else None
    serves = sorted(duty.serves) if duty else []
    relayed = {one.call_sign: one for one in plan.relayed} if plan else {}
    seconds = {relayed[call].second[0] if relayed[call].second else "" for call in serves if call in relayed}
    facts = {
        "relay": relay,
        "relay_spoken": spoken(relay),
        "relay_name": net.station(relay).name,
        "members": named(serves, most=_MANY),
        "second": seconds.pop() if len(seconds) == 1 else "",
    }
    return script.say("relay", {**known, **facts})

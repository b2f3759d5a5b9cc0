"""The sheet a net is run from: what to say, whom to call in which order, who relays, room to write.

Built once as plain text in records (`written_sheet`), then drawn as text here, as a page (`sheet_page`) and
as PDF (`sheet_pdf`). The spoken wording comes from a template that a net may replace by its own `script.txt`.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from reach.answers.repeater_net import RepeaterNet
from reach.answers.run_sheet import RunSheetAnswer
from reach.answers.share import audience_in_short
from reach.drawings.papers.script import NetWords, RelayWords, Script, default_script
from reach.drawings.papers.spoken import spoken
from reach.drawings.style.cautions import CAUTIONS
from reach.drawings.style.words import frequency_words
from reach.evening.check_ins import CheckIn, check_in_of
from reach.inputs.nets import MeetsOn
from reach.links.sayings import chance_in_figures
from reach.plans.relays.evening import Evening, EveningMember, SimplexPart
from reach.plans.relays.plan import RelayedStation, RelayPlan
from reach.stations import Repeater, Station
from reach.units import mhz_in_words
from reach.visible import visible

_PENS = {
    MeetsOn.SIMPLEX: ("I hear", "hears me", "time"),
    MeetsOn.REPEATER: ("I hear", "hears me", "time"),
    MeetsOn.BOTH: ("repeater", "simplex", "time"),
}


@dataclass(frozen=True)
class SheetRow:
    """One station to call.

    kind : how it takes part, '' for a base; note : its part in relaying; fallback : what to do when it is not
    heard; a word or two each.
    """

    call_sign: str
    spoken: str
    name: str
    kind: str
    note: str
    fallback: str = ""

    @property
    def aside(self) -> str:
        """All that stands beside the name."""
        return ", ".join(text for text in (self.kind, self.note, self.fallback) if text)


@dataclass(frozen=True)
class SheetGroup:
    """Stations called together. words : what net control says to the relay; '' for those it calls itself.

    remark : who of them net control may hear itself. is_kind : the heading says no more than the kind beside
    each row.
    """

    heading: str
    words: str
    rows: tuple[SheetRow, ...]
    is_kind: bool = False
    remark: str = ""


@dataclass(frozen=True)
class RunSheet:
    """Everything on the sheet, as plain text.

    facts : (label, text) of the head. before : what to do on the repeater before simplex, or to know after an
    outage, one sentence each, under before_title.
    pens : what is written by hand beside each station.
    foot : where the plan comes from; cautions.
    """

    title: str
    facts: tuple[tuple[str, str], ...]
    before: tuple[str, ...]
    opening: str
    priority: str
    check_in: str
    groups: tuple[SheetGroup, ...]
    closing: str
    made_from: str
    before_title: str = "Before leaving the repeater"
    cautions: tuple[str, ...] = CAUTIONS
    pens: tuple[str, str, str] = ("I hear", "hears me", "time")


def written_sheet(found: RunSheetAnswer) -> RunSheet:
    """The sheet in words.

    Raises : InputProblem naming the part and line of a script that does not work.
    """
    net, plan, channel, occasion = found.net, found.plan, found.channel, found.occasion
    others = _fallbacks(found)
    by_call = {station.call_sign: station for station in net.stations}
    control = by_call[found.control]
    hub = found.repeater_net
    place = hub.repeater if hub else found.place
    words = Script(default_script() if found.script is None else found.script)
    known = NetWords(
        net_name=net.name,
        date=occasion.date or "__________",
        time=occasion.time or "______",
        control=found.control,
        control_name=control.name,
        channel=hub.repeater.call_sign if hub else channel.name,
        frequency=repeater_words(place) if place else frequency_words(channel),
        fallback=", then ".join(others) if found.lost else _fallback_channels(found),
        relays=_listed((hub.plan if hub else plan).relay_calls),
        stand_in=occasion.stand_in,
    ).filled
    return RunSheet(
        title=net.name,
        facts=_facts(found, by_call),
        before=(
            *found.before,
            *(_before(found.evening, found.control) if found.evening else ()),
            *_then(found),
        ),
        opening=words.say("opening", known),
        priority=words.say("priority", known),
        check_in=words.say("check_in", known),
        groups=_hub_groups(found, hub, by_call, words, known)
        if hub
        else _groups(plan, by_call, words, known),
        closing=words.say("closing", known),
        made_from=f"{occasion.made_from} {audience_in_short(net)}",
        pens=_PENS[found.kind],
        before_title="What to know" if found.lost else "Before leaving the repeater",
    )


def repeater_words(repeater: Repeater) -> str:
    """Output, shift and tone as a member sets them."""
    shift_mhz = repeater.input_mhz - repeater.output_mhz
    tone = f", tone {repeater.tone_hz:.1f} Hz" if repeater.tone_hz else ", no tone"
    shift = f", shift {shift_mhz:+.3g} MHz".replace("-", "\N{MINUS SIGN}")
    return f"{repeater.call_sign} {mhz_in_words(repeater.output_mhz)}{shift}{tone}"


def _facts(found: RunSheetAnswer, by_call: Mapping[str, Station]) -> tuple[tuple[str, str], ...]:
    net, channel, occasion = found.net, found.channel, found.occasion

    def who(call: str) -> str:
        return f"{call} {by_call[call].name}".strip()

    facts = [
        ("Date", occasion.date or "____________________"),
        ("Start", occasion.time or "__________"),
        ("Net control", who(found.control)),
        ("Stand-in", who(occasion.stand_in) if occasion.stand_in else "____________________"),
    ]
    if found.lost:
        return (("Lost", found.lost), *facts, *_places_left(found))
    hub = found.repeater_net
    if hub is not None and hub.control != found.control:
        facts.insert(3, (f"On {hub.repeater.call_sign}", who(hub.control)))
    alone = found.kind is MeetsOn.REPEATER  # a net that does not go on to simplex may fall back to it
    others = [mhz_in_words(other.frequency_mhz) for other in net.channels if alone or other != channel]
    if others:
        facts.append(("Fallback", ", then ".join(others)))
    if net.away:
        facts.append(("Away", _listed(net.away)))
    shown = net.repeaters if hub is None else (hub.repeater,)
    facts += [("Repeater", repeater_words(repeater)) for repeater in shown]
    return tuple(facts)


def _places_left(found: RunSheetAnswer) -> list[tuple[str, str]]:
    """Where the net meets after an outage, where else it may, and which repeaters are off."""
    facts = [("Net on", repeater_words(found.place))] if found.place else []
    facts.append(("Simplex", f"{frequency_words(found.channel)}, no tone"))
    if others := _fallbacks(found):
        facts.append(("Fallback", ", then ".join(others)))
    for repeater in found.net.repeaters:
        if repeater != found.place:
            off = " (off)" if repeater.call_sign in found.dark else ""
            facts.append(("Repeater", repeater_words(repeater) + off))
    return facts


def _fallbacks(found: RunSheetAnswer) -> list[str]:
    """Where to meet when the channel fails, in order: from a repeater, the net's simplex channel first."""
    others = [channel for channel in found.net.channels if channel != found.channel]
    order = (found.channel, *others) if found.place else others
    return [mhz_in_words(channel.frequency_mhz) for channel in order]


def _before(evening: Evening, control: str) -> tuple[str, ...]:
    """Sentences for the minutes before the net leaves the repeater; net control need not ask itself."""
    lines = []
    needed = [call for call in evening.needed if call != control]
    if needed:
        lines.append(f"Ask to stay on for simplex: {_listed(needed)}.")
    if evening.tell_beforehand:
        lines.append(
            "Needed too, but not on the repeater; arrange it before the evening:"
            f" {_listed(evening.tell_beforehand)}."
        )
    if evening.alone:
        lines.append(f"Will be alone on simplex; close with them now: {_listed(evening.alone)}.")
    if evening.apart:
        lines.append(f"Will hear others on simplex, but not this net: {_listed(evening.apart)}.")
    return tuple(lines)


def _fallback_channels(found: RunSheetAnswer) -> str:
    """Where to meet when the net's own channel fails: the simplex channels it is not on."""
    channels = found.net.channels
    others = [other for other in channels if found.repeater_net is not None or other != found.channel]
    return ", then ".join(mhz_in_words(other.frequency_mhz) for other in others)


def _then(found: RunSheetAnswer) -> tuple[str, ...]:
    """For a sheet of both nets: who calls whom once the net has gone to simplex."""
    if found.kind is not MeetsOn.BOTH:
        return ()
    lines = [f"Then simplex {frequency_words(found.channel)}, net control {found.control}."]
    for duty in found.plan.relays:
        through = f" (itself through {duty.answers_to})" if duty.answers_to != found.plan.control else ""
        lines.append(f"{duty.call_sign}{through} calls {_listed(sorted(duty.serves))}.")
    return tuple(lines)


def _hub_groups(
    found: RunSheetAnswer,
    hub: RepeaterNet,
    by_call: Mapping[str, Station],
    words: Script,
    known: Mapping[str, str],
) -> tuple[SheetGroup, ...]:
    """Whom to call on the repeater, whom through a relay, whom only to tell."""
    plan = replace(
        hub.plan,
        direct=tuple(call for call in hub.plan.direct if call != hub.control),
        left_out=(),
        no_radio=tuple(call for call, member in by_call.items() if not member.has_radio_path),
    )
    groups = list(_groups(plan, by_call, words, known))
    simplex = f", which calls on simplex {mhz_in_words(found.channel.frequency_mhz)}"
    groups = [replace(group, heading=group.heading + simplex) if group.words else group for group in groups]
    for heading, calls in (
        (f"Only hear {hub.repeater.call_sign}: tell them, wait for no answer", hub.hears_only),
        (f"No way to {hub.repeater.call_sign} predicted: call once, listen well", hub.nothing),
    ):
        rows = tuple(
            SheetRow(call, spoken(call), by_call[call].name, check_in_of(by_call[call]).word, "")
            for call in calls
        )
        if rows:
            groups.append(SheetGroup(heading, "", rows))
    if found.kind is not MeetsOn.BOTH or found.evening is None:
        return tuple(groups)
    # without the spelling there is room for both nets on one page
    later = {member.call_sign: member for member in found.evening.members}
    return tuple(
        replace(
            group,
            rows=tuple(replace(row, spoken="", note=_with_later(row, later)) for row in group.rows),
        )
        for group in groups
    )


_LATER = {
    SimplexPart.CONTROL: "then net control",
    SimplexPart.RELAY: "then relay",
    SimplexPart.STANDBY: "then 2nd relay",
    SimplexPart.APART: "no simplex",
    SimplexPart.ALONE: "no simplex",
}


def _with_later(row: SheetRow, later: Mapping[str, EveningMember]) -> str:
    """A row's note and what the member is on simplex afterwards."""
    member = later.get(row.call_sign)
    if member is None:
        return row.note
    part = f"then via {member.via}" if member.via else _LATER.get(member.part, "")
    if (row.note, part) == ("relay", "then relay"):
        return "relay on both"
    return ", ".join(text for text in (row.note, part) if text)


def _groups(
    plan: RelayPlan, by_call: Mapping[str, Station], words: Script, known: Mapping[str, str]
) -> tuple[SheetGroup, ...]:
    order = list(CheckIn)

    def sorted_calls(calls: Sequence[str]) -> list[str]:
        return sorted(calls, key=lambda call: (order.index(check_in_of(by_call[call])), call))

    def row(call: str, note: str = "", fallback: str = "") -> SheetRow:
        kind = check_in_of(by_call[call]).word
        return SheetRow(call, spoken(call), by_call[call].name, kind, note, fallback)

    groups = []
    itself = [*plan.direct, *plan.no_radio]
    loads = {duty.call_sign: duty for duty in plan.relays}
    standbys = {standby.call_sign for standby in plan.standbys}
    ask = {weak.call_sign: f"ask {weak.ask}" for weak in plan.weak if weak.ask}
    for kind in order:
        calls = [call for call in sorted_calls(itself) if check_in_of(by_call[call]) is kind]
        rows = []
        for call in calls:
            note = "relay" if call in loads else "2nd relay" if call in standbys else ""
            if kind is CheckIn.BRIEF and not by_call[call].has_radio_path:
                note = "internet"
            rows.append(row(call, note, ask.get(call, "")))
        if rows:
            groups.append(SheetGroup(kind.heading, "", tuple(rows), is_kind=True))
    relayed = {station.call_sign: station for station in plan.relayed}
    for duty in sorted(
        plan.relays,
        key=lambda d: (len(relayed[d.call_sign].via) if d.call_sign in relayed else 0, d.call_sign),
    ):
        calls = sorted_calls(duty.serves)
        seconds = list(dict.fromkeys(relayed[call].second[0] for call in calls if relayed[call].second))
        same = len(seconds) == 1 and all(relayed[call].second for call in calls)
        facts = RelayWords(
            relay=duty.call_sign,
            relay_name=by_call[duty.call_sign].name,
            members=_listed(calls),
            second=seconds[0] if same else "",
        )
        rows = []
        for call in calls:
            note = "relay" if call in loads else "2nd relay" if call in standbys else ""
            rows.append(row(call, note, "" if same else _fallback(relayed[call])))
        through = f", itself through {duty.answers_to}" if duty.answers_to != plan.control else ""
        groups.append(
            SheetGroup(
                f"Through {duty.call_sign} {by_call[duty.call_sign].name}".rstrip() + through,
                words.say("relay", {**known, **facts.filled}),
                tuple(rows),
                remark=_heard_too([relayed[call] for call in calls]),
            )
        )
    if plan.left_out:
        calls = sorted_calls([out.call_sign for out in plan.left_out])
        groups.append(
            SheetGroup("No path predicted: call once, listen well", "", tuple(row(call) for call in calls))
        )
    return tuple(groups)


def _fallback(station: RelayedStation) -> str:
    if station.direct_chance:
        return f"direct {chance_in_figures(station.direct_chance)}"
    return f"ask {station.second[0]}" if station.second else "no other"


def _heard_too(stations: Sequence[RelayedStation]) -> str:
    """'I may hear QK1ABC directly (5 in 10), rather through QK2DEF (9 in 10).' of those worked both ways."""
    parts = [
        f"{station.call_sign} directly ({chance_in_figures(station.direct_chance)}),"
        f" rather through {station.via[0]} ({chance_in_figures(station.chance)})"
        for station in stations
        if station.direct_chance
    ]
    return f"I may hear {'; '.join(parts)}." if parts else ""


def _listed(calls: Sequence[str]) -> str:
    calls = list(calls)
    return calls[0] if len(calls) == 1 else f"{', '.join(calls[:-1])} and {calls[-1]}" if calls else ""


def sheet_text(sheet: RunSheet, *, width: int = 78) -> str:
    """The sheet for a terminal: the same words and order, brackets to tick."""
    lines = [sheet.title, "=" * min(len(sheet.title), width)]
    label = max(len(name) for name, _ in sheet.facts)
    lines += [f"{name + ':':<{label + 1}} {text}" for name, text in sheet.facts]

    def paragraph(heading: str, text: str) -> None:
        if text:
            lines.extend(["", *textwrap.wrap(f"{heading}: {text}", width)])

    for number, text in enumerate(sheet.before):
        paragraph(sheet.before_title, text) if not number else lines.extend(textwrap.wrap(text, width))
    paragraph("Opening", sheet.opening)
    paragraph("Priority", sheet.priority)
    paragraph("Check-ins", sheet.check_in)
    calls = max((len(row.call_sign) for group in sheet.groups for row in group.rows), default=0)
    says = max((len(row.spoken) for group in sheet.groups for row in group.rows), default=0)
    first, second = (word.replace("I hear", "heard") for word in sheet.pens[:2])
    for group in sheet.groups:
        lines += ["", f"-- {group.heading}"]
        for text in (group.words, group.remark):
            lines += textwrap.wrap(text, width, initial_indent="   ", subsequent_indent="   ")
        for row in group.rows:
            beside = ", ".join(text for text in (row.kind, row.note) if text)
            note = f" ({beside})" if beside else ""
            said = f"{row.spoken:<{says}}  " if says else ""
            entry = f"[ ] {row.call_sign:<{calls}}  {said}{row.name}{note}"
            fallback = f"  not heard: {row.fallback}" if row.fallback else ""
            to_fill_in = f"{first} ____  {second} ____  at ______{fallback}"
            lines += [entry.rstrip(), " " * (4 + calls + 2) + to_fill_in]
    paragraph("Closing", sheet.closing)
    lines += ["", *textwrap.wrap(sheet.made_from, width), *textwrap.wrap(" ".join(sheet.cautions), width)]
    return "\n".join(map(visible, lines)) + "\n"

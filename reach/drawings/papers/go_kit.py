"""The sheet each operator takes along: frequencies, whom to call in which case, whom one hears, cautions.

Built once as plain text in records (`kit_page`), then drawn as text (`go_kit_text`), as pages of HTML
(`go_kit_page`) and as PDF (`go_kit_pdf`), one page an operator.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from reach.answers.kit import KitAnswer
from reach.answers.outages import Case, asked_words, hours_words
from reach.answers.share import audience_in_short
from reach.drawings.papers.spoken import spoken
from reach.drawings.style.cautions import AGENCY, EMERGENCY, EXPOSURE, MASTS, PROMISE
from reach.drawings.style.words import height_words
from reach.inputs.bands import works_on
from reach.inputs.planning import BatteryRules
from reach.links.grade import grade_of
from reach.links.network import RepeaterMember
from reach.links.outcome import RepeaterOutcome, repeater_outcome
from reach.links.pattern import aim_words
from reach.links.sayings import chance_in_words
from reach.lists import named
from reach.plans.outages.backup import MemberWay, OutagePlan, Part
from reach.plans.outages.battery import Duty, battery_life
from reach.plans.outages.failures import Mains, NetSurvey, Outage
from reach.stations import Channel, Repeater, Station, runs_without_mains
from reach.units import power_in_words

AS_USUAL, OFF_AIR, NOBODY, LEADS = "as usual", "off the air", "nobody", "you are net control"
ASKED = "you are asked to be net control"
NO_NET = "no net"
NO_REPEATER = "no repeater"
FREQUENCIES = "Frequencies in order: listen a minute, call twice; no answer, then the next line"
MOST_HEARD, LEAST_HEARD = 24, 6  # stations in the list of those one works, as there is room
MOST_ROWS = 22  # rows of all three tables together that fit on a page, three stations a row
MOST_NAMED = 12  # call signs in a list of one-way links

KIT_CAUTIONS = (EMERGENCY, PROMISE, AGENCY, MASTS, EXPOSURE)


@dataclass(frozen=True)
class KitChannel:
    """One line of the frequencies, in the order everyone tries them. use : how it is for this operator."""

    order: int
    name: str
    listen_mhz: str
    send_mhz: str
    tone: str
    use: str


@dataclass(frozen=True)
class KitCase:
    """What to do in one case. where : repeater or frequency; whom : who is called; note : what else to
    know."""

    situation: str
    where: str
    whom: str
    note: str = ""


@dataclass(frozen=True)
class KitHeard:
    """A station worked both ways on simplex. grade : 'R5', of the weaker direction."""

    call_sign: str
    name: str
    grade: str


@dataclass(frozen=True)
class KitPage:
    """One operator's page, as plain text.

    headline : what to do, in a sentence. works : best first, at most MOST_HEARD; more : how many others.
    hears_only, heard_only_by : call signs. simplex : the frequency they are about.
    station : equipment the plan was made with; battery : how long it lasts, '' without.
    """

    call_sign: str
    spoken: str
    name: str
    net: str
    headline: str
    channels: tuple[KitChannel, ...]
    cases: tuple[KitCase, ...]
    simplex: str
    works: tuple[KitHeard, ...]
    more: int
    hears_only: tuple[str, ...]
    heard_only_by: tuple[str, ...]
    station: str
    battery: str
    made_from: str
    on_radio: bool = True
    cautions: tuple[str, ...] = KIT_CAUTIONS


def kit_pages(found: KitAnswer) -> tuple[KitPage, ...]:
    """A page for each operator asked for, in their order."""
    return tuple(
        kit_page(found.survey, found.cases, call, battery=found.battery, made_from=found.made_from)
        for call in found.operators
    )


def kit_page(
    survey: NetSurvey,
    planned: Sequence[Case],
    call_sign: str,
    *,
    battery: BatteryRules,
    made_from: str,
) -> KitPage:
    """One member's page. planned : nothing lost first, then the cases to prepare for.

    Raises : KeyError for a call sign that is not a member's.
    """
    net = survey.net
    station = net.station(call_sign)
    works, hears_only, heard_only_by = _heard(survey, station)
    cases = _cases(survey, planned, station)
    channels = _channels(survey, planned[0].plan, station, works)
    most = min(max(3 * (MOST_ROWS - len(channels) - len(cases)), LEAST_HEARD), MOST_HEARD)
    return KitPage(
        call_sign=station.call_sign,
        spoken=spoken(station.call_sign),
        name=station.name,
        net=net.name,
        headline=_headline(cases, station),
        channels=channels,
        cases=cases,
        simplex=_mhz(survey.simplex.channel.frequency_mhz) + " MHz",
        works=works[:most],
        more=max(len(works) - most, 0),
        hears_only=hears_only,
        heard_only_by=heard_only_by,
        station=_station_words(station, survey.simplex.channel),
        battery=_battery_words(station, battery),
        made_from=f"{made_from} {audience_in_short(net)}",
        on_radio=station.has_radio_path,
    )


def _heard(
    survey: NetSurvey, station: Station
) -> tuple[tuple[KitHeard, ...], tuple[str, ...], tuple[str, ...]]:
    """Whom a station works, best first; whom it only hears; who only hears it."""
    network = survey.simplex
    at = network.index(station.call_sign)
    there, back = network.margin_db[at], network.margin_db[:, at]
    weaker = np.minimum(there, back)
    order = sorted(np.flatnonzero(weaker >= 0.0).tolist(), key=lambda k: (-weaker[k], network.call_signs[k]))
    works = tuple(
        KitHeard(
            network.call_signs[k],
            survey.net.station(network.call_signs[k]).name,
            f"R{grade_of(float(weaker[k])).readability}",
        )
        for k in order
    )

    def calls(mask: np.ndarray[tuple[int], np.dtype[np.bool_]]) -> tuple[str, ...]:
        return tuple(sorted(network.call_signs[k] for k in np.flatnonzero(mask)))

    hears, heard = back >= 0.0, there >= 0.0  # NaN compares false
    return works, calls(hears & ~heard), calls(heard & ~hears)


def _channels(
    survey: NetSurvey, usual: OutagePlan, station: Station, works: Sequence[KitHeard]
) -> tuple[KitChannel, ...]:
    """What works for this member first: repeaters it gets into and hears, then simplex; what does not, last.

    Among repeaters that work (and those that do not) the usual one comes first, then the one that serves
    most.
    """  # fmt: skip
    served = {service.call_sign: len(service.works) for service in usual.services}
    repeaters = sorted(
        (network.repeater for network in survey.repeaters),
        key=lambda r: (r.call_sign != usual.hub, -served.get(r.call_sign, 0), r.call_sign),
    )
    lines = [(_rank(survey, r, station), _repeater_line(survey, r, station)) for r in repeaters]
    planned = survey.simplex.channel
    for channel in (planned, *(c for c in survey.net.channels if c != planned)):
        if not station.has_radio_path:
            rank, use = 2, "no radio path"
        elif not works_on(station, channel.frequency_mhz):
            rank, use = 4, "you have no radio for it"
        elif channel == planned:
            rank = 1 if works else 3
            use = f"you work {len(works)} station{'' if len(works) == 1 else 's'}"
        else:
            rank, use = 2 if works else 3, "say so before you change"
        mhz = _mhz(channel.frequency_mhz)
        name = f"simplex, {channel.name}" if channel.name else "simplex"
        lines.append((rank, (name, mhz, mhz, "none", use)))
    lines.sort(key=lambda ranked: ranked[0])
    return tuple(KitChannel(order, *line) for order, (_, line) in enumerate(lines, start=1))


def _rank(survey: NetSurvey, repeater: Repeater, station: Station) -> int:
    """0 for a repeater this member works both ways, 3 for one it does not."""
    if not station.has_radio_path:
        return 0
    member = survey.repeater(repeater.call_sign).member(station.call_sign)
    return 0 if repeater_outcome(member) is RepeaterOutcome.GETS_IN_AND_HEARS else 3


_OUTCOMES = {
    RepeaterOutcome.HEARS_ONLY: "you hear it, you do not get in",
    RepeaterOutcome.GETS_IN_ONLY: "you get in, you do not hear it",
    RepeaterOutcome.NEITHER: "no way in from you",
}


def _repeater_line(survey: NetSurvey, repeater: Repeater, station: Station) -> tuple[str, str, str, str, str]:
    member: RepeaterMember | None = None
    if station.has_radio_path:
        member = survey.repeater(repeater.call_sign).member(station.call_sign)
    if member is None:
        use = "no radio path"
    else:
        use = _OUTCOMES.get(repeater_outcome(member), f"you get in, {chance_in_words(member.chance)}")
    tone = f"{repeater.tone_hz:.1f}" if repeater.tone_hz else "none"
    name = f"{repeater.call_sign} {repeater.name}".strip()
    return name, _mhz(repeater.output_mhz), _mhz(repeater.input_mhz), tone, use


def _cases(survey: NetSurvey, planned: Sequence[Case], station: Station) -> tuple[KitCase, ...]:
    """What to do in each case; AS_USUAL where it is what one does with nothing lost."""
    usual = _case(survey, planned[0], station)
    found = [usual]
    for case in planned[1:]:
        own = _case(survey, case, station)
        if replace(own, situation=usual.situation) == usual and own.whom != NOBODY:
            own = KitCase(own.situation, AS_USUAL, "")
        found.append(own)
    return tuple(found)


def _case(survey: NetSurvey, case: Case, station: Station) -> KitCase:
    plan = case.plan
    way = plan.way(station.call_sign)
    situation = _situation(survey, plan)
    if way.part is Part.LINKED:
        gone = "the link may be gone with the mains" if plan.outage.mains is Mains.LOST else ""
        return KitCase(situation, "internet", plan.control or NOBODY, gone)
    if way.part is Part.DARK:
        near = _nearest(survey, plan, station)
        return KitCase(situation, OFF_AIR, "", f"you have no backup power; {near}")
    if not plan.control:
        return KitCase(situation, NO_NET, NOBODY, plan.lack.rstrip("."))
    if way.part is Part.CUT_OFF:
        return KitCase(
            situation, plan.hub or _simplex(survey), NOBODY, way.near_miss.split(";")[0].rstrip(".")
        )
    where = way.over or _simplex(survey)
    notes = [_duties(survey, plan, way), _stands_in(plan, way), *_changes(survey, case, station)]
    if way.part is Part.CONTROL:
        whom = LEADS if plan.willing else ASKED
        notes = [*_led(plan), *notes]
    elif way.via:
        whom = f"{way.via[0]} ({'net control' if way.via[0] == plan.control else 'relay'})"
        notes.insert(0, f"if it is missing, {way.second[0]}" if way.second else "")
    else:
        whom = f"{asked_words(plan.control, willing=plan.willing)} (net control)"
    return KitCase(situation, where, whom, "; ".join(note for note in notes if note))


def _led(plan: OutagePlan) -> list[str]:
    """What net control needs to know: who relays for whom, and who takes over."""
    relays = [f"{w.call_sign} relays for {', '.join(w.serves)}" for w in plan.ways if w.serves]
    stand_in = plan.stand_in
    after = asked_words(stand_in.call_sign, willing=stand_in.willing) if stand_in else "nobody"
    return [*relays, f"stand-in {after}"]


def _stands_in(plan: OutagePlan, way: MemberWay) -> str:
    stand_in = plan.stand_in
    if stand_in is None or stand_in.call_sign != way.call_sign:
        return ""
    where = f" on {stand_in.hub}" if stand_in.hub and stand_in.hub != plan.hub else ""
    return f"you are the stand-in: when {plan.control} is silent, take the net{where}"


def _changes(survey: NetSurvey, case: Case, station: Station) -> list[str]:
    """When batteries change the place or the leader of the net."""
    line, found = case.timeline, []
    for before, after in zip(line.stretches, line.stretches[1:]) if line else ():
        moves = []
        if after.control and after.hub != before.hub:
            moves.append(f"everyone to {after.hub or _simplex(survey)}")
        if after.control and after.control != before.control:
            leads = "you lead" if after.control == station.call_sign else f"{after.control} leads"
            moves.append(
                leads
                if after.willing
                else f"{leads} (if {'you agree' if leads == 'you lead' else 'it agrees'})"
            )
        if moves:
            found.append(f"after {hours_words(after.from_h)} {', '.join(moves)}")
    return found


def _situation(survey: NetSurvey, plan: OutagePlan) -> str:
    outage = plan.outage
    if outage == Outage():
        return "usually"
    every = {network.repeater.call_sign for network in survey.repeaters}
    repeaters = f"{', '.join(sorted(outage.repeaters))} down" if outage.repeaters else ""
    if outage.repeaters and outage.repeaters == every:
        repeaters = NO_REPEATER
    parts = [repeaters] if repeaters else []
    parts += ["no mains"] if outage.mains is Mains.LOST else []
    parts += [f"{', '.join(sorted(outage.stations))} absent"] if outage.stations else []
    return ", ".join(parts)


def _duties(survey: NetSurvey, plan: OutagePlan, way: MemberWay) -> str:
    """'you relay for QK3MPL, QK3OAK on 146.520 simplex', and what to listen to besides."""
    if not way.serves:
        return ""
    overs = {plan.way(call).over for call in way.serves}
    where = " and ".join(sorted(over or _simplex(survey) for over in overs))
    listens = [over or _simplex(survey) for over in plan.listens_on(way.call_sign)]
    both = f"; listen on {' and '.join(listens)} all through the net" if len(listens) > 1 else ""
    return f"you relay for {', '.join(way.serves)} on {where}{both}"


def _nearest(survey: NetSurvey, plan: OutagePlan, station: Station) -> str:
    """Where to go on foot or by car: the nearest station still in the net."""
    network = survey.simplex
    at = network.index(station.call_sign)
    others = [call for call in plan.in_net if call != station.call_sign]
    if not others:
        return "nobody else is on the air"
    near = min(others, key=lambda call: (float(network.distance_m[at, network.index(call)]), call))
    return f"nearest on the air: {near}, {network.distance_m[at, network.index(near)] / 1000.0:.1f} km"


def _headline(cases: Sequence[KitCase], station: Station) -> str:
    """The usual case, then the one without repeaters (or the last)."""
    if not station.has_radio_path:
        return "You take part over the internet only: have a radio ready for the day the link is gone."
    worst = next((case for case in cases if case.situation == NO_REPEATER), cases[-1])
    text = _do(cases[0])
    if worst is not cases[0] and worst.where != AS_USUAL:
        when = f"{'with' if worst.situation.startswith('no ') else 'when'} {worst.situation}"
        text += f", {when} too" if _do(worst) == text else f"; {when} {_instead(worst, cases[0])}"
    return f"{text[0].upper()}{text[1:]}."


def _instead(case: KitCase, usual: KitCase) -> str:
    """What to do in place of the usual: where alone, when whom to call stays the same."""
    same = case.whom == usual.whom != NOBODY and not {case.where, usual.where} & {OFF_AIR, NO_NET}
    return f"on {case.where}" if same else _do(case)


def _do(case: KitCase) -> str:
    if case.where == OFF_AIR:
        return "you are off the air"
    if case.where == NO_NET:
        return "no net comes together"
    if case.whom == NOBODY:
        return f"listen on {case.where}, no way in is predicted"
    return f"{case.whom if case.whom in (LEADS, ASKED) else f'call {case.whom}'} on {case.where}"


def _station_words(station: Station, channel: Channel) -> str:
    """What the plan takes the station to be, so that its owner can correct it."""
    if not station.has_radio_path:
        return "Taken as: linked over the internet, no radio."
    antenna = station.antenna.kind or "antenna"
    parts = [
        power_in_words(station.transmit_power_dbm),
        f"{antenna} {height_words(station.antenna.height_m)} above ground "
        f"({station.antenna.gain_dbi_at(channel.frequency_mhz):.1f} dBi)",
        f"{station.feed_line.loss_db(channel.frequency_mhz):.1f} dB feed line",
        *([aim] if (aim := aim_words(station.antenna)) else []),
        *(surrounding.value for surrounding in station.surroundings),
    ]
    known = f"Planned for your station as: {', '.join(parts)}."
    return f"{known} Wrong, or no radio for a band above? Tell the planner."


def _battery_words(station: Station, rules: BatteryRules) -> str:
    if not runs_without_mains(station):
        return "No backup power is noted for you." if station.has_radio_path else ""
    member = battery_life(station, rules)
    if member.hours is None:
        return "You have backup power; how long it lasts is not noted: time it."
    if member.average_current_a is None:
        return f"Your backup power lasts {member.words} as you said."
    busy = battery_life(station, rules, duty=Duty.BUSY)
    hours = f"{member.words}; as net control or relay about {busy.words}"
    return f"Your battery lasts about {hours}. Low power saves it."


def _simplex(survey: NetSurvey) -> str:
    return f"{_mhz(survey.simplex.channel.frequency_mhz)} simplex"


def _mhz(frequency_mhz: float) -> str:
    """Three decimals, four where the channel needs them."""
    text = f"{frequency_mhz:.4f}"
    return text[:-1] if text.endswith("0") else text


def worked_words(page: KitPage) -> str:
    """Heading of the list of those worked."""
    return f"On {page.simplex} simplex you work (R5 best, R3 just; tick when tested on the air)"


def heard_words(page: KitPage) -> str:
    """Those heard or hearing one way only, '' when there are none."""
    parts = []
    if page.hears_only:
        parts.append(f"You hear, but are not heard by: {named(page.hears_only, most=MOST_NAMED)}.")
    if page.heard_only_by:
        parts.append(f"You are heard by, but do not hear: {named(page.heard_only_by, most=MOST_NAMED)}.")
    return " ".join(parts)

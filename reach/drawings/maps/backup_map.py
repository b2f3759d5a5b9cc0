"""One map of all cases of the backup plan, to switch between: where each calls, relays, and who is out."""

from __future__ import annotations

from collections.abc import Sequence

from reach.answers.outages import Case, frequency_words, timeline_sentences
from reach.answers.share import audience_words
from reach.answers.tonight import tonight_headline
from reach.drawings.maps.link_profiles import KnowsGround, with_profiles
from reach.drawings.maps.map_page import map_page
from reach.drawings.maps.map_parts import LinkLayer, MapCase, MapContent, MapLink, MapStation
from reach.drawings.maps.map_stations import (
    QUIET,
    dot,
    equipment_lines,
    mast_dot,
    not_on_the_map,
    path_words,
    title_of,
)
from reach.drawings.maps.net_map import simplex_link
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import MapPicture
from reach.drawings.style.palette import GRADE_LINES, RELAY_LINE
from reach.drawings.style.symbols import Mark
from reach.drawings.style.words import CATEGORY_WORDS, grade_words, link_words
from reach.links.grade import Grade
from reach.links.sayings import chance_in_words
from reach.notes import texts
from reach.plans.outages.backup import MemberWay, OutagePlan, Part
from reach.plans.outages.failures import NetSurvey
from reach.stations import Station

_MARKS = {
    Part.CONTROL: Mark.CONTROL,
    Part.RELAY: Mark.RELAY,
    Part.DIRECT: Mark.MEMBER,
    Part.RELAYED: Mark.MEMBER,
    Part.CUT_OFF: Mark.CUT_OFF,
    Part.DARK: Mark.SILENT,
    Part.ABSENT: Mark.SILENT,
    Part.LINKED: Mark.SILENT,
}
_GRADES = (Grade.CLEAR, Grade.SOLID, Grade.WORKABLE, Grade.WEAK)


def backup_map(
    survey: NetSurvey,
    cases: Sequence[Case],
    *,
    relief: MapPicture | None = None,
    notes: Sequence[str] = (),
    online: OnlineTiles | None = None,
    ground: KnowsGround | None = None,
) -> str:
    """One HTML page; the first case shows when it opens. Lines are the ways the net goes by, no others.

    ground : where a click on a line is to show its profile.
    Raises : ValueError without a case or a station.
    """
    drawn = [_case(survey, case, ground) for case in cases]
    used = {link.layer for case in drawn for link in case.links}
    layers = [LinkLayer("relay", "through a relay", RELAY_LINE, pane="plan", opacity=1.0)]
    layers += [LinkLayer(g.name.lower(), f"calls: {grade_words(g)}", GRADE_LINES[g]) for g in _GRADES]
    return map_page(
        MapContent(
            title=f"{survey.net.name}: when something fails",
            headline=drawn[0].headline,
            first="",
            audience=audience_words(survey.net),
            frequency_mhz=survey.simplex.channel.frequency_mhz,
            notes=[*notes, *not_on_the_map(survey.net)],
            warnings=texts(survey.warnings),
            stations=drawn[0].stations,
            layers=[layer for layer in layers if layer.key in used],
            links_title="Where each calls, by the weaker direction",
            cases=drawn,
        ),
        relief=relief,
        online=online,
    )


def _case(survey: NetSurvey, case: Case, ground: KnowsGround | None) -> MapCase:
    plan = case.plan
    masts = [_mast(survey, plan, network.repeater.call_sign) for network in survey.repeaters]
    members = [_member(station, plan) for station in survey.net.stations if station.position.is_known]
    place = {station.call_sign: k for k, station in enumerate((*masts, *members))}
    links = [link for way in plan.ways if (link := _way_link(survey, plan, way, place)) is not None]
    return MapCase(
        label=f"{case.letter}  {plan.outage.words}",
        headline=tonight_headline(survey.net, plan.sentence),
        reasons=_reasons(survey, case),
        stations=(*masts, *members),
        links=tuple(with_profiles(links, (*masts, *members), ground, survey.net)),
    )


def _mast(survey: NetSurvey, plan: OutagePlan, call_sign: str) -> MapStation:
    repeater = survey.repeater(call_sign).repeater
    users = sum(1 for way in plan.ways if way.over == call_sign and way.call_sign in plan.in_net)
    if call_sign not in plan.standing.repeaters:
        why = "without power" if call_sign in plan.standing.dark_repeaters else "down"
        return mast_dot(repeater, Mark.SILENT, [f"{why.capitalize()}."], why)
    words = "the net is here" if call_sign == plan.hub else f"{users} call on it" if users else "not used"
    return mast_dot(repeater, Mark.REPEATER, [f"{words[0].upper()}{words[1:]}."], words)


def _member(station: Station, plan: OutagePlan) -> MapStation:
    way = plan.way(station.call_sign)
    lines, status = _said(way, plan)
    lines += [f"{QUIET}{CATEGORY_WORDS[station.category]}", *equipment_lines(station)]
    mark = Mark.MEMBER if way.part is Part.LINKED else _MARKS[way.part]
    return dot(station, mark, title_of(station.call_sign, station.name), lines, status)


def _said(way: MemberWay, plan: OutagePlan) -> tuple[list[str], str]:
    """Lines of the card, and the status in the list of stations."""
    lines = [f"Relays for {', '.join(way.serves)}."] if way.serves else []
    if plan.stand_in is not None and plan.stand_in.call_sign == way.call_sign:
        lines.insert(0, f"Stand-in: takes the net when {plan.control} is silent.")
    if way.part is Part.CONTROL:
        asked = "" if plan.willing else ", if it agrees"
        return [f"Net control{asked}.", *lines], f"net control{asked}"
    if way.part is Part.CUT_OFF:
        return [f"Cut off. {way.near_miss}".rstrip()], "cut off"
    if way.part in (Part.DARK, Part.ABSENT, Part.LINKED):
        return [f"{way.part.value[0].upper()}{way.part.value[1:]}."], way.part.value
    where = f"via {', '.join(way.via)}" if way.via else f"on {way.over or 'simplex'}"
    lines.append(f"Calls {where}: {chance_in_words(way.chance)}.")
    return lines, f"relay, {where}" if way.serves else where


def _way_link(survey: NetSurvey, plan: OutagePlan, way: MemberWay, place: dict[str, int]) -> MapLink | None:
    """The first step of a member's way: to a repeater, to net control, or to its relay."""
    if way.call_sign not in plan.in_net:
        return None
    over = plan.hub if way.part is Part.CONTROL else way.over
    if over:
        member = survey.repeater(over).member(way.call_sign)
        weaker = min(member.talk_in.grade, member.talk_out.grade, key=lambda grade: grade.readability)
        path = path_words(
            member.talk_in.distance_m, member.talk_in.line_of_sight, member.talk_in.fresnel_clearance
        )
        layer = "relay" if way.via else weaker.name.lower()
        return MapLink(
            place[way.call_sign],
            place[over],
            layer,
            link_words(member.talk_in),
            link_words(member.talk_out),
            path,
            frequency_mhz=survey.repeater(over).repeater.output_mhz,
        )
    other = way.via[0] if way.via else plan.control
    if other == way.call_sign:
        return None
    network = survey.simplex
    one, two = network.index(way.call_sign), network.index(other)
    link = simplex_link(network, one, two, "relay" if way.via else _layer(survey, way.call_sign, other))
    return MapLink(place[way.call_sign], place[other], link.layer, link.forward, link.back, link.path)


def _layer(survey: NetSurvey, one: str, other: str) -> str:
    grades = (survey.simplex.link(one, other).grade, survey.simplex.link(other, one).grade)
    return min(grades, key=lambda grade: grade.readability).name.lower()


def _reasons(survey: NetSurvey, case: Case) -> tuple[str, ...]:
    plan = case.plan
    found = [f"{way.call_sign} relays for {', '.join(way.serves)}." for way in plan.ways if way.serves]
    if plan.control:
        where = plan.hub or frequency_words(survey.simplex.channel)
        found.insert(0, f"Net control {case.control_words}, stand-in {case.stand_in_words}, on {where}.")
    standing = plan.standing
    if standing.dark:
        found.append(f"Off the air without backup power: {', '.join(standing.dark)}.")
    if standing.absent:
        found.append(f"Absent: {', '.join(standing.absent)}.")
    if plan.advice:
        found.append(plan.advice)
    if case.timeline is not None:
        found += timeline_sentences(case.timeline, survey.simplex.channel)[1:]
    return tuple(found)

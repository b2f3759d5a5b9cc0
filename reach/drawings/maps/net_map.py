"""The map pages, simplex net and repeater: each one self-contained HTML file that opens with no network."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reach.answers.share import audience_words
from reach.drawings.maps.link_profiles import KnowsGround, with_profiles
from reach.drawings.maps.map_page import map_page
from reach.drawings.maps.map_parts import LinkLayer, MapContent, MapLink, MapStation
from reach.drawings.maps.map_stations import (
    QUIET,
    dot,
    equipment_lines,
    mast_dot,
    no_radio_dots,
    not_on_the_map,
    path_words,
    title_of,
)
from reach.drawings.maps.page import OnlineTiles
from reach.drawings.maps.picture import CoverageOverlay, MapPicture
from reach.drawings.maps.plan_marks import PlanMarks
from reach.drawings.style.palette import (
    GETS_IN_ONLY_LINE,
    GRADE_LINES,
    HEARS_ONLY_LINE,
    ONE_WAY_LINE,
    RELAY_LINE,
)
from reach.drawings.style.symbols import Mark
from reach.drawings.style.words import CATEGORY_WORDS, grade_words, link_words, quality_words
from reach.links.grade import Grade, margins_count, readability_of
from reach.links.network import RepeaterMember, RepeaterNetwork, SimplexNetwork
from reach.links.sayings import chance_in_figures, chance_in_words, margin_in_words
from reach.lists import named
from reach.notes import texts
from reach.stations import Repeater, Station

MOST_NAMED = 16  # call signs in a line of a card
_TWO_WAY = (Grade.CLEAR, Grade.SOLID, Grade.WORKABLE)
_LAYER_OF = {grade.readability: grade.name.lower() for grade in _TWO_WAY}


def simplex_content(
    network: SimplexNetwork,
    *,
    headline: str,
    marks: PlanMarks | None = None,
    overlays: Sequence[CoverageOverlay] = (),
    notes: Sequence[str] = (),
    ground: KnowsGround | None = None,
) -> MapContent:
    """What a map of the simplex net shows; see `simplex_map`."""
    plan = marks or PlanMarks()
    members = {station.call_sign: station for station in network.net.stations}
    on_air = [i for i, call in enumerate(network.call_signs) if members[call].has_radio_path]
    heard = margins_count(network.margin_db)
    stations = [_simplex_station(network, heard, members[network.call_signs[i]], i, plan) for i in on_air]
    for call in network.call_signs:
        if not members[call].has_radio_path:
            stations += no_radio_dots(members[call])
    number = {index: at for at, index in enumerate(on_air)}
    links = [
        replace(link, talker=number[link.talker], listener=number[link.listener])
        for link in (*_simplex_links(network), *_plan_links(network, plan))
    ]
    links = with_profiles(links, stations, ground, network.net)
    layers = [
        *(
            LinkLayer(grade.name.lower(), grade_words(grade), GRADE_LINES[grade], opacity=0.8)
            for grade in _TWO_WAY
        ),
        LinkLayer("one_way", "works one way only", ONE_WAY_LINE),
        LinkLayer(
            "weak",
            f"{grade_words(Grade.WEAK)}: not counted",
            GRADE_LINES[Grade.WEAK],
            False,
        ),
    ]
    if plan.relays:
        layers.insert(0, LinkLayer("plan", "relay path of the plan", RELAY_LINE, pane="plan", opacity=1.0))
    return MapContent(
        title=f"{network.net.name}: simplex",
        headline=headline,
        audience=audience_words(network.net),
        frequency_mhz=network.channel.frequency_mhz,
        plan=plan,
        first=f"Simplex {network.channel.frequency_mhz:.8g} MHz ({network.channel.name}).",
        notes=[*notes, *not_on_the_map(network.net)],
        warnings=texts(network.warnings),
        stations=stations,
        links=links,
        layers=layers,
        links_title="Links, by the weaker direction",
        overlays=overlays,
    )


def simplex_map(
    network: SimplexNetwork,
    *,
    headline: str,
    relief: MapPicture | None = None,
    marks: PlanMarks | None = None,
    overlays: Sequence[CoverageOverlay] = (),
    notes: Sequence[str] = (),
    online: OnlineTiles | None = None,
    ground: KnowsGround | None = None,
) -> str:
    """The simplex net as one HTML page.

    headline : the answer in a sentence, first line of the page; notes : plain sentences on what was assumed.
    relief : shaded relief to lie under the net; marks : net control, relays and cut-off members of a plan.
    ground : where a click on a line is to show its profile.
    Two-way lines carry the grade of the weaker direction; a line that counts one way only is its own kind.
    Raises : ValueError when the network has no station.
    """
    content = simplex_content(
        network, headline=headline, marks=marks, overlays=overlays, notes=notes, ground=ground
    )
    return map_page(content, relief=relief, online=online)


def repeater_map(
    network: RepeaterNetwork,
    *,
    headline: str,
    relief: MapPicture | None = None,
    marks: PlanMarks | None = None,
    overlays: Sequence[CoverageOverlay] = (),
    notes: Sequence[str] = (),
    online: OnlineTiles | None = None,
    ground: KnowsGround | None = None,
) -> str:
    """A repeater and its members as one HTML page; arguments as for `simplex_map`."""
    plan = marks or PlanMarks()
    repeater = network.repeater
    known = {station.call_sign: station for station in network.net.stations}
    stations = [_repeater_dot(network)]
    links: list[MapLink] = []
    for number, member in enumerate(network.members, start=1):
        station = known[member.call_sign]
        stations.append(_repeater_member(station, repeater, member, plan))
        layer = _repeater_layer(member)
        if layer is None:
            continue
        back, out = link_words(member.talk_in), link_words(member.talk_out)
        path = path_words(
            member.talk_out.distance_m, member.talk_out.line_of_sight, member.talk_out.fresnel_clearance
        )
        if layer == "gets_in_only":
            links.append(MapLink(number, 0, layer, back, out, path))
        else:
            links.append(MapLink(0, number, layer, out, back, path))
    for call in network.no_radio:
        stations += no_radio_dots(known[call])
    links = with_profiles(links, stations, ground, network.net)
    layers = [
        *(
            LinkLayer(grade.name.lower(), f"gets in and hears: {grade.word}", GRADE_LINES[grade])
            for grade in _TWO_WAY
        ),
        LinkLayer("hears_only", "hears it, does not get in", HEARS_ONLY_LINE),
        LinkLayer("gets_in_only", "gets in, does not hear it", GETS_IN_ONLY_LINE),
    ]
    tone = f", tone {repeater.tone_hz:g} Hz" if repeater.tone_hz else ""
    first = (
        f"Repeater {repeater.call_sign}: listen on {repeater.output_mhz:.8g} MHz, "
        f"talk on {repeater.input_mhz:.8g} MHz{tone}."
    )
    return map_page(
        MapContent(
            title=f"{network.net.name}: repeater {repeater.call_sign}",
            headline=headline,
            audience=audience_words(network.net),
            frequency_mhz=repeater.output_mhz,
            plan=plan,
            first=first,
            notes=[*notes, *not_on_the_map(network.net)],
            warnings=texts(network.warnings),
            stations=stations,
            links=links,
            layers=layers,
            links_title="Paths to the repeater, by the weaker direction",
            overlays=overlays,
        ),
        relief=relief,
        online=online,
    )


def _simplex_station(
    network: SimplexNetwork, heard: NDArray[np.bool_], station: Station, index: int, plan: PlanMarks
) -> MapStation:
    call_sign = station.call_sign
    heard_by, hears = int(heard[index].sum()), int(heard[:, index].sum())
    missed, via = plan.missed(call_sign), plan.relay_of(call_sign)
    served = plan.served_by.get(call_sign, ()) if call_sign in plan.relays else ()
    mark = Mark.MEMBER
    lines = [f"Heard by {heard_by}, hears {hears}."]
    status = f"heard by {heard_by}"
    if call_sign in plan.relays:
        mark, status = Mark.RELAY, f"relay for {len(served)}"
        lines.insert(0, f"Relays for {', '.join(served)}.")
    if call_sign == plan.control:
        mark, status = Mark.CONTROL, "net control"
        lines.insert(0, "Net control.")
    elif missed is not None:
        mark, status = Mark.CUT_OFF, "cut off"
        lines.insert(0, f"Cut off. {missed.near_miss}".rstrip())
    elif via is not None:
        status = f"via {via}"
        lines.insert(0, f"Heard through {via}.")
    elif not heard_by and not hears:
        mark, status = Mark.CUT_OFF, "no one hears it"
    lines += _heard_lines(network, heard, index)
    lines += [f"{QUIET}{CATEGORY_WORDS[station.category]}", *equipment_lines(station)]
    return dot(station, mark, title_of(call_sign, station.name), lines, status)


def _heard_lines(network: SimplexNetwork, heard: NDArray[np.bool_], index: int) -> list[str]:
    """Who works a station both ways, whom it only hears, who only hears it; surest first."""
    inward, outward = heard[:, index], heard[index]
    lines = []
    for words, who, chances in (
        ("Works", inward & outward, network.chance_both_ways[index]),
        ("Only hears", inward & ~outward, network.chance[:, index]),
        ("Is only heard by", outward & ~inward, network.chance[index]),
    ):
        found = sorted((-float(chances[other]), network.call_signs[other]) for other in np.flatnonzero(who))
        if found:
            said = [f"{call} ({chance_in_figures(-chance)})" for chance, call in found]
            lines.append(f"{words} {named(said, most=MOST_NAMED)}.")
    return lines


def _simplex_links(network: SimplexNetwork) -> list[MapLink]:
    readability = readability_of(network.margin_db)
    weaker, stronger = np.minimum(readability, readability.T), np.maximum(readability, readability.T)
    heard, weak = Grade.WORKABLE.readability, Grade.WEAK.readability
    links = []
    for i, j in np.argwhere(np.triu(stronger >= weak, 1)).tolist():
        talker, listener = (i, j) if readability[i, j] >= readability[j, i] else (j, i)
        if weaker[i, j] >= heard:
            layer = _LAYER_OF[int(weaker[i, j])]
        else:
            layer = "one_way" if stronger[i, j] >= heard else "weak"
        links.append(simplex_link(network, talker, listener, layer))
    order = {"weak": 0, "one_way": 1, "workable": 2, "solid": 3, "clear": 4}
    return sorted(links, key=lambda link: order[link.layer])  # better links are drawn on top


def simplex_link(network: SimplexNetwork, talker: int, listener: int, layer: str) -> MapLink:
    """A line of a layer between two stations of a simplex network, with how each hears the other."""

    def said(tx: int, rx: int) -> str:
        return quality_words(
            margin_db=float(network.margin_db[tx, rx]),
            chance=float(network.chance[tx, rx]),
            received_dbm=float(network.received_dbm[tx, rx]),
            frequency_mhz=network.channel.frequency_mhz,
        )

    path = path_words(
        float(network.distance_m[talker, listener]),
        bool(network.line_of_sight[talker, listener]),
        float(network.fresnel_clearance[talker, listener]),
    )
    return MapLink(talker, listener, layer, said(talker, listener), said(listener, talker), path)


def _plan_links(network: SimplexNetwork, plan: PlanMarks) -> list[MapLink]:
    """Control to each relay and relay to each member it serves; names not in the network are left out."""
    known = {call: index for index, call in enumerate(network.call_signs)}
    pairs: list[tuple[str, str]] = []
    for relay in plan.relays:
        if plan.control is not None and not any(relay in served for served in plan.served_by.values()):
            pairs.append((plan.control, relay))
        pairs += [(relay, call) for call in plan.served_by.get(relay, ())]
    return [simplex_link(network, known[a], known[b], "plan") for a, b in pairs if a in known and b in known]


def _repeater_dot(network: RepeaterNetwork) -> MapStation:
    repeater = network.repeater
    both = sum(1 for m in network.members if m.gets_in and m.hears)
    line = f"Repeater: {both} of {len(network.members)} get in and hear it."
    return mast_dot(repeater, Mark.REPEATER, [line], "repeater")


def _repeater_layer(member: RepeaterMember) -> str | None:
    if member.gets_in and member.hears:
        weaker = min(member.talk_in.grade, member.talk_out.grade, key=lambda grade: grade.readability)
        return weaker.name.lower()
    if member.hears:
        return "hears_only"
    return "gets_in_only" if member.gets_in else None


def _repeater_member(
    station: Station, repeater: Repeater, member: RepeaterMember, plan: PlanMarks
) -> MapStation:
    layer = _repeater_layer(member)
    mark = Mark.MEMBER
    lines = []
    if layer is None:
        mark, status = Mark.CUT_OFF, "no path"
        lines.append(
            f"Neither gets in nor hears; the weaker direction is {_missing(member.weaker_margin_db)}."
        )
    elif layer == "hears_only":
        mark, status = Mark.HEARS_ONLY, "hears only"
        lines.append(f"Hears it but does not get in; talk-in is {_missing(member.talk_in.margin_db)}.")
    elif layer == "gets_in_only":
        mark, status = Mark.HEARS_ONLY, "gets in only"
        lines.append(f"Gets in but does not hear it; talk-out is {_missing(member.talk_out.margin_db)}.")
    else:
        status = chance_in_words(member.chance)
        lines.append(f"Gets in and hears: {chance_in_words(member.chance)}.")
    if station.call_sign == plan.control:
        mark = Mark.CONTROL
        lines.insert(0, "Net control.")
    elif station.call_sign in plan.relays and not mark.needs_attention:
        mark = Mark.RELAY
        lines.insert(0, f"Relays for {', '.join(plan.served_by.get(station.call_sign, ()))}.")
    lines += [
        f"{repeater.call_sign} hears {station.call_sign}: {link_words(member.talk_in)}",
        f"{station.call_sign} hears {repeater.call_sign}: {link_words(member.talk_out)}",
        QUIET
        + path_words(
            member.talk_in.distance_m, member.talk_in.line_of_sight, member.talk_in.fresnel_clearance
        ),
        f"{QUIET}{CATEGORY_WORDS[station.category]}",
        *equipment_lines(station),
    ]
    return dot(station, mark, title_of(station.call_sign, station.name), lines, status)


def _missing(margin_db: float) -> str:
    return margin_in_words(margin_db) if math.isfinite(margin_db) else "without any path"

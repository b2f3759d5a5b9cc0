"""Which stations and repeaters work each place the club serves, case by case, and who should go there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from reach.answers.open_net import OpenNet
from reach.answers.outages import Case, basis_note, planned_cases
from reach.answers.record import Answer
from reach.answers.rules import chosen_rules
from reach.answers.sheet import Cell, Sheet
from reach.answers.surveys import survey_net
from reach.errors import Fault, InputProblem
from reach.geodesy import distance_and_bearing
from reach.inputs.lookup import find_channel
from reach.inputs.roster import parse_roster
from reach.inputs.served_places import PLACES_FILE, ServedPlace, read_places
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import DirectedLink, chance_both_directions
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.graph.reachability import Threshold
from reach.plans.outages.backup import OutagePlan, Part
from reach.plans.outages.failures import NetSurvey
from reach.stations import Category, Station

KINDS = {Category.PORTABLE: "handheld", Category.MOBILE: "mobile"}
_BUSY = (Part.CONTROL, Part.RELAY, Part.LINKED, Part.ABSENT)


@dataclass(frozen=True)
class PlaceContact:
    """A station or repeater that works a place both ways. chance : of both directions."""

    call_sign: str
    chance: float


@dataclass(frozen=True)
class PlaceInCase:
    """One place in one case.

    handheld, mobile : whom such a station there works of those in the net, and of the repeaters that are on
    the air, surest first. handheld_via, mobile_via : the surest of them through whom it is in the net (net
    control, a relay, the net's repeater), '' where there is none. goes : who should go there, '' for nobody
    left; goes_km : how far that is.
    """

    place: ServedPlace
    handheld: tuple[PlaceContact, ...]
    mobile: tuple[PlaceContact, ...]
    handheld_via: str
    mobile_via: str
    goes: str
    goes_km: float | None

    @property
    def handheld_in(self) -> bool:
        """Whether a handheld there is in the net."""
        return bool(self.handheld_via)

    @property
    def mobile_in(self) -> bool:
        """Whether a car there is in the net."""
        return bool(self.mobile_via)


@dataclass(frozen=True)
class PlacesFigures:
    """Served places for machines, a record a case and place."""

    headline: str
    records: tuple[dict[str, Cell], ...]


@dataclass(frozen=True, kw_only=True)
class PlacesAnswer(Answer):
    """cases : of the backup plan; places : for each of them, every place in the order of its file."""

    cases: tuple[Case, ...]
    places: tuple[tuple[PlaceInCase, ...], ...]
    basis: str

    @property
    def figures(self) -> PlacesFigures:
        """As Answer.figures."""
        return PlacesFigures(self.headline, self.rows.records)


def served_places(opened: OpenNet, *, channel: str | None = None, watch: Watch = unwatched) -> PlacesAnswer:
    """Every place of places.csv with a usual handheld and a usual mobile standing there outdoors.

    channel : simplex, by name or frequency; the net's first unless named.
    Raises : InputProblem without places, or for places outside the elevation tiles; MissingTerrain;
    OutOfRange.
    """
    net = opened.net
    places = read_places(Path(net.folder))
    _check_over_tiles(opened, places)
    rules = chosen_rules(opened.folder)
    there = {
        (number, kind): _standing_at(place, kind, number)
        for number, place in enumerate(places)
        for kind in KINDS
    }
    wider = replace(net, stations=(*net.stations, *there.values()))
    on = find_channel(net, channel)
    survey = survey_net(replace(opened, folder=replace(opened.folder, net=wider)), on, watch=watch)
    own = survey_net(opened, on, watch=watch)
    cases = planned_cases(own, rules, opened.folder.planning.battery, watch=watch)
    found = tuple(_in_case(survey, case.plan, places, there, rules.threshold) for case in cases)
    return PlacesAnswer(
        net=net,
        headline=_headline(cases, found),
        assumed=assumed_notes(net),
        in_short=assumed_in_short(net),
        warnings=texts(opened.warnings, own.warnings),
        rows=_rows(cases, found),
        cases=cases,
        places=found,
        basis=basis_note(rules),
    )


def _check_over_tiles(opened: OpenNet, places: Sequence[ServedPlace]) -> None:
    """Raises : InputProblem naming every place without elevation."""
    at = np.array([[p.position.latitude_deg, p.position.longitude_deg] for p in places])
    ground_m = opened.terrain.sample(at[:, 0], at[:, 1])
    faults = [
        Fault(
            f"{place.words} lies where there is no elevation", "add a tile, or correct its place", PLACES_FILE
        )
        for place, height_m in zip(places, ground_m)
        if np.isnan(height_m)
    ]
    if faults:
        raise InputProblem(faults)


def _standing_at(place: ServedPlace, kind: Category, number: int) -> Station:
    """A usual station of a kind at a place, outdoors."""
    where = place.position
    row = ("QK0ZZZ", kind.value, repr(where.latitude_deg), repr(where.longitude_deg))
    (station,) = parse_roster(f"call_sign,category,latitude,longitude\n{','.join(row)}\n").stations
    outdoors = Category.PORTABLE
    return replace(
        station, call_sign=f"PLACE {number + 1} {KINDS[kind].upper()}", category=outdoors, surroundings=(),
        willing_control=False, willing_relay=False,
    )  # fmt: skip


def _in_case(
    survey: NetSurvey,
    plan: OutagePlan,
    places: Sequence[ServedPlace],
    there: dict[tuple[int, Category], Station],
    threshold: Threshold,
) -> tuple[PlaceInCase, ...]:
    free = [
        w.call_sign
        for w in plan.ways
        if w.part not in _BUSY and survey.net.station(w.call_sign).has_radio_path
    ]
    found = []
    for number, place in enumerate(places):
        by_kind = {kind: _contacts(survey, plan, there[number, kind].call_sign, threshold) for kind in KINDS}
        into = {kind: _joins(plan, contacts) for kind, contacts in by_kind.items()}
        found.append((place, by_kind, into))
    going = _who_goes(survey, places, free, [into for _, _, into in found])
    return tuple(
        PlaceInCase(
            place,
            by_kind[Category.PORTABLE],
            by_kind[Category.MOBILE],
            into[Category.PORTABLE],
            into[Category.MOBILE],
            *going.get(number, ("", None)),
        )
        for number, (place, by_kind, into) in enumerate(found)
    )


def _contacts(
    survey: NetSurvey, plan: OutagePlan, call_sign: str, threshold: Threshold
) -> tuple[PlaceContact, ...]:
    pairs: list[tuple[str, DirectedLink, DirectedLink]] = []
    for repeater in plan.standing.repeaters:
        member = survey.repeater(repeater).member(call_sign)
        pairs.append((repeater, member.talk_in, member.talk_out))
    for call in plan.in_net:
        pairs.append((call, survey.simplex.link(call_sign, call), survey.simplex.link(call, call_sign)))
    works = [
        PlaceContact(call, chance_both_directions(there, back))
        for call, there, back in pairs
        if _counts(there, threshold) and _counts(back, threshold)
    ]
    return tuple(sorted(works, key=lambda contact: (-contact.chance, contact.call_sign)))


def _counts(link: DirectedLink, threshold: Threshold) -> bool:
    return link.margin_db >= float(threshold.needed_margin_db(np.array([link.sigma_db]))[0])


def _joins(plan: OutagePlan, contacts: Sequence[PlaceContact]) -> str:
    """Through whom somebody who works these is in the net: its repeater, net control or a relay."""
    if not plan.control:
        return ""
    posts = {plan.hub or plan.control, plan.control, *(plan.plan.relay_calls if plan.plan else ())}
    return next((contact.call_sign for contact in contacts if contact.call_sign in posts), "")


def _who_goes(
    survey: NetSurvey,
    places: Sequence[ServedPlace],
    free: Sequence[str],
    into: Sequence[dict[Category, str]],
) -> dict[int, tuple[str, float | None]]:
    """(who, km) by place: the nearest pairs first, each member to one place, only where its kind gets in.

    Whoever is at home takes a car along; nobody with a duty leaves it.
    """
    pairs = []
    for number, place in enumerate(places):
        for call in free:
            member = survey.net.station(call)
            kind = Category.PORTABLE if member.category is Category.PORTABLE else Category.MOBILE
            if into[number][kind]:
                pairs.append((_km(member, place), call, number))
    going: dict[int, tuple[str, float | None]] = {}
    sent: set[str] = set()
    for km, call, number in sorted(pairs):
        if number not in going and call not in sent:
            going[number] = (call, km)
            sent.add(call)
    return going


def _km(member: Station, place: ServedPlace) -> float:
    length_m, _ = distance_and_bearing(
        from_latitude_deg=member.position.latitude_deg,
        from_longitude_deg=member.position.longitude_deg,
        to_latitude_deg=place.position.latitude_deg,
        to_longitude_deg=place.position.longitude_deg,
    )
    return float(length_m) / 1000.0


def _headline(cases: Sequence[Case], found: Sequence[Sequence[PlaceInCase]]) -> str:
    """How many places are in the net, by handheld and by car, usually and in the worst case."""
    total = len(found[0])
    worst = min(range(len(cases)), key=lambda k: sum(p.handheld_in for p in found[k]))

    def counts(places: Sequence[PlaceInCase]) -> str:
        return f"{sum(p.handheld_in for p in places)} ({sum(p.mobile_in for p in places)} by car)"

    text = (
        f"{total} place{'' if total == 1 else 's'}: a handheld there gets into the net from "
        f"{counts(found[0])} with nothing lost"
    )
    if worst:
        text += f", from {counts(found[worst])} in {cases[worst].letter} ({cases[worst].plan.outage.words})"
    return f"{text}."


def _rows(cases: Sequence[Case], found: Sequence[Sequence[PlaceInCase]]) -> Sheet:
    columns = (
        *("case", "lost", "place", "kind", "handheld_works", "handheld_calls", "mobile_works"),
        *("mobile_calls", "goes", "goes_km"),
    )
    rows: list[tuple[Cell, ...]] = [
        (
            case.letter,
            case.plan.outage.words,
            own.place.name,
            own.place.kind,
            " ".join(c.call_sign for c in own.handheld),
            own.handheld_via,
            " ".join(c.call_sign for c in own.mobile),
            own.mobile_via,
            own.goes,
            own.goes_km,
        )
        for case, places in zip(cases, found)
        for own in places
    ]
    return Sheet(columns, tuple(rows))

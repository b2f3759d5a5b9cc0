"""The nearest spot a member can drive to and get in from."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.answers.open_net import OpenNet
from reach.answers.record import Answer
from reach.answers.sheet import Sheet
from reach.answers.site_words import search_words
from reach.coverage.area.service import Hub, repeater_hub, station_hub
from reach.coverage.search.area import searched_cells
from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import MarginRule, SearchModel, spare_cells
from reach.errors import Fault, InputProblem, NoPlan
from reach.inputs.locators import coordinates_and_locator, locator_of
from reach.inputs.lookup import find_channel, find_party, find_station
from reach.inputs.portable_kit import kit_words, taken_along
from reach.inputs.search_area import SearchArea, TypedArea, read_area
from reach.links.assumed import assumed_in_short, assumed_notes
from reach.links.network import DirectedLink
from reach.links.repeater_survey import survey_repeater
from reach.links.survey import survey_simplex
from reach.machinery.progress import Watch, unwatched
from reach.notes import texts
from reach.plans.relays.rules import rules_of
from reach.plans.sites.cautions import STOPPING, VISIT
from reach.plans.sites.nearest_spot import COMFORTABLE_DB, NearestSpot, spots_in_order
from reach.stations import Channel, Net, Repeater, Station
from reach.units import length_in_words

AT_HOME_M = 50.0  # shown as 0.0 km
MOST_TRIED = 240  # cells worked path by path for one spot
TRIED_AT_ONCE = 20
SLACK_DB = 2.0  # how far below the line of the search a cell is still tried
_AS_PREDICTED = ("Spots are as predicted: reports of who was heard are not counted in them.",)
Party = Station | Repeater


@dataclass(frozen=True)
class SpotsFigures:
    """A search for a spot for machines."""

    headline: str
    member: str
    equipment: str
    threshold: str
    searched_within: str
    spots: tuple[NearestSpot, ...]


@dataclass(frozen=True, kw_only=True)
class SpotsAnswer(Answer):
    """spots : one for each of the parties that can be got into, nearest first. kit : what is taken along.

    grid, candidates : where was searched; spare_db : by the call sign of each party, of the weaker direction
    in every cell, dB.
    """

    member: Station
    kit: Station
    parties: tuple[Party, ...]
    threshold: str
    area: SearchArea
    spots: tuple[NearestSpot, ...]
    grid: SearchGrid
    candidates: Candidates
    spare_db: Mapping[str, NDArray[np.float32]]

    @property
    def figures(self) -> SpotsFigures:
        """As Answer.figures."""
        within = " and ".join(
            f"{place.distance_m:.0f} m of {place.name}" for place in self.area.limits.around
        )
        return SpotsFigures(
            self.headline, self.member.call_sign, kit_words(self.kit), self.threshold, within, self.spots
        )


def spots(
    opened: OpenNet,
    seeker: str,
    *,
    into: Sequence[str] = (),
    area: SearchArea | None = None,
    channel: str | None = None,
    kit: Station | None = None,
    watch: Watch = unwatched,
) -> SpotsAnswer:
    """Where a member can drive to with what can be taken along, for each repeater or member to get into.

    into : call signs; every repeater unless named. area : round the member's home when not given.
    channel : for members to get into, the net's first unless named. kit : what is taken along, see
    `inputs.portable_kit.taken_along`.
    Raises : InputProblem for what is not in the net; NoPlan where nobody can be got into; MissingTerrain;
        OutOfRange; ReachError when the search does not fit into memory.
    """
    net = opened.net
    rule = rules_of(opened.folder.planning).threshold
    member = find_station(net, seeker)
    area = read_area(TypedArea(), net, home=member) if area is None else area
    parties = _parties(net, member, into)
    kit = taken_along(member) if kit is None else kit
    on = find_channel(net, channel)
    hubs = [
        repeater_hub(party, net) if isinstance(party, Repeater) else station_hub(party, on, net)
        for party in parties
    ]
    places = [member.position, *(party.position for party in parties)]
    grid, candidates = searched_cells(opened.net, opened.terrain, area, places)
    spare_db = _spare(grid, hubs, kit, rule, net, watch)
    by_hub = {party.call_sign: party for party in parties}
    with watch("spots path by path"):
        reached = [
            spot
            for call in sorted(spare_db)
            if (
                spot := _rechecked(
                    opened, kit, by_hub[call], on, rule, member, grid, candidates, spare_db[call]
                )
            )
        ]
    found = tuple(sorted(reached, key=lambda spot: spot.distance_m))
    if not found:
        raise NoPlan(_nothing(member, kit, parties, area))
    basis = _basis(opened.net, kit, rule.words, area.cell_m)
    return SpotsAnswer(
        net=net,
        headline=_headline(member, parties, found),
        assumed=(*basis, *assumed_notes(net, parties)),
        in_short=(*basis, *assumed_in_short(net, parties)),
        warnings=texts(opened.warnings, _AS_PREDICTED if opened.learned.bands else ()),
        rows=_rows(member, found),
        member=member,
        kit=kit,
        parties=parties,
        threshold=rule.words,
        area=area,
        spots=found,
        grid=grid,
        candidates=candidates,
        spare_db=spare_db,
    )


def _parties(net: Net, member: Station, into: Sequence[str]) -> tuple[Party, ...]:
    """Whom to get into: those named, else every repeater. Raises : InputProblem."""
    if not member.has_radio_path:
        raise InputProblem(
            Fault(f"{member.call_sign} is linked over the internet and has no radio path", "name another")
        )
    if not into and not net.repeaters:
        raise InputProblem(Fault(f"{net.name} has no repeater", "name a member to get into with --into"))
    found = tuple(find_party(net, call) for call in dict.fromkeys(call.strip().upper() for call in into))
    for party in found:
        if isinstance(party, Station) and not party.has_radio_path:
            raise InputProblem(Fault(f"{party.call_sign} has no radio path", "name another after --into"))
        if party.call_sign == member.call_sign:
            raise InputProblem(
                Fault(f"{member.call_sign} cannot get into itself", "name another after --into")
            )
    return found or net.repeaters


def _spare(
    grid: SearchGrid, hubs: Sequence[Hub], kit: Station, rule: MarginRule, net: Net, watch: Watch
) -> dict[str, NDArray[np.float32]]:
    """One sweep a hub."""
    spare_db = {}
    with watch("sweeps") as progress:
        for number, hub in enumerate(hubs, start=1):
            spare_db[hub.call_sign] = spare_cells(
                grid, hub, kit, rule, net_noise=net.noise, k_factor=net.k_factor, how=SearchModel.of(net)
            )
            progress(number, len(hubs))
    return spare_db


def _rechecked(
    opened: OpenNet,
    kit: Station,
    party: Party,
    channel: Channel,
    rule: MarginRule,
    member: Station,
    grid: SearchGrid,
    candidates: Candidates,
    spare_db: NDArray[np.float32],
) -> NearestSpot | None:
    """The nearest spot that gets in by the net's own model on its single path, and the nearest comfortable
    one.
    """  # fmt: skip

    def nearest(needed_db: float) -> NearestSpot | None:
        # half a cell and an edge between two cells may cost or give a little: look a little below the line
        spots = spots_in_order(
            grid, candidates, spare_db, member.position, party.call_sign,
            needed_db=needed_db - SLACK_DB, count=MOST_TRIED,
        )  # fmt: skip
        for start in range(0, len(spots), TRIED_AT_ONCE):
            few = spots[start : start + TRIED_AT_ONCE]
            for spot, own_db in zip(few, _spare_by_path(opened, kit, party, channel, rule, few)):
                if own_db >= needed_db:
                    return replace(spot, spare_db=own_db)
        return None

    spot = nearest(0.0)
    return None if spot is None else replace(spot, comfortable=nearest(COMFORTABLE_DB))


def _spare_by_path(
    opened: OpenNet,
    kit: Station,
    party: Party,
    channel: Channel,
    rule: MarginRule,
    spots: Sequence[NearestSpot],
) -> list[float]:
    """What each spot has to spare in the weaker direction, dB, by the net's own model."""
    there = [replace(kit, call_sign=f"SPOT {k}", position=spot.position) for k, spot in enumerate(spots)]
    links: list[tuple[DirectedLink, DirectedLink]]
    if isinstance(party, Repeater):
        survey = survey_repeater(replace(opened.net, stations=tuple(there)), opened.terrain, party)
        links = [(m.talk_in, m.talk_out) for m in (survey.member(s.call_sign) for s in there)]
    else:
        net = replace(opened.net, stations=(party, *there))
        paths = survey_simplex(net, opened.terrain, channel)
        links = [
            (paths.link(s.call_sign, party.call_sign), paths.link(party.call_sign, s.call_sign))
            for s in there
        ]

    def spare(link: DirectedLink) -> float:
        return link.margin_db - float(rule.needed_margin_db(np.array([link.sigma_db]))[0])

    return [min(spare(one), spare(other)) for one, other in links]


def _nothing(member: Station, kit: Station, parties: Sequence[Party], area: SearchArea) -> str:
    asked = " and ".join(
        f"{length_in_words(place.distance_m)} of {place.name}" for place in area.limits.around
    )
    return (
        f"within {asked} no cell lets {member.call_sign} ({kit_words(kit)}) into "
        f"{' or '.join(party.call_sign for party in parties)}; give a greater --within, another --into, or "
        "relax the other limits."
    )


def _headline(member: Station, parties: Sequence[Party], found: Sequence[NearestSpot]) -> str:
    best = found[0]
    if best.distance_m < AT_HOME_M:
        start = f"{member.call_sign} gets into {best.hub} from home, outdoors with what can be taken along"
    else:
        start = (
            f"{member.call_sign} gets into {best.hub} from {best.distance_m / 1000.0:.1f} km "
            f"{_compass(best.bearing_deg)} of home, at {coordinates_and_locator(best.position)}"
        )
    others = [
        f"into {spot.hub} from "
        + ("home" if spot.distance_m < AT_HOME_M else f"{spot.distance_m / 1000.0:.1f} km")
        for spot in found[1:]
    ]
    met = {spot.hub for spot in found}
    others += [f"nowhere in reach into {party.call_sign}" for party in parties if party.call_sign not in met]
    return f"{start}{'; ' + ', '.join(others) if others else ''}."


def _compass(bearing_deg: float) -> str:
    """'north-east' and the like, one of eight."""
    names = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return names[round(bearing_deg / 45.0) % 8]


def _basis(net: Net, kit: Station, threshold: str, cell_m: float) -> tuple[str, ...]:
    """What the answer rests on and what it does not know."""
    return (
        f"With {kit_words(kit)}, standing still outdoors; a link counts at {threshold}. Distances "
        "are straight lines: the way by road is longer.",
        f"Cells of {length_in_words(cell_m)}; {search_words(net)}. Where there is a choice take the spot "
        "with 6 dB to spare.",
        f"{VISIT} {STOPPING}",
    )


def _rows(member: Station, found: Sequence[NearestSpot]) -> Sheet:
    """One row a spot, and one for the nearest with dB to spare."""
    columns = (
        *("station", "into", "spot", "latitude_deg", "longitude_deg", "locator", "elevation_m"),
        *("distance_km", "bearing_deg", "spare_db"),
    )
    rows = tuple(
        (
            member.call_sign,
            spot.hub,
            kind,
            place.position.latitude_deg,
            place.position.longitude_deg,
            locator_of(place.position, characters=8),
            round(place.elevation_m, 1),
            place.distance_m / 1000.0,
            place.bearing_deg,
            place.spare_db,
        )
        for spot in found
        for kind, place in (("nearest", spot), ("6 dB to spare", spot.comfortable))
        if place is not None
    )
    return Sheet(columns, rows)

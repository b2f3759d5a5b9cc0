"""Where to put a portable relay: the best site, the best few together, the nearest spot to drive to.

A portable relay passes on, both ways, whatever it hears: every member it works both ways is linked with every
other it works. Three goals, and a fourth for members named one by one:

- MOST: the most members reached by at least one of the sites;
- CUT_OFF: the most members of those a plan leaves out. A site counts for them only when it also works at
  least one member who is in the net, so that each site ties to the net by itself;
- GROUPS: groups of members that cannot reach each other, whatever relays among themselves. A site joins the
  groups in which it works at least one member each; what counts is the number of members so joined;
- NAMED: the most of the members named.

Several sites together cover what any of them covers. With Tie.SHARED every site has to share a member (a
group, for GROUPS) with another, so that traffic passes between them through that member.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.coverage.member_layer import MarginRule, MemberLayer, SiteChannels
from reach.coverage.search_grid import Candidates, SearchGrid
from reach.errors import NoPlan
from reach.geodesy import distance_and_bearing
from reach.links.network import DirectedLink, SimplexNetwork
from reach.links.paths import Progress
from reach.links.survey import survey_simplex
from reach.plans.optimiser import StageProof
from reach.plans.site_cover import Tie, best_cover
from reach.plans.site_patterns import (
    Patterns,
    distinct_patterns,
    members_of,
    regrouped,
    words_of,
)
from reach.stations import Net, Position, Station
from reach.terrain.tiles import Terrain

__all__ = [
    "COMFORTABLE_DB",
    "Goal",
    "LinkTask",
    "NearestSpot",
    "Site",
    "SiteLink",
    "SiteLinks",
    "SitePlan",
    "Tie",
    "cut_off_task",
    "groups_task",
    "linked_by",
    "most_task",
    "named_task",
    "nearest_spots",
    "plan_sites",
    "survey_sites",
]

COMFORTABLE_DB = 6.0  # to spare, so that a small error of place or model does not matter (common practice)


class Goal(Enum):
    """What the sites are for."""

    MOST = "most"
    CUT_OFF = "cut-off"
    GROUPS = "groups"
    NAMED = "named"


@dataclass(frozen=True)
class LinkTask:
    """Who is to be linked.

    wanted : the members that count. anchors : a site has to work at least one of them; () for no such need.
    groups : for GROUPS, members of each.
    """

    goal: Goal
    wanted: tuple[str, ...]
    anchors: tuple[str, ...] = ()
    groups: tuple[tuple[str, ...], ...] = ()

    @property
    def decisive(self) -> tuple[tuple[str, ...], ...]:
        """Whose links decide how good a cell is: every wanted member, or the strongest of each group."""
        return self.groups or tuple((call,) for call in self.wanted)


def most_task(net: Net) -> LinkTask:
    """Every member with a radio path counts."""
    return LinkTask(Goal.MOST, tuple(s.call_sign for s in net.stations if s.has_radio_path))


def named_task(call_signs: Sequence[str]) -> LinkTask:
    """Only these count."""
    return LinkTask(Goal.NAMED, tuple(dict.fromkeys(call_signs)))


def cut_off_task(net: Net, cut_off: Sequence[str]) -> LinkTask:
    """Those a plan leaves out; everyone else with a radio path is in the net. Raises : NoPlan for nobody."""
    if not cut_off:
        raise NoPlan("nobody is cut off: the plan reaches everyone; look for the most members instead.")
    out = frozenset(cut_off)
    inside = tuple(s.call_sign for s in net.stations if s.has_radio_path and s.call_sign not in out)
    return LinkTask(Goal.CUT_OFF, tuple(sorted(out)), inside)


def groups_task(groups: Sequence[Sequence[str]]) -> LinkTask:
    """Groups that cannot reach each other. Raises : NoPlan when there is only one."""
    if len(groups) < 2:
        raise NoPlan(
            "the members already form one group: anyone can be reached through others; look for the most "
            "members instead."
        )
    return LinkTask(
        Goal.GROUPS, tuple(call for group in groups for call in group), (), tuple(tuple(g) for g in groups)
    )


@dataclass(frozen=True)
class Site:
    """A cell to put a relay in.

    reaches : members it works both ways by the sweep; counts : how much it does for the goal by itself;
    spare_db : of the weakest that counts (of each group the strongest), over what the rules need.
    """

    cell: int
    position: Position
    elevation_m: float
    reaches: tuple[str, ...]
    counts: int
    spare_db: float


@dataclass(frozen=True)
class SitePlan:
    """The answer of a search.

    singles : the best sites each by itself, best first, apart from each other. together : sites to use at
    once, () when only one was asked for; linked : what they do for the goal, members.
    candidates : cells searched; patterns : distinct sets of members among them; proofs : of `together`.
    """

    task: LinkTask
    singles: tuple[Site, ...]
    together: tuple[Site, ...]
    linked: tuple[str, ...]
    candidates: int
    patterns: int
    proofs: tuple[StageProof, ...]


def plan_sites(
    layer: MemberLayer,
    candidates: Candidates,
    task: LinkTask,
    *,
    count: int = 1,
    tie: Tie = Tie.NONE,
    apart_m: float = 0.0,
    singles: int = 5,
    singles_apart_m: float = 1000.0,
) -> SitePlan:
    """The best single sites and the best `count` together, exact over all candidate cells.

    Ties between cells : the one whose weakest wanted member has most to spare, then the northernmost, the
    westernmost. apart_m : least distance between sites used together; singles_apart_m : between those ranked.
    Raises : NoPlan when no candidate does anything for the goal.
    """
    grid = layer.grid
    mask = candidates.mask & layer.known
    cells = np.flatnonzero(mask.ravel())
    if not cells.size:
        raise NoPlan("no cell is left from which every path is known; add elevation tiles between.")
    planes = layer.planes.reshape(layer.planes.shape[0], -1)[:, cells]
    every = distinct_patterns(planes, cells, layer.worst_db.ravel()[cells])
    useful, weights = _for_goal(every, layer.call_signs, task)
    if task.goal is Goal.GROUPS:
        tie = Tie.SHARED  # groups joined here and groups joined there are not yet one net
    elif task.anchors:
        tie = Tie.NONE  # every site hangs on the net already
    if not len(useful):
        raise NoPlan(_nothing_useful(task))
    row, column = np.divmod(useful.cells, grid.columns)
    east_m, north_m = grid.columns_m()[column], grid.rows_m()[row]
    worth = members_of(useful.words, len(weights)).astype(np.float64) @ np.asarray(weights, dtype=np.float64)

    def site(candidate: int) -> Site:
        cell = int(useful.cells[candidate])
        return Site(
            cell,
            grid.position(cell),
            float(grid.elevation_m.ravel()[cell]),
            layer.reached(cell),
            round(float(worth[useful.pattern_of[candidate]])),
            float(useful.quality_db[candidate]),
        )

    ranked = _ranked(worth[useful.pattern_of], useful.quality_db, east_m, north_m, singles, singles_apart_m)
    best = tuple(site(candidate) for candidate in ranked)
    together: tuple[Site, ...] = ()
    proofs: tuple[StageProof, ...] = ()
    if count > 1:
        cover = best_cover(
            useful, weights, count=count, tie=tie, apart_m=apart_m, east_m=east_m, north_m=north_m
        )
        together, proofs = tuple(site(candidate) for candidate in cover.candidates), cover.proofs
    return SitePlan(
        task=task,
        singles=best,
        together=together,
        linked=linked_by(task, [s.reaches for s in (together or best[:1])]),
        candidates=int(cells.size),
        patterns=len(every),
        proofs=proofs,
    )


def linked_by(task: LinkTask, reaches: Sequence[Sequence[str]]) -> tuple[str, ...]:
    """Which wanted members some sites link, given whom each works. Order as in the task."""
    found: set[str] = set()
    for calls in reaches:
        worked = frozenset(calls)
        if task.goal is Goal.GROUPS:
            met = [group for group in task.groups if worked & set(group)]
            if len(met) > 1:
                found.update(call for group in met for call in group)
        elif not task.anchors or worked & set(task.anchors):
            found.update(worked & set(task.wanted))
    return tuple(call for call in task.wanted if call in found)


def _for_goal(
    every: Patterns, call_signs: Sequence[str], task: LinkTask
) -> tuple[Patterns, tuple[float, ...]]:
    """The sets in terms of the goal, useless ones dropped, and what each bit of them weighs."""
    members = members_of(every.words, len(call_signs))
    place = {call: j for j, call in enumerate(call_signs)}
    if task.goal is Goal.GROUPS:
        in_group = np.stack(
            [members[:, [place[call] for call in group]].any(axis=1) for group in task.groups], axis=1
        )
        in_group[in_group.sum(axis=1) < 2] = False  # one group alone is nothing joined
        return regrouped(every, words_of(in_group)), tuple(float(len(group)) for group in task.groups)
    wanted = np.array([call in set(task.wanted) for call in call_signs])
    kept = members & wanted if task.goal is Goal.CUT_OFF else members.copy()
    if task.anchors:
        kept[~members[:, [place[call] for call in task.anchors]].any(axis=1)] = False
    kept[~(kept & wanted).any(axis=1)] = False
    return regrouped(every, words_of(kept)), tuple(wanted.astype(float).tolist())


def _ranked(
    worth: NDArray[np.float64],
    quality_db: NDArray[np.float32],
    east_m: NDArray[np.float64],
    north_m: NDArray[np.float64],
    count: int,
    apart_m: float,
) -> list[int]:
    """Candidates by worth, then by quality, then in order, each at least apart_m from those before it."""
    left = np.ones(worth.size, dtype=np.bool_)
    found: list[int] = []
    while len(found) < count and left.any():
        top = worth[left].max()
        among = np.flatnonzero(left & (worth == top))
        best = int(among[np.argmax(quality_db[among])])
        found.append(best)
        left &= np.hypot(east_m - east_m[best], north_m - north_m[best]) >= max(apart_m, 1e-6)
    return found


def _nothing_useful(task: LinkTask) -> str:
    fixes = (
        "try a wider search area, a higher mast, more power, a better antenna or a lower relay_readability"
    )
    if task.goal is Goal.GROUPS:
        return f"no cell works members of two of the {len(task.groups)} groups; {fixes}."
    if task.goal is Goal.CUT_OFF:
        return f"no cell works any of {', '.join(task.wanted)} and someone in the net as well; {fixes}."
    return f"no cell works any of {', '.join(task.wanted)}; {fixes}."


@dataclass(frozen=True)
class SiteLink:
    """One member and one site, path by path. talk_in : the site hears the member; talk_out : the reverse."""

    call_sign: str
    talk_in: DirectedLink
    talk_out: DirectedLink
    works: bool

    @property
    def weaker(self) -> DirectedLink:
        """The direction with less margin."""
        return min(self.talk_in, self.talk_out, key=lambda link: link.margin_db)

    @property
    def chance(self) -> float:
        """Of both directions; one path, so the weaker decides."""
        return min(self.talk_in.chance, self.talk_out.chance)


@dataclass(frozen=True)
class SiteLinks:
    """A site's links by the net's own path model, strongest first.

    lost : members the sweep counted and the single paths do not; gained : the reverse.
    other_sites : names of the sites it works both ways on the same channel.
    """

    site: Site
    name: str
    links: tuple[SiteLink, ...]
    lost: tuple[str, ...]
    gained: tuple[str, ...]
    other_sites: tuple[str, ...] = ()

    @property
    def works(self) -> tuple[str, ...]:
        """Members it works both ways, strongest first."""
        return tuple(link.call_sign for link in self.links if link.works)


def survey_sites(
    sites: Sequence[Site],
    names: Sequence[str],
    station: Station,
    channels: SiteChannels,
    rule: MarginRule,
    net: Net,
    terrain: Terrain,
    *,
    progress: Progress | None = None,
) -> tuple[SiteLinks, ...]:
    """Every member against every site, path by path with the net's own model and land cover.

    names : of the sites, all different, none of them a member's call sign.

    Raises : MissingTerrain, OutOfRange.
    """
    members = tuple(s for s in net.stations if s.has_radio_path)
    put = tuple(
        replace(station, call_sign=name.upper(), position=site.position) for name, site in zip(names, sites)
    )
    wider = replace(net, stations=(*members, *put))
    listening = survey_simplex(wider, terrain, channels.listen, progress=progress)
    talking = (
        survey_simplex(wider, terrain, channels.talk, progress=progress) if channels.is_pair else listening
    )
    found = []
    for name, site, own in zip(names, sites, put):
        links = []
        for member in members:
            talk_in = listening.link(member.call_sign, own.call_sign)
            talk_out = talking.link(own.call_sign, member.call_sign)
            links.append(
                SiteLink(
                    member.call_sign, talk_in, talk_out, _counts(talk_in, rule) and _counts(talk_out, rule)
                )
            )
        links.sort(key=lambda link: (-link.weaker.margin_db, link.call_sign))
        works = {link.call_sign for link in links if link.works}
        found.append(
            SiteLinks(
                site,
                name,
                tuple(links),
                tuple(sorted(set(site.reaches) - works)),
                tuple(sorted(works - set(site.reaches))),
                tuple(
                    other_name
                    for other_name, other in zip(names, put)
                    if other is not own and not channels.is_pair and _both(listening, own, other, rule)
                ),
            )
        )
    return tuple(found)


def _counts(link: DirectedLink, rule: MarginRule) -> bool:
    needed = float(rule.needed_margin_db(np.array([link.sigma_db]))[0])
    return link.margin_db >= needed


def _both(network: SimplexNetwork, a: Station, b: Station, rule: MarginRule) -> bool:
    return _counts(network.link(a.call_sign, b.call_sign), rule) and _counts(
        network.link(b.call_sign, a.call_sign), rule
    )


@dataclass(frozen=True)
class NearestSpot:
    """The nearest cell from which someone gets into a hub, and the nearest with COMFORTABLE_DB to spare.

    distance_m, bearing_deg : from their usual place. comfortable : None when there is none in reach.
    """

    hub: str
    position: Position
    elevation_m: float
    distance_m: float
    bearing_deg: float
    spare_db: float
    comfortable: NearestSpot | None = None


def nearest_spots(
    grid: SearchGrid,
    candidates: Candidates,
    spare_db: Mapping[str, NDArray[np.float32]],
    home: Position,
) -> tuple[NearestSpot, ...]:
    """For each hub that any candidate cell gets into, the nearest such cell; nearest hub first.

    spare_db : hub -> spare of the weaker direction in every cell, dB. Ties : the northernmost cell, then the
    westernmost; hubs by name.
    """
    east_m, north_m = grid.place_m(home)
    distance_m = np.where(candidates.mask, grid.distance_m(east_m, north_m), np.inf)
    found = []
    for hub in sorted(spare_db):
        spot = _nearest(grid, distance_m, spare_db[hub], home, hub, needed_db=0.0)
        if spot is not None:
            roomy = _nearest(grid, distance_m, spare_db[hub], home, hub, needed_db=COMFORTABLE_DB)
            found.append(replace(spot, comfortable=roomy))
    return tuple(sorted(found, key=lambda spot: spot.distance_m))


def _nearest(
    grid: SearchGrid,
    distance_m: NDArray[np.float64],
    spare_db: NDArray[np.float32],
    home: Position,
    hub: str,
    *,
    needed_db: float,
) -> NearestSpot | None:
    open_m = np.where(spare_db >= needed_db, distance_m, np.inf)
    cell = int(np.argmin(open_m))
    if not np.isfinite(open_m.ravel()[cell]):
        return None
    place = grid.position(cell)
    length_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=home.latitude_deg,
        from_longitude_deg=home.longitude_deg,
        to_latitude_deg=place.latitude_deg,
        to_longitude_deg=place.longitude_deg,
    )
    return NearestSpot(
        hub,
        place,
        float(grid.elevation_m.ravel()[cell]),
        float(length_m),
        float(bearing_deg),
        float(spare_db.ravel()[cell]),
    )

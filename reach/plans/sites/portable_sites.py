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

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

import numpy as np
from numpy.typing import NDArray

from reach.coverage.search.grid import Candidates, SearchGrid
from reach.coverage.search.member_layer import MemberLayer
from reach.errors import NoPlan
from reach.plans.optimiser.stages import StageProof
from reach.plans.sites.best_together import Tie, best_cover
from reach.plans.sites.patterns import (
    Patterns,
    distinct_patterns,
    members_of,
    regrouped,
    words_of,
)
from reach.stations import Net, Position

__all__ = [
    "Goal",
    "LinkTask",
    "Site",
    "SitePlan",
    "Tie",
    "cut_off_task",
    "groups_task",
    "linked_by",
    "most_task",
    "named_task",
    "plan_sites",
]


MOST_CONTENDERS = 60  # sets worked path by path for each site to use
EVERY_CELL = 240  # up to so many cells a single site is sought in every one of them, path by path


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
    candidates : cells searched; proofs : of `together`, as the search counts.
    contenders : for each site to use together, the strongest cell of every other set that would do as well
    by the search: what the net's own model may put before it. alone : the cells that one site may stand in,
    those that link most by the search first.
    tie : whether several sites had to hang together.
    every_cell : whether `alone` is all the cells searched, so that the net's own model decides by itself.
    decided_from : cells that link fewer by the search have no part in `singles` and `alone`; 0 where they do.
    """

    task: LinkTask
    singles: tuple[Site, ...]
    together: tuple[Site, ...]
    linked: tuple[str, ...]
    candidates: int
    proofs: tuple[StageProof, ...]
    contenders: tuple[tuple[Site, ...], ...] = ()
    alone: tuple[Site, ...] = ()
    tie: Tie = Tie.NONE
    every_cell: bool = False
    decided_from: int = 0

    @property
    def best_count(self) -> int:
        """The most wanted members the cells searched can link, as the search counts."""
        return round(self.proofs[0].value) if self.proofs else self.singles[0].counts

    @property
    def counted_best(self) -> bool:
        """Whether nothing that was searched links more, as the search counts: a single site always."""
        return all(proof.proven for proof in self.proofs[:1])


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
    worked: int = EVERY_CELL,
) -> SitePlan:
    """The best single sites and the best `count` together, exact over all candidate cells.

    Ties between cells : the one whose weakest wanted member has most to spare, then the northernmost, the
    westernmost. apart_m : least distance between sites used together; singles_apart_m : between those ranked.
    worked : how many of the best cells to work path by path.
    Raises : NoPlan when no candidate does anything for the goal.
    """
    grid = layer.grid
    mask = candidates.mask & layer.known
    searched = int(np.count_nonzero(mask))
    cells = np.flatnonzero((mask & layer.whole).ravel())
    if not searched:
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
    worth = members_of(useful.words, len(weights)).astype(np.float64) @ np.asarray(weights, dtype=np.float64)

    def site(candidate: int) -> Site:
        cell = int(useful.cells[candidate])
        return Site(
            cell,
            grid.position(cell),
            float(grid.elevation_m.flat[cell]),
            layer.reached(cell),
            round(float(worth[useful.pattern_of[candidate]])),
            float(useful.quality_db[candidate]),
        )

    ranked = _ranked(grid, useful, worth, singles, singles_apart_m)
    best = tuple(site(candidate) for candidate in ranked)
    members = members_of(useful.words, len(weights))
    together: tuple[Site, ...] = ()
    proofs: tuple[StageProof, ...] = ()
    rivals: list[NDArray[np.int64]] = []
    if count > 1:
        east_m, north_m = _places_m(grid, useful.cells)
        cover = best_cover(
            useful, weights, count=count, tie=tie, apart_m=apart_m, east_m=east_m, north_m=north_m
        )
        together, proofs = tuple(site(candidate) for candidate in cover.candidates), cover.proofs
        held = [members[useful.pattern_of[candidate]] for candidate in cover.candidates]
        rivals = [_as_good(members, weights, held, place) for place in range(len(held))]
    strongest = useful.best_cells()
    contenders = tuple(
        tuple(site(int(strongest[k])) for k in _strongest_first(sets, worth, useful.quality_db[strongest]))
        for sets in rivals
    )
    every_cell = searched <= EVERY_CELL
    decided_from = 0
    if every_cell:
        place = {int(cell): candidate for candidate, cell in enumerate(useful.cells)}
        alone = tuple(
            site(place[cell]) if cell in place else site_of(layer, cell, task) for cell in cells.tolist()
        )
    else:
        sets = _strongest_first(np.arange(len(useful)), worth, useful.quality_db[strongest])
        of_sets = strongest[sets].tolist()
        first = _first_cells(useful, worth, worked).tolist()
        alone = tuple(site(candidate) for candidate in dict.fromkeys([*of_sets, *first]))
        rows = ((ranked, singles), (of_sets, MOST_CONTENDERS), (first, worked))
        if all(len(row) == asked for row, asked in rows):
            decided_from = min(round(float(worth[useful.pattern_of[row[-1]]])) for row, _ in rows)
    return SitePlan(
        task=task,
        singles=best,
        together=together,
        linked=linked_by(task, [s.reaches for s in (together or best[:1])]),
        candidates=searched,
        proofs=proofs,
        contenders=contenders,
        alone=alone,
        tie=tie,
        every_cell=every_cell,
        decided_from=decided_from,
    )


def could_link_more(
    layer: MemberLayer, candidates: Candidates, *, than: int, worked: Iterable[int]
) -> NDArray[np.int64]:
    """Cells not worked yet that would link more wanted members than that, were every path SLACK_DB better
    than its sweep: the most first, then those whose weakest is strongest.

    For tasks whose members count one by one, not for groups.
    """
    left = candidates.mask & layer.known & (layer.hopeful > than)
    left.flat[list(worked)] = False
    cells = np.flatnonzero(left)
    hope, worst_db = layer.hopeful.flat[cells], layer.worst_db.flat[cells]
    return cells[np.lexsort((cells, -worst_db, -hope.astype(np.int64)))]


def site_of(layer: MemberLayer, cell: int, task: LinkTask) -> Site:
    """A cell as a place for a relay, as the search counts."""
    reaches = layer.reached(cell)
    counts = len(linked_by(task, [reaches]))
    elevation_m = float(layer.grid.elevation_m.flat[cell])
    worst_db = float(layer.worst_db.flat[cell])
    return Site(
        cell, layer.grid.position(cell), elevation_m, reaches, counts, worst_db if counts else -np.inf
    )


def _first_cells(useful: Patterns, worth: NDArray[np.float64], most: int) -> NDArray[np.int64]:
    """At most so many candidates: those whose set is worth most, then those whose weakest is strongest."""
    levels, level_of = np.unique(worth, return_inverse=True)
    cells = np.bincount(level_of[useful.pattern_of], minlength=levels.size)
    at_least = np.cumsum(cells[::-1])
    lowest = levels[::-1][min(int(np.searchsorted(at_least, most)), levels.size - 1)]
    among = np.flatnonzero((worth >= lowest)[useful.pattern_of])
    order = np.lexsort((among, -useful.quality_db[among], -worth[useful.pattern_of[among]]))
    return among[order][:most]


def _as_good(
    members: NDArray[np.bool_], weights: Sequence[float], held: Sequence[NDArray[np.bool_]], place: int
) -> NDArray[np.int64]:
    """The sets that may stand in one place of a choice without covering less. held : the sets chosen."""
    rest = np.zeros(members.shape[1], dtype=np.bool_)
    for k, own in enumerate(held):
        rest = rest if k == place else rest | own
    weight = np.asarray(weights, dtype=np.float64)
    return np.flatnonzero((members | rest) @ weight >= (rest | held[place]) @ weight - 1e-9)


def _strongest_first(
    sets: NDArray[np.int64], worth: NDArray[np.float64], quality_db: NDArray[np.float32]
) -> NDArray[np.int64]:
    """At most MOST_CONTENDERS of some sets: those that link most, then those whose weakest is strongest."""
    return sets[np.lexsort((-quality_db[sets], -worth[sets]))][:MOST_CONTENDERS]


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
    grid: SearchGrid, useful: Patterns, worth: NDArray[np.float64], count: int, apart_m: float
) -> list[int]:
    """Candidates by their set's worth, then by quality, then in order, each at least apart_m from those
    before it."""
    found: list[int] = []
    for level in np.unique(worth)[::-1]:
        among = np.flatnonzero((worth == level)[useful.pattern_of])
        for east, north in zip(*_places_m(grid, useful.cells[found])):
            among = _beyond(grid, useful, among, (east, north), apart_m)
        while among.size:
            if len(found) == count:
                return found
            best = int(among[np.argmax(useful.quality_db[among])])
            found.append(best)
            (east,), (north,) = _places_m(grid, useful.cells[[best]])
            among = _beyond(grid, useful, among, (east, north), max(apart_m, 1e-6))
    return found


def _beyond(
    grid: SearchGrid,
    useful: Patterns,
    among: NDArray[np.int64],
    place_m: tuple[float, float],
    apart_m: float,
) -> NDArray[np.int64]:
    """Those of some candidates at least apart_m from a place."""
    east_m, north_m = _places_m(grid, useful.cells[among])
    return among[np.hypot(east_m - place_m[0], north_m - place_m[1]) >= apart_m]


def _places_m(grid: SearchGrid, cells: NDArray[np.int64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """East and north of cells, m."""
    row, column = np.divmod(cells, grid.columns)
    return grid.columns_m()[column], grid.rows_m()[row]


def _nothing_useful(task: LinkTask) -> str:
    fixes = (
        "try a wider search area, a higher mast, more power, a better antenna or a lower relay_readability"
    )
    if task.goal is Goal.GROUPS:
        return f"no cell works members of two of the {len(task.groups)} groups; {fixes}."
    if task.goal is Goal.CUT_OFF:
        return f"no cell works any of {', '.join(task.wanted)} and someone in the net as well; {fixes}."
    return f"no cell works any of {', '.join(task.wanted)}; {fixes}."

"""The best sites together: exact maximum coverage over the sets of members that cells reach.

Maximum coverage is solved by a mixed-integer model over the sets contained in no other (nothing is lost: a
larger set serves as well). Two further wishes are met by cutting off what breaks them and solving again:

- tied: every site shares a member with another, so that all hang together;
- apart: cells can be found for all of them at a minimum distance from each other. A chosen set may stand in
  any cell that reaches at least that set. When no such cells exist, the choice is cut off and the largest
  sets below the chosen ones join the model, so that a smaller set elsewhere can take their place; every
  placing that meets the distance stays possible throughout, so the first that can be placed is the best.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from enum import Enum

import numpy as np
import shapely
from numpy.typing import NDArray

from reach.errors import NoPlan
from reach.plans.optimiser.stages import StagedModel, StageProof
from reach.plans.sites.patterns import Patterns, Words, maximal, members_of
from reach.units import length_in_words

FloatArray = NDArray[np.float64]

BEST_QUALITY_DB = 20.0  # margins beyond this add nothing to a choice between equals
TIME_LIMIT_S = 20.0
MOST_SOLVES = 500  # rounds of cutting off; a round takes a fraction of a second
TRIED_FIRST = 30  # best candidates tried before the far ones are sorted out


class Tie(Enum):
    """Whether several sites have to hang together."""

    NONE = "none"
    SHARED = "shared"  # through members that two sites both reach


@dataclass(frozen=True)
class SitesTogether:
    """Sites chosen together. candidates : places in Patterns.cells, strongest set first.

    value : weight covered; proofs : what the optimiser proved, stage by stage.
    """

    candidates: tuple[int, ...]
    value: float
    proofs: tuple[StageProof, ...]

    @property
    def proven(self) -> bool:
        """Whether nothing covers more."""
        return all(proof.proven for proof in self.proofs[:1])


@dataclass
class _Search:
    """What grows from one solve to the next: the sets in the model and what has been cut off."""

    active: list[int]
    expanded: set[int] = field(default_factory=set)
    not_together: list[tuple[int, ...]] = field(default_factory=list)
    not_alone: list[tuple[tuple[int, ...], int]] = field(default_factory=list)


def best_cover(
    patterns: Patterns,
    weights: Sequence[float],
    *,
    count: int,
    tie: Tie = Tie.NONE,
    apart_m: float = 0.0,
    east_m: FloatArray | None = None,
    north_m: FloatArray | None = None,
    time_limit_s: float = TIME_LIMIT_S,
) -> SitesTogether:
    """At most `count` sites that together cover the largest weight; of those the fewest, then the strongest.

    weights : of each bit of the sets, zero or more. apart_m : least distance between any two sites, m;
    east_m, north_m : (cells,) where the candidates stand, needed with apart_m.
    time_limit_s : for each solve; past it the gap is in the proofs. Ties : the first set, the first cell.
    Raises : ValueError for no set at all, or apart_m without places; NoPlan when distance and tie leave so
        many near misses that MOST_SOLVES rounds do not settle them.
    """
    if not len(patterns):
        raise ValueError("no set of members to choose from")
    if apart_m > 0.0 and (east_m is None or north_m is None):
        raise ValueError("a least distance needs the places of the candidates")
    members = members_of(patterns.words, len(weights))
    best = patterns.best_cells()
    quality = np.clip(patterns.quality_db[best].astype(np.float64), 0.0, BEST_QUALITY_DB)
    search = _Search([int(p) for p in maximal(patterns.words)])
    stands = None
    if east_m is not None and north_m is not None:
        stands = _Stands(patterns, east_m, north_m)
    for _ in range(MOST_SOLVES):
        model, chosen = _solve(members, weights, quality, search, count=count, time_limit_s=time_limit_s)
        loose = _loose_part(patterns.words, chosen) if tie is Tie.SHARED else None
        if loose is not None:
            search.not_alone.append(loose)
            continue
        if apart_m > 0.0 and len(chosen) > 1:
            assert stands is not None
            places, clash = _placed(stands, chosen, apart_m)
            if places is None:
                _cut_off(search, patterns.words, clash)
                continue
        else:
            places = [int(best[p]) for p in chosen]
        value = float(np.dot(members[chosen].any(axis=0), weights)) if chosen else 0.0
        worth = members[chosen].astype(np.float64) @ np.asarray(weights, dtype=np.float64)
        order = np.argsort(-worth, kind="stable")
        return SitesTogether(tuple(places[i] for i in order), value, tuple(model.proofs))
    raise NoPlan(
        f"{count} sites at least {length_in_words(apart_m)} apart could not be settled in {MOST_SOLVES} "
        "rounds; ask for fewer sites or a smaller distance between them."
    )


def _solve(
    members: NDArray[np.bool_],
    weights: Sequence[float],
    quality: FloatArray,
    search: _Search,
    *,
    count: int,
    time_limit_s: float,
) -> tuple[StagedModel, list[int]]:
    """The model over the sets in play, and the sets it chooses."""
    model = StagedModel(time_limit_s=time_limit_s)
    column = {pattern: model.add_binary() for pattern in search.active}
    covered = {}
    for j in range(len(weights)):
        by = [column[p] for p in search.active if members[p, j]]
        if by and weights[j] > 0.0:
            covered[j] = model.add_share()
            model.add_row([covered[j], *by], [1.0, *([-1.0] * len(by))], upper=0.0)
    sites = list(column.values())
    model.add_row(sites, [1.0] * len(sites), upper=float(count))
    for together in search.not_together:
        model.add_row([column[p] for p in together], [1.0] * len(together), upper=float(len(together) - 1))
    for part, other in search.not_alone:
        row = {column[p]: 1.0 for p in part}
        row[column[other]] = 1.0
        reach = members[list(part)].any(axis=0)
        for p in search.active:
            if p not in part and p != other and (members[p] & reach).any():
                row[column[p]] = -1.0
        model.add_row(list(row), list(row.values()), upper=float(len(part)))
    gains = list(covered)
    model.maximise("covered", [covered[j] for j in gains], [float(weights[j]) for j in gains])
    model.minimise("sites", sites, [1.0] * len(sites))
    model.maximise("strength", sites, [float(quality[p]) for p in search.active])
    return model, [p for p in search.active if model.values[column[p]] > 0.5]


def _loose_part(words: Words, chosen: Sequence[int]) -> tuple[tuple[int, ...], int] | None:
    """A part of the chosen sets that shares nothing with the rest, and one of the rest; None when tied."""
    if len(chosen) < 2:
        return None
    part = {chosen[0]}
    while True:
        reach = np.bitwise_or.reduce(words[sorted(part)], axis=0)
        grown = part | {p for p in chosen if (words[p] & reach).any()}
        if grown == part:
            break
        part = grown
    rest = [p for p in chosen if p not in part]
    return (tuple(sorted(part)), rest[0]) if rest else None


def _cut_off(search: _Search, words: Words, clash: Sequence[int]) -> None:
    """Forbid sets that cannot stand apart, and let the largest sets below each of them in."""
    search.not_together.append(tuple(clash))
    known = set(search.active)
    for pattern in clash:
        if pattern in search.expanded:
            continue
        search.expanded.add(pattern)
        below = np.flatnonzero(~(words & ~words[pattern]).any(axis=1))
        below = below[below != pattern]
        if below.size:
            fresh = [int(p) for p in below[maximal(words[below])] if int(p) not in known]
            search.active += fresh
            known.update(fresh)


@dataclass
class _Stands:
    """Where sets can stand: found once a set, kept for the next choice."""

    patterns: Patterns
    east_m: FloatArray
    north_m: FloatArray
    cells: dict[int, NDArray[np.int64]] = field(default_factory=dict)
    rims: dict[int, NDArray[np.int64]] = field(default_factory=dict)

    def at(self, pattern: int) -> NDArray[np.int64]:
        """Candidates that reach at least this set, in order."""
        if pattern not in self.cells:
            words = self.patterns.words
            holds = ~(words[pattern] & ~words).any(axis=1)
            self.cells[pattern] = np.flatnonzero(holds[self.patterns.pattern_of])
        return self.cells[pattern]

    def rim(self, pattern: int) -> NDArray[np.int64]:
        """Those of them on the convex hull."""
        if pattern not in self.rims:
            self.rims[pattern] = _rim(self.at(pattern), self.east_m, self.north_m)
        return self.rims[pattern]

    def best_first(self, pattern: int) -> NDArray[np.int64]:
        """All of them by quality, then in order."""
        at = self.at(pattern)
        return at[np.argsort(-self.patterns.quality_db[at], kind="stable")]

    def farthest_m(self, one: int, other: int) -> float:
        """Largest distance between a stand of one set and a stand of the other."""
        a, b = self.rim(one), self.rim(other)
        far = np.hypot(self.east_m[a][:, None] - self.east_m[b], self.north_m[a][:, None] - self.north_m[b])
        return float(far.max())


def _placed(
    stands: _Stands, chosen: Sequence[int], apart_m: float
) -> tuple[list[int] | None, tuple[int, ...]]:
    """Candidates for the chosen sets at least apart_m from each other; else None and sets that cannot be."""
    for i, one in enumerate(chosen):
        for other in chosen[:i]:
            if stands.farthest_m(one, other) < apart_m:
                return None, tuple(sorted((one, other)))
    choices = [stands.best_first(pattern) for pattern in chosen]
    found = _apart(choices, stands.east_m, stands.north_m, apart_m)
    return found, tuple(sorted(chosen))


def _apart(
    choices: Sequence[NDArray[np.int64]], east_m: FloatArray, north_m: FloatArray, apart_m: float
) -> list[int] | None:
    """One candidate of each, pairwise apart_m or more from each other, best ones tried first; None: none."""
    if not choices:
        return []
    first = choices[0]
    found = _with_first(first[:TRIED_FIRST], choices[1:], east_m, north_m, apart_m)
    if found is not None or first.size <= TRIED_FIRST:
        return found
    first = first[TRIED_FIRST:]
    for later in choices[1:]:  # only those with a partner far enough in every other set
        farthest = np.zeros(first.size)
        for at in _rim(later, east_m, north_m):
            far = np.hypot(east_m[first] - east_m[at], north_m[first] - north_m[at])
            np.maximum(farthest, far, out=farthest)
        first = first[farthest >= apart_m]
    return _with_first(first, choices[1:], east_m, north_m, apart_m)


def _with_first(
    first: NDArray[np.int64],
    later: Sequence[NDArray[np.int64]],
    east_m: FloatArray,
    north_m: FloatArray,
    apart_m: float,
) -> list[int] | None:
    """The first of some candidates for which the later ones can be found too."""
    for at in first:
        rest = [
            other[np.hypot(east_m[other] - east_m[at], north_m[other] - north_m[at]) >= apart_m]
            for other in later
        ]
        if all(other.size for other in rest):
            found = _apart(rest, east_m, north_m, apart_m)
            if found is not None:
                return [int(at), *found]
    return None


def _rim(at: NDArray[np.int64], east_m: FloatArray, north_m: FloatArray) -> NDArray[np.int64]:
    """The candidates on the convex hull: the farthest from anywhere is one of them."""
    if at.size < 4:
        return at
    at = np.sort(at)
    x, y = east_m[at], north_m[at]
    # candidates come row by row: only the ends of each row can lie on the hull
    starts = np.flatnonzero(np.r_[True, y[1:] != y[:-1]])
    lengths = np.diff(np.r_[starts, at.size])
    low = np.repeat(np.minimum.reduceat(x, starts), lengths)
    high = np.repeat(np.maximum.reduceat(x, starts), lengths)
    few = np.flatnonzero((x == low) | (x == high))
    outline = shapely.convex_hull(shapely.multipoints(np.column_stack([x[few], y[few]])))
    corners = {(float(cx), float(cy)) for cx, cy in shapely.get_coordinates(outline)}
    hull = [int(i) for i in few if (float(x[i]), float(y[i])) in corners]
    return at[sorted(hull)]

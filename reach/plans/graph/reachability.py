"""The reach graph: who works whom both ways, who only hears, and by how many dB the rest miss.

A relay passes traffic both ways, so a link counts only when both directions meet the user's threshold. A link
that works in one direction only is a kind of its own and is never averaged away.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from reach.links.grade import GRADES, Grade
from reach.links.network import SimplexNetwork
from reach.links.sayings import chance_in_figures

FloatArray = NDArray[np.float64]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class ReadabilityThreshold:
    """A direction counts when its median signal gives this readability (R1 to R5) or better."""

    readability: int = 3

    def __post_init__(self) -> None:
        if not 2 <= self.readability <= 5:
            raise ValueError(f"a readability threshold lies between 2 and 5, not {self.readability}")

    def needed_margin_db(self, sigma_db: FloatArray) -> FloatArray:
        """Margin over workable that a direction needs, dB, in the shape of sigma_db."""
        grade = next(grade for grade in GRADES if grade.readability == self.readability)
        return np.full(sigma_db.shape, grade.from_db - Grade.WORKABLE.from_db)

    @property
    def words(self) -> str:
        """How the threshold is said."""
        return f"R{self.readability} or better both ways"


@dataclass(frozen=True)
class ChanceThreshold:
    """A direction counts when it works with at least this chance, between 0 and 1 (both excluded)."""

    chance: float = 0.5

    def __post_init__(self) -> None:
        if not 0.0 < self.chance < 1.0:
            raise ValueError(f"a chance threshold lies between 0 and 1, not {self.chance}")

    def needed_margin_db(self, sigma_db: FloatArray) -> FloatArray:
        """Margin over workable that a direction needs, dB, in the shape of sigma_db."""
        return np.asarray(sigma_db * NormalDist().inv_cdf(self.chance))

    @property
    def words(self) -> str:
        """How the threshold is said."""
        return f"a chance of {self.chance:.0%} or better both ways"


Threshold = ReadabilityThreshold | ChanceThreshold
WORTH_A_TRY = 0.25  # from this chance on a link is not said not to be there
WORKABLE_BOTH_WAYS = ReadabilityThreshold(3)


@dataclass(frozen=True)
class ReachGraph:
    """Stations with a radio path, in the order of their call signs. Matrices (n, n), [tx, rx].

    hears : rx hears tx well enough to count; two_way : both directions do (symmetric).
    spare_db : by how much a direction exceeds the threshold, negative when it misses, NaN without a path.
    pair_spare_db : of the weaker direction of each pair; pair_chance : that both directions work (symmetric).
    chance : of each direction.
    no_radio : members on the list who are never on the air.
    """

    call_signs: tuple[str, ...]
    hears: BoolArray
    two_way: BoolArray
    spare_db: FloatArray
    pair_spare_db: FloatArray
    chance: FloatArray
    pair_chance: FloatArray
    threshold: Threshold
    no_radio: tuple[str, ...] = ()

    def __len__(self) -> int:
        return len(self.call_signs)

    @cached_property
    def usable(self) -> FloatArray:
        """(n, n) chance of each pair that counts, never quite 0; 0 for all others (symmetric)."""
        return np.where(self.two_way, np.maximum(self.pair_chance, 1e-12), 0.0)

    def index(self, call_sign: str) -> int:
        """Place of a call sign; KeyError when it is not on the air."""
        try:
            return self.call_signs.index(call_sign.upper())
        except ValueError:
            raise KeyError(call_sign) from None


def reach_graph(network: SimplexNetwork, threshold: Threshold = WORKABLE_BOTH_WAYS) -> ReachGraph:
    """Reach graph of a surveyed simplex channel. Order of the roster does not matter: calls are sorted."""
    order = sorted(range(len(network.call_signs)), key=lambda i: network.call_signs[i])
    radio = [i for i in order if network.net.station(network.call_signs[i]).has_radio_path]
    silent = tuple(network.call_signs[i] for i in order if i not in set(radio))
    pick = np.ix_(radio, radio)
    margin_db = np.array(network.margin_db[pick], dtype=np.float64)
    chance = np.nan_to_num(np.array(network.chance[pick], dtype=np.float64), nan=0.0)
    np.fill_diagonal(margin_db, np.nan)
    np.fill_diagonal(chance, 0.0)
    spare_db = margin_db - threshold.needed_margin_db(np.asarray(network.sigma_db[pick], dtype=np.float64))
    hears = spare_db >= 0.0  # NaN compares false: no path is no link
    return ReachGraph(
        call_signs=tuple(network.call_signs[i] for i in radio),
        hears=hears,
        two_way=hears & hears.T,
        spare_db=spare_db,
        pair_spare_db=np.minimum(spare_db, spare_db.T),
        chance=chance,
        pair_chance=np.array(network.chance_both_ways[pick], dtype=np.float64),
        threshold=threshold,
        no_radio=silent,
    )


@dataclass(frozen=True)
class OneWayLink:
    """`heard` gets through to `hearer`, but not the other way; the missing direction is short by
    missing_db."""

    heard: str
    hearer: str
    missing_db: float


def one_way_links(graph: ReachGraph) -> tuple[OneWayLink, ...]:
    """Links that work in one direction only, by call sign. missing_db is NaN when the way back has no
    path."""
    return tuple(
        OneWayLink(graph.call_signs[i], graph.call_signs[j], float(-graph.spare_db[j, i]))
        for i, j in np.argwhere(graph.hears & ~graph.hears.T)
    )


@dataclass(frozen=True)
class HeardList:
    """What one station has on the channel; call signs in order.

    works : both ways; hears_only : hears them, is not heard; heard_only_by : they hear it, it does not
    hear them.
    """

    call_sign: str
    works: tuple[str, ...]
    hears_only: tuple[str, ...]
    heard_only_by: tuple[str, ...]


def heard_lists(graph: ReachGraph) -> tuple[HeardList, ...]:
    """Who works, only hears and is only heard by whom, one list a station, by call sign."""

    def names(mask: BoolArray) -> tuple[str, ...]:
        return tuple(graph.call_signs[k] for k in np.flatnonzero(mask))

    one_way = graph.hears & ~graph.hears.T
    return tuple(
        HeardList(
            call,
            works=names(graph.two_way[i]),
            hears_only=names(one_way[:, i]),
            heard_only_by=names(one_way[i]),
        )
        for i, call in enumerate(graph.call_signs)
    )


@dataclass(frozen=True)
class NearMiss:
    """The pair that comes closest to a two-way link without being one: `near` could serve `call_sign`.

    missing_db : what the weaker direction lacks; deaf : the call sign that does not hear (the weaker
    receiver). chance : that the pair works both ways all the same.
    """

    call_sign: str
    near: str
    missing_db: float
    deaf: str
    chance: float = 0.0

    @property
    def words(self) -> str:
        """'QK3ABC misses QK1XYZ by 14.2 dB (QK1XYZ does not hear it)'; of what may well work, how surely."""
        if self.chance >= WORTH_A_TRY:
            return (
                f"{self.call_sign} works {self.near} only {chance_in_figures(self.chance)},"
                f" {self.missing_db:.1f} dB short of what counts ({self.deaf} is the one that may not hear)"
            )
        who = (
            f"{self.near} does not hear it"
            if self.deaf == self.near
            else f"{self.call_sign} does not hear back"
        )
        return f"{self.call_sign} misses {self.near} by {self.missing_db:.1f} dB ({who})"


def near_miss(graph: ReachGraph, station: int, servers: BoolArray) -> NearMiss | None:
    """Closest failed link of one station to any of `servers` (n,); None when there is no path to any."""
    spare_db = np.where(servers & ~graph.two_way[station], graph.pair_spare_db[station], np.nan)
    spare_db[station] = np.nan
    if np.isnan(spare_db).all():
        return None
    near = int(np.nanargmax(spare_db))
    near_is_deaf = graph.spare_db[station, near] <= graph.spare_db[near, station]
    return NearMiss(
        call_sign=graph.call_signs[station],
        near=graph.call_signs[near],
        missing_db=float(-spare_db[near]),
        deaf=graph.call_signs[near if near_is_deaf else station],
        chance=float(graph.pair_chance[station, near]),
    )


def components(graph: ReachGraph) -> tuple[tuple[str, ...], ...]:
    """Groups that can work each other through any number of hands: largest first, then by call sign."""
    unseen = np.ones(len(graph), dtype=bool)
    groups: list[tuple[str, ...]] = []
    for start in range(len(graph)):
        if not unseen[start]:
            continue
        group = np.zeros(len(graph), dtype=bool)
        front = np.zeros(len(graph), dtype=bool)
        front[start] = True
        while front.any():
            group |= front
            front = graph.two_way[front].any(axis=0) & ~group
        unseen &= ~group
        groups.append(tuple(graph.call_signs[k] for k in np.flatnonzero(group)))
    return tuple(sorted(groups, key=lambda group: (-len(group), group)))

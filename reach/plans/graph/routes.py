"""Ways from net control to every station through a given set of relays, as arrays."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from reach.plans.graph._routes_kernel import best_chances_into
from reach.plans.graph.reachability import BoolArray, FloatArray, ReachGraph

UNREACHED = -1


def relays_needed(two_way: BoolArray, *, control: int, relays: BoolArray, limit: int) -> NDArray[np.int64]:
    """(n,) least number of relays between each station and net control: 0 works it directly, UNREACHED never.

    two_way (n, n) symmetric; relays (n,) stations that may pass traffic; limit : most relays in a chain.
    """
    needed = np.full(len(two_way), UNREACHED, dtype=np.int64)
    needed[control] = 0
    front = np.zeros(len(two_way), dtype=bool)
    front[control] = True
    for passes in range(limit + 1):
        reached = two_way[front].any(axis=0) & (needed == UNREACHED)
        needed[reached] = passes
        front = reached & relays
        if not front.any():
            break
    return needed


def best_chances(graph: ReachGraph, *, control: int, relays: BoolArray, limit: int) -> FloatArray:
    """(n,) chance of each station on its best way through at most `limit` relays; 0 unreached, 1 at net
    control.

    The chances of the links of a way are multiplied: each link is a path of its own.
    """
    return np.asarray(best_chances_round(graph, [control], relays=relays, limit=limit)[0])


def best_chances_round(
    graph: ReachGraph, centres: Sequence[int], *, relays: BoolArray, limit: int
) -> FloatArray:
    """(m, n) the same round each of several centres; the relays are those of all, a centre left out of its
    own."""
    chances = np.empty((len(centres), len(graph)))
    best_chances_into(graph.usable, relays, np.array(centres, dtype=np.int64), limit, chances)
    return chances


def best_way(
    graph: ReachGraph, station: int, *, control: int, relays: BoolArray, limit: int
) -> tuple[tuple[int, ...], float] | None:
    """Relays of one station's best way, the one it works first, and its chance; None when there is none.

    A way of no relays is (). Ties go to fewer relays, then to the earlier call sign.
    """
    usable = graph.usable
    passing = relays.copy()
    passing[[control, station]] = False
    best = _chances_by_passes(graph, control=control, relays=passing, limit=limit)
    chance = best[limit][station]
    if chance <= 0.0:
        return None
    way: list[int] = []
    here, passes = station, next(k for k in range(limit + 1) if best[k][station] == chance)
    while passes:  # fewest passes that give the chance: no relay can come twice
        passes -= 1
        onward = np.where(passing, usable[here] * best[passes], -1.0)
        here = int(np.argmax(onward))  # first of equals: earliest call sign
        way.append(here)
    return tuple(way), float(chance)


def best_relay(
    graph: ReachGraph, station: int, relays: BoolArray, *, control: int
) -> tuple[int, float] | None:
    """The one of `relays` (n,) through which net control works a station best, and the chance of that way;
    None when none works both. Ties go to the earlier call sign."""
    may = relays & graph.two_way[station] & graph.two_way[control]
    may[[station, control]] = False
    if not may.any():
        return None
    chances = np.where(may, graph.pair_chance[station] * graph.pair_chance[control], -1.0)
    best = int(np.argmax(chances))
    return best, float(chances[best])


def _chances_by_passes(graph: ReachGraph, *, control: int, relays: BoolArray, limit: int) -> list[FloatArray]:
    """Best chance of every station with at most 0, 1, ... limit relays."""
    usable = graph.usable
    passing = relays.copy()
    passing[control] = False
    best = [usable[control].copy()]
    for _ in range(limit):
        through = (usable[:, passing] * best[-1][passing]).max(axis=1, initial=0.0)
        best.append(np.maximum(best[-1], through))
    return best

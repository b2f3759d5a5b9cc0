"""The relay plan's order of what is sought, by trying everything; for nets of a handful of stations."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import combinations, product

import numpy as np

from reach.plans.graph.reachability import ReachGraph
from reach.plans.relays.rules import Chains, RelayRules


@dataclass(frozen=True)
class Tried:
    """One complete plan. heard : of all stations reached; worst_db : of ways the ground forces."""

    relays: tuple[int, ...]
    passes: int
    heard: float
    busiest: int
    worst_db: float


def hops(graph: ReachGraph, control: int, relays: set[int], limit: int) -> dict[int, int]:
    """Station -> least relays, by walking outward one station at a time."""
    found = {control: 0} | {v: 0 for v in range(len(graph)) if graph.two_way[v, control]}
    for count in range(1, limit + 1):
        for v in range(len(graph)):
            if v not in found and any(
                graph.two_way[v, r] and found.get(r) == count - 1 and r in relays and r != control
                for r in range(len(graph))
            ):
                found[v] = count
    return found


def _plans(
    graph: ReachGraph, control: int, chosen: tuple[int, ...], need: dict[int, int], rules: RelayRules
) -> Iterator[Tried]:
    far = [v for v, count in need.items() if count > 0]
    choices = []
    for v in far:
        mine = [r for r in chosen if r != v and graph.two_way[v, r]]
        if rules.chains is Chains.SHORTEST:
            mine = [r for r in mine if need[r] == need[v] - 1]
        choices.append(mine)
    near = [v for v, count in need.items() if count == 0 and v != control]
    detours: list[list[int | None]] = []
    for v in near:
        mine = [None]
        for r in chosen:
            weak = float(graph.pair_chance[v, control]) < rules.sure_from
            if weak and v not in chosen and need[r] == 0 and graph.two_way[v, r]:
                chance = float(graph.pair_chance[v, r]) * float(graph.pair_chance[r, control])
                if chance - float(graph.pair_chance[v, control]) >= rules.reroute_gain - 1e-9:
                    mine.append(r)
        detours.append(mine)
    for pick in product(*choices, *detours):
        answers = dict(zip(far, pick[: len(far)], strict=True))
        detour = {v: r for v, r in zip(near, pick[len(far) :], strict=True) if r is not None}
        ways = {}
        for v in far:
            way, here = [], v
            while here in answers and len(way) <= rules.chain_limit:
                here = answers[here]
                way.append(here)
            if len(way) > rules.chain_limit:
                break
            ways[v] = way
        else:
            links = [
                (a, b) for v, way in ways.items() for a, b in zip([v, *way], [*way, control], strict=True)
            ]
            yield Tried(
                relays=chosen,
                passes=sum(map(len, ways.values())),
                heard=sum(float(graph.pair_chance[v, control]) for v in near if v not in detour)
                + sum(
                    float(graph.pair_chance[v, r]) * float(graph.pair_chance[r, control])
                    for v, r in detour.items()
                )
                + sum(
                    float(
                        np.prod(
                            [graph.pair_chance[a, b] for a, b in zip([v, *way], [*way, control], strict=True)]
                        )
                    )
                    for v, way in ways.items()
                ),
                busiest=max(
                    (
                        sum(r in way for way in ways.values()) + sum(r == d for d in detour.values())
                        for r in chosen
                    ),
                    default=0,
                ),
                worst_db=min((float(graph.pair_spare_db[a, b]) for a, b in links), default=0.0),
            )


def best_plan(graph: ReachGraph, control: int, relays: set[int], rules: RelayRules) -> Tried:
    """The first of all plans in the order the program promises."""
    relays = relays - {control}
    need = hops(graph, control, relays, rules.chain_limit)
    for count in range(len(relays) + 1):
        plans = [
            p
            for chosen in combinations(sorted(relays & set(need)), count)
            for p in _plans(graph, control, chosen, need, rules)
        ]
        if plans:
            break
    if rules.chains is Chains.FEWEST_RELAYS:
        fewest = min(p.passes for p in plans)
        plans = [p for p in plans if p.passes == fewest]
    most = max(p.heard for p in plans)
    plans = [p for p in plans if p.heard >= most - rules.expected_slack - 1e-6]
    lightest = min(p.busiest for p in plans)
    plans = [p for p in plans if p.busiest == lightest]
    strongest = max(p.worst_db for p in plans)
    plans = [p for p in plans if p.worst_db >= strongest - 1e-9]
    most = max(p.heard for p in plans)
    plans = [p for p in plans if p.heard >= most - 2e-6]
    return min(plans, key=lambda p: sum(p.relays))


def reached_without(graph: ReachGraph, control: int, relays: set[int], missing: int, limit: int) -> set[int]:
    return set(hops(graph, control, relays - {missing}, limit))


def fewest_standbys(
    graph: ReachGraph, control: int, first: set[int], allowed: set[int], rules: RelayRules
) -> int:
    """Least number of stand-bys for these first relays."""
    need = hops(graph, control, first, rules.chain_limit)
    spare = sorted(allowed - first - {control})
    for count in range(len(spare) + 1):
        for extra in combinations(spare, count):
            if all(
                (reached_without(graph, control, allowed - {control}, m, rules.chain_limit) & set(need))
                <= reached_without(graph, control, first | set(extra), m, rules.chain_limit)
                for m in first
            ):
                return count
    raise AssertionError("all of them would do")

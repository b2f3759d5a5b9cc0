"""Second relays: the fewest stand-bys with which a plan survives any one relay missing, as far as the
ground lets it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reach.plans.graph.reachability import BoolArray, ReachGraph
from reach.plans.graph.routes import UNREACHED, relays_needed
from reach.plans.graph.smallest_covers import in_covers
from reach.plans.optimiser.stages import TIE_BREAK, StagedModel, StageProof
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.first_ways import FirstWays
from reach.plans.relays.rules import RelayRules, taken_out

_STAGE_SHARE = 0.6  # of the time left, for one stage


def survivors(
    graph: ReachGraph, *, control: int, relays: BoolArray, missing: int, rules: RelayRules
) -> BoolArray:
    """(n,) stations net control still works through `relays` when station `missing` does not pass traffic."""
    left = taken_out(relays, missing)
    needed = relays_needed(graph.two_way, control=control, relays=left, limit=rules.chain_limit)
    return np.asarray(needed != UNREACHED)


def fewest_standbys(
    graph: ReachGraph, ways: FirstWays, *, control: int, relays: BoolArray, rules: RelayRules,
    budget: TimeBudget | None = None,
) -> tuple[tuple[int, ...], tuple[StageProof, ...]]:  # fmt: skip
    """Stand-bys to add to the relays of `ways`, and the proofs.

    Whatever relay is missing, every station of the plan that any allowed relay could then still bring in is
    reached through the remaining relays and stand-bys. Fewest first, then the strongest links to those they
    back, then call signs. budget : the plan's time, of which all that is left may be used;
    rules.time_limit_s unless given.
    """
    first = np.zeros(len(graph), dtype=bool)
    first[list(ways.relays)] = True
    wanted = {
        missing: np.flatnonzero(
            survivors(graph, control=control, relays=relays, missing=missing, rules=rules)
            & ~survivors(graph, control=control, relays=first, missing=missing, rules=rules)
        )
        for missing in ways.relays
    }
    wanted = {missing: np.array([v for v in hit if v in ways.via]) for missing, hit in wanted.items()}
    if not any(len(hit) for hit in wanted.values()):
        return (), ()
    limit_s = rules.time_limit_s if budget is None else budget.left_s
    model = StagedModel(time_limit_s=limit_s, budget=budget, stage_share=_STAGE_SHARE)
    posted = _enough(graph, wanted, control=control, relays=relays, first=first, rules=rules)
    count = int((posted & ~first).sum())
    may = taken_out(relays & ~first, control)
    may &= in_covers(_must_be_worked(graph, wanted, spare=may, first=first), size=count)
    chosen = {int(r): model.add_binary() for r in np.flatnonzero(may)}
    relays = relays & (may | first)
    backing: list[int] = []
    strengths: list[float] = []
    scenes = []
    for missing, stations in wanted.items():
        if len(stations):
            scene = _add_scene(
                model,
                graph,
                chosen,
                missing,
                stations,
                backing,
                strengths,
                control=control,
                first=first,
                relays=relays,
                rules=rules,
            )
            scenes.append(scene)
    model.start_from(
        [column for r, column in chosen.items() if posted[r]]
        + [column for scene in scenes for column in scene.in_use(graph, posted)]
    )
    columns = list(chosen.values())
    model.minimise("fewest stand-bys", columns, [1.0] * len(columns))
    strength = dict(zip(backing, strengths, strict=True))
    hung = (puts for scene in scenes for puts in scene.puts.values())
    best = sum(max(strength[column] for *_, column in puts) for puts in hung)
    model.maximise("strongest second relays", backing, strengths, at_best=best)
    model.minimise(f"{TIE_BREAK} of stand-bys", columns, [float(r) for r in chosen])
    return tuple(r for r, column in chosen.items() if model.values[column] > 0.5), tuple(model.proofs)


def _enough(
    graph: ReachGraph, wanted: dict[int, np.ndarray], *, control: int, relays: BoolArray, first: BoolArray,
    rules: RelayRules,
) -> BoolArray:  # fmt: skip
    """(n,) relays and stand-bys that do, though not the fewest: from all that may, one after the other is let
    go that is not needed, those who work the fewest stations first."""
    posted = taken_out(relays, control)
    spare = np.flatnonzero(posted & ~first)
    for candidate in spare[np.argsort(graph.two_way[spare].sum(axis=1), kind="stable")]:
        posted[candidate] = False
        for missing, stations in wanted.items():
            alive = survivors(graph, control=control, relays=posted, missing=missing, rules=rules)
            if len(stations) and not alive[stations].all():
                posted[candidate] = True
                break
    return posted


def _must_be_worked(
    graph: ReachGraph, wanted: dict[int, np.ndarray], *, spare: BoolArray, first: BoolArray
) -> BoolArray:
    """(rows, n) the stand-bys of which one at least is needed, a row a station that hangs on no other.

    A station that works none of the plan's own relays left must work a stand-by itself.
    """
    rows = [
        graph.two_way[station] & spare
        for missing, stations in wanted.items()
        for station in stations
        if not (graph.two_way[station] & taken_out(first, missing)).any()
    ]
    return np.array(rows, dtype=np.bool_).reshape(-1, len(graph))


@dataclass(frozen=True)
class _Scene:
    """Columns of one relay missing.

    passes : (relay, depth) -> column; puts : station -> (relay, depth, column).
    """

    passes: dict[tuple[int, int], int]
    puts: dict[int, list[tuple[int, int, int]]]

    def in_use(self, graph: ReachGraph, posted: BoolArray) -> list[int]:
        """Columns that are 1 when the posted relays pass all they can."""
        passing: set[tuple[int, int]] = set()
        for relay, depth in sorted(self.passes, key=lambda post: post[1]):
            nearer = (r for r, d in passing if d == depth - 1 and graph.two_way[relay, r])
            if posted[relay] and (depth == 1 or any(True for _ in nearer)):
                passing.add((relay, depth))
        hung = [next(c for r, d, c in puts if (r, d) in passing) for puts in self.puts.values()]
        return [*(self.passes[post] for post in passing), *hung]


def _add_scene(
    model: StagedModel, graph: ReachGraph, chosen: dict[int, int], missing: int, stations: np.ndarray,
    backing: list[int], strengths: list[float], *, control: int, first: BoolArray, relays: BoolArray,
    rules: RelayRules,
) -> _Scene:  # fmt: skip
    """Rows for one relay missing: a relay passes at depth d only what one at depth d - 1 passes."""
    left = [int(r) for r in np.flatnonzero(relays) if r not in (missing, control)]
    passes: dict[tuple[int, int], int] = {}
    for depth in range(1, rules.chain_limit + 1):
        for relay in left:
            if depth == 1 and not graph.two_way[relay, control]:
                continue
            nearer = [
                passes[r, depth - 1] for r in left if graph.two_way[relay, r] and (r, depth - 1) in passes
            ]
            if depth > 1 and not nearer:
                continue
            column = passes[relay, depth] = model.add_share()
            if not first[relay]:
                model.add_row([column, chosen[relay]], [1.0, -1.0], upper=0.0)
            if depth > 1:
                model.add_row([column, *nearer], [1.0] + [-1.0] * len(nearer), upper=0.0)
    hung: dict[int, list[tuple[int, int, int]]] = {}
    for station in (int(v) for v in stations):
        puts = []
        for (relay, depth), column in passes.items():
            if graph.two_way[station, relay] and relay != station:
                put = model.add_share()
                model.add_row([put, column], [1.0, -1.0], upper=0.0)
                puts.append(put)
                hung.setdefault(station, []).append((relay, depth, put))
                backing.append(put)
                strengths.append(float(graph.pair_chance[station, relay]))
        model.add_row(puts, [1.0] * len(puts), lower=1.0, upper=1.0)
    return _Scene(passes, hung)

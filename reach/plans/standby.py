"""Second relays: the fewest stand-bys with which a plan survives any one relay missing, as far as the
ground lets it."""

from __future__ import annotations

import numpy as np

from reach.plans.optimiser import TIE_BREAK, StagedModel, StageProof
from reach.plans.reachability import BoolArray, ReachGraph
from reach.plans.relay_model import FirstWays
from reach.plans.routes import UNREACHED, relays_needed
from reach.plans.rules import RelayRules


def survivors(
    graph: ReachGraph, *, control: int, relays: BoolArray, missing: int, rules: RelayRules
) -> BoolArray:
    """(n,) stations net control still works through `relays` when station `missing` does not pass traffic."""
    left = relays.copy()
    left[missing] = False
    needed = relays_needed(graph.two_way, control=control, relays=left, limit=rules.chain_limit)
    return np.asarray(needed != UNREACHED)


def fewest_standbys(
    graph: ReachGraph, ways: FirstWays, *, control: int, relays: BoolArray, rules: RelayRules
) -> tuple[tuple[int, ...], tuple[StageProof, ...]]:
    """Stand-bys to add to the relays of `ways`, and the proofs.

    Whatever relay is missing, every station of the plan that any allowed relay could then still bring in is
    reached through the remaining relays and stand-bys. Fewest first, then the strongest links to those they
    back, then call signs.
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
    model = StagedModel(time_limit_s=rules.time_limit_s / 2.0)
    spare = [int(r) for r in np.flatnonzero(relays & ~first) if r != control]
    chosen = {r: model.add_binary() for r in spare}
    backing: list[int] = []
    strengths: list[float] = []
    for missing, stations in wanted.items():
        if len(stations):
            _add_scene(
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
    columns = list(chosen.values())
    model.minimise("fewest stand-bys", columns, [1.0] * len(columns))
    model.maximise("strongest second relays", backing, strengths)
    model.minimise(f"{TIE_BREAK} of stand-bys", columns, [float(r) for r in chosen])
    return tuple(r for r, column in chosen.items() if model.values[column] > 0.5), tuple(model.proofs)


def _add_scene(
    model: StagedModel, graph: ReachGraph, chosen: dict[int, int], missing: int, stations: np.ndarray,
    backing: list[int], strengths: list[float], *, control: int, first: BoolArray, relays: BoolArray,
    rules: RelayRules,
) -> None:  # fmt: skip
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
    for station in (int(v) for v in stations):
        puts = []
        for (relay, _), column in passes.items():
            if graph.two_way[station, relay] and relay != station:
                put = model.add_share()
                model.add_row([put, column], [1.0, -1.0], upper=0.0)
                puts.append(put)
                backing.append(put)
                strengths.append(float(graph.pair_chance[station, relay]))
        model.add_row(puts, [1.0] * len(puts), lower=1.0, upper=1.0)

"""The fewest relays that reach every station within reach of one net control."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.plans.graph.reachability import BoolArray, ReachGraph
from reach.plans.optimiser.stages import TIE_BREAK, StagedModel, StageProof
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.rules import Chains, RelayRules

_SHARE = 0.3  # of a plan's time; most covers take far less and leave the rest


@dataclass(frozen=True)
class RelaySet:
    """One smallest set of relays, ascending; proof.value is its size."""

    relays: tuple[int, ...]
    proof: StageProof


def _solved(model: StagedModel, column: dict[int, int]) -> RelaySet:
    proof = model.minimise("fewest relays", list(column.values()), [1.0] * len(column))
    return RelaySet(tuple(r for r, c in column.items() if model.values[c] > 0.5), proof)


def fewest_hearers(graph: ReachGraph, *, candidates: BoolArray, rules: RelayRules) -> RelaySet | None:
    """Fewest of the candidates (n,) who between them work every station directly; None when all together
    do not.

    What a net falls back on when nobody can relay: so many separate net controls. Ties by call sign.
    """
    works = graph.two_way | np.eye(len(graph), dtype=bool)
    if not works[candidates].any(axis=0).all():
        return None
    model = StagedModel(time_limit_s=rules.time_limit_s)
    column = {int(c): model.add_binary() for c in np.flatnonzero(candidates)}
    for station in range(len(graph)):
        columns = [column[c] for c in column if works[station, c]]
        model.add_row(columns, [1.0] * len(columns), lower=1.0)
    model.start_from(list(column.values()))
    proof = model.minimise("fewest who hear everyone", list(column.values()), [1.0] * len(column))
    model.minimise(TIE_BREAK, list(column.values()), [float(c) for c in column])
    return RelaySet(tuple(c for c, at in column.items() if model.values[at] > 0.5), proof)


def fewest_relays(
    graph: ReachGraph, needed: NDArray[np.int64], *, control: int, relays: BoolArray, rules: RelayRules,
    budget: TimeBudget | None = None,
) -> RelaySet:  # fmt: skip
    """Fewest relays for every station with needed[station] >= 0 (`routes.relays_needed`).

    relays (n,) : who may relay. The count is proof.value, with its gap when time ran out.
    budget : the plan's time, of which `_SHARE` may be used; rules.time_limit_s all for itself unless given.
    """
    limit_s = rules.time_limit_s if budget is None else budget.part_s(_SHARE)
    if not (needed > 0).any():
        return RelaySet(relays=(), proof=StageProof(name="fewest relays", value=0.0, gap=0.0))
    model = StagedModel(time_limit_s=limit_s, budget=budget)
    if rules.chains is Chains.SHORTEST:
        return _fewest_on_shortest_chains(model, graph, needed, control=control, relays=relays)
    return _fewest_at_any_depth(model, graph, needed, control=control, relays=relays, rules=rules)


def relays_next_to(
    graph: ReachGraph, needed: NDArray[np.int64], *, relays: BoolArray, chains: Chains
) -> BoolArray:
    """(far stations, n) on which relays each station with needed > 0 may hang, ascending by station.

    On shortest chains it is one that needs one relay less; otherwise any it works, which need not do.
    """
    far = np.flatnonzero(needed > 0)
    works = graph.two_way[far] & relays
    return works & (needed == needed[far][:, None] - 1) if chains is Chains.SHORTEST else works


def _fewest_on_shortest_chains(
    model: StagedModel, graph: ReachGraph, needed: NDArray[np.int64], *, control: int, relays: BoolArray
) -> RelaySet:
    """A station that needs k relays works one that needs k - 1: a plain cover, layer upon layer."""
    column = {int(r): model.add_binary() for r in np.flatnonzero(relays & (needed >= 0))}
    for posts in relays_next_to(graph, needed, relays=relays, chains=Chains.SHORTEST):
        columns = [column[int(r)] for r in np.flatnonzero(posts) if r != control]
        model.add_row(columns, [1.0] * len(columns), lower=1.0)
    model.start_from(list(column.values()))
    return _solved(model, column)


def _fewest_at_any_depth(
    model: StagedModel, graph: ReachGraph, needed: NDArray[np.int64], *, control: int, relays: BoolArray,
    rules: RelayRules,
) -> RelaySet:  # fmt: skip
    """A relay at depth d works one at depth d - 1; depth never passes the chain limit."""
    posts = [int(r) for r in np.flatnonzero(relays & (needed >= 0)) if r != control]
    chosen = {r: model.add_binary() for r in posts}
    at_depth = {
        (r, depth): model.add_share()
        for r in posts
        for depth in range(int(needed[r]) + 1, (1 if needed[r] == 0 else rules.chain_limit) + 1)
    }
    for (relay, depth), share in at_depth.items():
        model.add_row([share, chosen[relay]], [1.0, -1.0], upper=0.0)
        if depth > 1:
            nearer = [
                at_depth[r, depth - 1]
                for r in posts
                if graph.two_way[relay, r] and (r, depth - 1) in at_depth
            ]
            model.add_row([share, *nearer], [1.0] + [-1.0] * len(nearer), upper=0.0)
    for station in np.flatnonzero(needed > 0):
        columns = [share for (r, _), share in at_depth.items() if graph.two_way[station, r]]
        model.add_row(columns, [1.0] * len(columns), lower=1.0)
    everyone = [share for (r, depth), share in at_depth.items() if depth == needed[r] + 1]
    model.start_from([*chosen.values(), *everyone])
    return _solved(model, chosen)

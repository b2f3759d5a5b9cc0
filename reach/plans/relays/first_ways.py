"""First ways: which relay every station answers to, as one model solved stage after stage.

A chain is a sequence of relays from net control outward. Each chosen relay stands at the end of exactly one
chain, whose beginning is the chain of the relay before it; each station that net control does not work
itself is put on one chosen chain whose last relay it works. A station that net control does work itself, no
relay, may be put on a chosen relay that net control works, when that makes it clearly surer to be heard.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.plans.graph.reachability import BoolArray, FloatArray, ReachGraph
from reach.plans.graph.routes import best_chances
from reach.plans.graph.smallest_covers import in_covers
from reach.plans.optimiser.stages import TIE_BREAK, StagedModel, StageProof
from reach.plans.optimiser.time_budget import TimeBudget
from reach.plans.relays.fewest import RelaySet, relays_next_to
from reach.plans.relays.rules import Chains, RelayRules

Chain = tuple[int, ...]

MOST_HEARD = "most stations heard"
_SHARE = 0.7  # of the time a plan has left
_STAGE_SHARE = 0.6  # of what then is left for one stage
_ROUNDING = 1e-9  # of a chance
_MOST_CHOICES = 30_000  # pairs of station and chain; a model of this size takes a few seconds


@dataclass(frozen=True)
class FirstWays:
    """relays : chosen, ascending; via : station -> relays of its way, the one it works first.

    via has stations too that net control works itself, but less surely than through that one relay.
    """

    relays: tuple[int, ...]
    via: dict[int, tuple[int, ...]]
    proofs: tuple[StageProof, ...]


def chains_from(
    graph: ReachGraph, needed: NDArray[np.int64], *, control: int, relays: BoolArray, rules: RelayRules
) -> tuple[Chain, ...]:
    """Every chain that a plan may use, shortest first. needed : as `routes.relays_needed`."""
    may = relays.copy()
    may[control] = False
    chains: list[Chain] = [(int(r),) for r in np.flatnonzero(may & (needed == 0))]
    front = chains
    for length in range(2, rules.chain_limit + 1):
        onward = may & (needed == length - 1) if rules.chains is Chains.SHORTEST else may & (needed > 0)
        front = [
            (*chain, int(r))
            for chain in front
            for r in np.flatnonzero(onward & graph.two_way[chain[-1]])
            if r not in chain
        ]
        chains = chains + front
    if rules.chains is Chains.SHORTEST:  # a chain nobody hangs on, or leads on from, is of no use
        far = [int(needed[graph.two_way[chain[-1]]].max(initial=-1)) for chain in chains]
        chains = [chain for chain, reach in zip(chains, far, strict=True) if reach >= len(chain)]
    return tuple(chains)


def solve_first_ways(
    graph: ReachGraph,
    needed: NDArray[np.int64],
    *,
    control: int,
    relays: BoolArray,
    rules: RelayRules,
    cover: RelaySet,
    budget: TimeBudget | None = None,
) -> FirstWays:
    """Best use of as many relays as `cover` has, in the order the module `relays` names. Ties by call
    sign.

    budget : the plan's time, of which `_SHARE` may be used; rules.time_limit_s all for itself unless given.
    """
    if not (needed > 0).any():
        return FirstWays(relays=(), via={}, proofs=())
    budget = budget or TimeBudget(rules.time_limit_s / _SHARE)
    relays = relays & in_covers(
        relays_next_to(graph, needed, relays=relays, chains=rules.chains), size=len(cover.relays)
    )
    chains = chains_from(graph, needed, control=control, relays=relays, rules=rules)
    gains = gains_through(graph, needed, control=control, relays=relays, rules=rules)
    hanging = graph.two_way[:, needed > 0].sum(axis=1)
    choices = sum(int(hanging[chain[-1]]) for chain in chains) + int((gains > 0.0).sum())
    if choices > _MOST_CHOICES:
        return _with_the_covers_relays(
            graph, needed, gains, control=control, relays=relays, rules=rules, cover=cover, budget=budget
        )
    return _Model(
        graph, needed, chains, gains, control=control, rules=rules, cover=cover, budget=budget
    ).solve()


def gains_through(
    graph: ReachGraph, needed: NDArray[np.int64], *, control: int, relays: BoolArray, rules: RelayRules
) -> FloatArray:
    """(n, n) [station, relay] what the chance of a station that net control works itself gains through one
    relay that net control works, too; 0 for stations sure enough, where it gains less than
    rules.reroute_gain, and where there is no such way."""
    usable = np.where(graph.two_way, graph.pair_chance, 0.0)
    gains = usable * usable[control] - usable[control][:, None]
    may = relays & (needed == 0)
    may[control] = False
    gains[:, ~may] = 0.0
    gains[(needed != 0) | (graph.pair_chance[control] >= rules.sure_from)] = 0.0
    gains[control] = 0.0
    gains[gains < rules.reroute_gain - _ROUNDING] = 0.0
    return np.where(graph.two_way, gains, 0.0)


def _with_the_covers_relays(
    graph: ReachGraph,
    needed: NDArray[np.int64],
    gains: FloatArray,
    *,
    control: int,
    relays: BoolArray,
    rules: RelayRules,
    cover: RelaySet,
    budget: TimeBudget,
) -> FirstWays:
    """Too large to choose among all smallest sets: keep the one found, and say how much better another
    could be."""
    only = np.zeros(len(graph), dtype=bool)
    only[list(cover.relays)] = True
    chains = chains_from(graph, needed, control=control, relays=only, rules=rules)
    ways = _Model(
        graph, needed, chains, np.where(only, gains, 0.0),
        control=control, rules=rules, cover=cover, budget=budget,
    ).solve()  # fmt: skip
    most = best_chances(graph, control=control, relays=relays, limit=rules.chain_limit)[needed > 0].sum()
    most += _heard_directly(graph, needed, control) + gains.max(axis=1).sum()
    heard = next(proof.value for proof in ways.proofs if proof.name == MOST_HEARD)
    return replace(
        ways, proofs=(*ways.proofs, StageProof(MOST_HEARD + ", any relays", heard, float(most - heard)))
    )


def _heard_directly(graph: ReachGraph, needed: NDArray[np.int64], control: int) -> float:
    return float(graph.pair_chance[control][needed == 0].sum())


class _Model:
    def __init__(
        self, graph: ReachGraph, needed: NDArray[np.int64], chains: tuple[Chain, ...], gains: FloatArray, *,
        control: int, rules: RelayRules, cover: RelaySet, budget: TimeBudget,
    ) -> None:  # fmt: skip
        self.graph, self.needed, self.control, self.rules, self.gains = graph, needed, control, rules, gains
        self.model = StagedModel(time_limit_s=budget.part_s(_SHARE), budget=budget, stage_share=_STAGE_SHARE)
        model = self.model
        posts = sorted({chain[-1] for chain in chains})
        self.relay = {r: model.add_binary() for r in posts}
        # a relay with one chain only needs no variable of its own for it
        ends: dict[int, list[Chain]] = {r: [] for r in posts}
        for chain in chains:
            ends[chain[-1]].append(chain)
        self.chain = {
            chain: self.relay[chain[-1]] if len(ends[chain[-1]]) == 1 else model.add_binary()
            for chain in chains
        }
        self.put: dict[tuple[int, Chain], int] = {}
        shortest = rules.chains is Chains.SHORTEST
        for station in (int(v) for v in np.flatnonzero(needed > 0)):
            for chain in chains:
                if (
                    graph.two_way[station, chain[-1]]
                    and station not in chain
                    and (not shortest or len(chain) == needed[station])
                ):
                    self.put[station, chain] = model.add_share()
        self.surer = {
            (int(station), int(relay)): model.add_share()
            for station, relay in np.argwhere(gains > 0.0)
            if int(relay) in self.relay
        }
        self._add_rows(ends, len(cover.relays))
        model.start_from(self._columns_of(cover))

    def _add_rows(self, ends: dict[int, list[Chain]], count: int) -> None:
        model = self.model
        model.add_row(list(self.relay.values()), [1.0] * len(self.relay), upper=float(count))
        for relay, own in ends.items():
            if len(own) > 1:
                model.add_row(
                    [self.relay[relay], *(self.chain[c] for c in own)],
                    [1.0] + [-1.0] * len(own),
                    lower=0.0,
                    upper=0.0,
                )
        for chain, column in self.chain.items():
            if len(chain) > 1:  # the relay hangs on the chain before it, as a station does
                model.add_row([column, self.put[chain[-1], chain[:-1]]], [1.0, -1.0], upper=0.0)
        by_station: dict[int, list[int]] = {}
        for (station, chain), column in self.put.items():
            model.add_row([column, self.chain[chain]], [1.0, -1.0], upper=0.0)
            by_station.setdefault(station, []).append(column)
        for columns in by_station.values():
            model.add_row(columns, [1.0] * len(columns), lower=1.0, upper=1.0)
        rerouted: dict[int, list[int]] = {}
        for (station, relay), column in self.surer.items():
            model.add_row([column, self.relay[relay]], [1.0, -1.0], upper=0.0)
            rerouted.setdefault(station, []).append(column)
        for station, columns in rerouted.items():
            if station in self.relay:  # a relay answers to net control itself: those behind it wait no longer
                columns = [*columns, self.relay[station]]
            model.add_row(columns, [1.0] * len(columns), upper=1.0)

    def _columns_of(self, cover: RelaySet) -> list[int]:
        """The variables of the plan that puts every station on its shortest chain through the cover's
        relays."""
        chain_of: dict[int, Chain] = {}
        length = 1
        while length <= self.rules.chain_limit:
            for relay in cover.relays:
                hung = [
                    c for c in self.chain if c[-1] == relay and len(c) == length and self._hangs(c, chain_of)
                ]
                if hung and relay not in chain_of:
                    chain_of[relay] = hung[0]
            length += 1
        used = [self.relay[relay] for relay in chain_of] + [self.chain[chain] for chain in chain_of.values()]
        for station in sorted({station for station, _ in self.put}):
            own = chain_of.get(station, ())[:-1]
            ways = [own] if own else sorted(chain_of.values(), key=lambda chain: (len(chain), chain))
            used.append(next(self.put[station, way] for way in ways if (station, way) in self.put))
        return used

    def _hangs(self, chain: Chain, chain_of: dict[int, Chain]) -> bool:
        return len(chain) == 1 or chain_of.get(chain[-2]) == chain[:-1]

    def solve(self) -> FirstWays:
        model, puts, surer = self.model, list(self.put.values()), list(self.surer.values())
        if self.rules.chains is Chains.FEWEST_RELAYS:
            least = float(self.needed[self.needed > 0].sum())
            passes = [float(len(chain)) for _, chain in self.put]
            model.minimise("fewest passes", puts, passes, at_best=least)
        chances = [
            self._chance(chain) * self.graph.pair_chance[station, chain[-1]] for station, chain in self.put
        ]
        chances += [float(self.gains[place]) for place in self.surer]
        most = self._most_heard(chances)
        self._put_on_best_chains(chances)
        heard = model.maximise(
            MOST_HEARD, puts + surer, chances, slack=self.rules.expected_slack, at_best=most
        )
        model.make_integer(puts + surer)
        busiest = self._spread_load()
        even = np.ceil(len({station for station, _ in self.put}) / max(len(self._chosen()), 1))
        model.minimise("lightest busiest relay", [busiest], [1.0], at_best=float(even))
        self._strengthen_worst_link()
        best = heard.value + heard.gap
        model.maximise(f"{MOST_HEARD} within that load", puts + surer, chances, at_best=best)
        model.minimise(f"{TIE_BREAK} of relays", list(self.relay.values()), [float(r) for r in self.relay])
        firsts = [float(chain[-1]) for _, chain in self.put] + [float(relay) for _, relay in self.surer]
        model.minimise(f"{TIE_BREAK} of first relays", puts + surer, firsts)
        via = {
            station: chain[::-1]
            for (station, chain), column in self.put.items()
            if model.values[column] > 0.5
        }
        via |= {
            station: (relay,) for (station, relay), column in self.surer.items() if model.values[column] > 0.5
        }
        directly = _heard_directly(self.graph, self.needed, self.control)
        proofs = tuple(
            replace(proof, value=proof.value + directly) if proof.name.startswith(MOST_HEARD) else proof
            for proof in model.proofs
        )
        return FirstWays(relays=self._chosen(), via=via, proofs=proofs)

    def _chosen(self) -> tuple[int, ...]:
        return tuple(r for r, column in self.relay.items() if self.model.values[column] > 0.5)

    def _put_on_best_chains(self, chances: list[float]) -> None:
        """A better start: with the relays and chains so far, everyone on the best chain of that length."""
        if not len(self.model.values):
            return
        now = self.model.values.copy()
        chain_in_use = {chain for chain, column in self.chain.items() if now[column] > 0.5}
        relays = set(self._chosen())
        hung: dict[int, list[tuple[float, int, int]]] = {}
        places = [*self.put, *((station, (relay,)) for station, relay in self.surer)]
        columns = [*self.put.values(), *self.surer.values()]
        for (station, chain), column, chance in zip(places, columns, chances, strict=True):
            if station not in relays and chain in chain_in_use:
                hung.setdefault(station, []).append((chance, -len(chain), column))
        for station, ways in hung.items():
            if self.rules.chains is Chains.FEWEST_RELAYS:
                shortest = max(length for _, length, _ in ways)
                ways = [way for way in ways if way[1] == shortest]
            for _, _, column in hung[station]:
                now[column] = 0.0
            now[max(ways)[2]] = 1.0
        self.model.values = now

    def _most_heard(self, chances: list[float]) -> float:
        """What no choice of ways can exceed: everyone on the best way there is."""
        best: dict[int, float] = {}
        stations = [station for station, _ in self.put] + [station for station, _ in self.surer]
        for station, chance in zip(stations, chances, strict=True):
            best[station] = max(best.get(station, 0.0), chance)
        return sum(best.values())

    def _chance(self, chain: Chain) -> float:
        way = (self.control, *chain)
        return float(np.prod([self.graph.pair_chance[a, b] for a, b in itertools.pairwise(way)]))

    def _spread_load(self) -> int:
        passing = {
            relay: [column for (_, chain), column in self.put.items() if relay in chain]
            + [column for (_, first), column in self.surer.items() if first == relay]
            for relay in self.relay
        }
        now = max(float(self.model.values[columns].sum()) for columns in passing.values())
        busiest = self.model.add_late_share(upper=float(len(self.graph)), now=now)
        for passes in passing.values():
            self.model.add_row([busiest, *passes], [1.0] + [-1.0] * len(passes), lower=0.0)
        return busiest

    def _strengthen_worst_link(self) -> None:
        """Raise the weakest link that relaying leans on, by bisection over the links' own strengths.

        Stations that net control works itself, too, do not lean on a relay.
        """
        spare_db = self.graph.pair_spare_db
        strength = {
            column: float(spare_db[station, chain[-1]]) for (station, chain), column in self.put.items()
        }
        for chain, column in self.chain.items():
            link = float(spare_db[chain[-1], chain[-2] if len(chain) > 1 else self.control])
            strength[column] = min(strength.get(column, np.inf), link)
        used = self._worst_in_use(strength)
        best_of: dict[int, float] = {}
        for (station, _), column in self.put.items():
            best_of[station] = max(best_of.get(station, -np.inf), strength[column])
        most = min(best_of.values())  # the worst link is no better than the best of any one station
        levels = sorted({level for level in strength.values() if used < level <= most})
        low, high = 0, len(levels)  # levels[:low] are known to be reachable
        while low < high and self.model.time_left:
            middle = (low + high) // 2
            weaker = [column for column, level in strength.items() if level < levels[middle]]
            self.model.bounds_off(weaker)
            kept = self.model.values
            if self.model.feasible():
                used = self._worst_in_use(strength)
                low = next(
                    (i + 1 for i, level in reversed(list(enumerate(levels))) if level <= used), middle + 1
                )
            else:
                self.model.values = kept
                high = middle
            self.model.bounds_on(weaker)
        self.model.bounds_off([column for column, level in strength.items() if level < used])
        gap_db = levels[high - 1] - used if low < high else 0.0
        self.model.proofs.append(StageProof("strongest worst link (dB)", used, gap_db))

    def _worst_in_use(self, strength: dict[int, float]) -> float:
        return min(_used(strength.items(), self.model.values))


def _used(strength: Iterable[tuple[int, float]], values: NDArray[np.float64]) -> list[float]:
    return [level for column, level in strength if values[column] > 0.5]

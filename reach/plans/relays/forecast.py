"""How many check in on an evening, simulated: losses of one station's paths go up and down together at its
site.

The spread behind each chance is drawn in its parts (`SimplexNetwork`): a path's own loss and its change from
evening to evening, the same in both directions; the site of each station, shared by all its paths; the
noise at each receiver, shared by all it hears. Every station is taken to be present.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import BoolArray, FloatArray
from reach.plans.relays.plan import RelayPlan

_CHUNK = 2_000  # evenings drawn at once


@dataclass(frozen=True)
class CheckIns:
    """Stations heard in one evening, net control not counted. low, high : a tenth of evenings lie below,
    above."""

    expected: float
    low: float
    high: float


@dataclass(frozen=True)
class CheckInForecast:
    """Check-ins by ways allowed: net control alone, with first relays, and with the second where the first
    fails; for weak stations called directly the second is the relay or stand-by to ask.

    A station counts as heard when any way allowed works: net control listens while a relay calls, so one that
    goes through a relay is heard directly as well, when that link works.

    chance : station -> share of evenings heard, with second relays. evenings, seed : of the simulation.
    """

    direct: CheckIns
    first_ways: CheckIns
    all_ways: CheckIns
    chance: dict[str, float]
    evenings: int
    seed: int

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        return (
            f"Expect {self.all_ways.expected:.0f} check-ins with the relays, {self.all_ways.low:.0f} to"
            f" {self.all_ways.high:.0f} on 8 evenings in 10; {self.direct.expected:.0f}"
            f" ({self.direct.low:.0f} to {self.direct.high:.0f}) without them."
        )


def forecast_check_ins(
    plan: RelayPlan, network: SimplexNetwork, *, seed: int, evenings: int = 10_000
) -> CheckInForecast:
    """Simulate `evenings` evenings of the plan. A link works on an evening when both its directions are
    workable.

    Raises : ValueError when the network was built without the parts of its spread, or evenings < 1.
    """
    if evenings < 1:
        raise ValueError(f"simulate at least one evening, not {evenings}")
    calls = [*plan.direct, *(station.call_sign for station in plan.relayed)]
    calls += [out.call_sign for out in plan.left_out]
    firsts: dict[str, tuple[str, ...]] = {call: () for call in plan.direct}
    firsts |= {station.call_sign: station.via for station in plan.relayed}
    seconds = {station.call_sign: station.second for station in plan.relayed if station.second}
    seconds |= {weak.call_sign: (weak.ask,) for weak in plan.weak if weak.ask}
    links = _Links(network)
    direct = {call: links.way((call, plan.control)) for call in calls}
    first = {call: links.way((call, *via, plan.control)) for call, via in firsts.items()}
    second = {call: links.way((call, *via, plan.control)) for call, via in seconds.items()}
    rng = np.random.default_rng(seed)
    heard = [np.zeros((3, evenings)), np.zeros(len(calls))]
    for start in range(0, evenings, _CHUNK):
        count = min(_CHUNK, evenings - start)
        works = links.draw(rng, count)
        for place, call in enumerate(calls):
            alone = works[:, direct[call]].all(axis=1)
            with_first = alone | works[:, first[call]].all(axis=1) if call in first else alone
            with_all = with_first | works[:, second[call]].all(axis=1) if call in second else with_first
            heard[0][:, start : start + count] += np.stack([alone, with_first, with_all])
            heard[1][place] += with_all.sum()
    direct_only, with_first_ways, with_all_ways = (_check_ins(row) for row in heard[0])
    return CheckInForecast(
        direct=direct_only,
        first_ways=with_first_ways,
        all_ways=with_all_ways,
        chance={call: float(share) for call, share in zip(calls, heard[1] / evenings, strict=True)},
        evenings=evenings,
        seed=seed,
    )


def _check_ins(heard: FloatArray) -> CheckIns:
    low, high = np.quantile(heard, [0.1, 0.9], method="inverted_cdf")
    return CheckIns(expected=float(heard.mean()), low=float(low), high=float(high))


class _Links:
    """The links a simulation needs, numbered as they are named."""

    def __init__(self, network: SimplexNetwork) -> None:
        parts = (
            network.path_sigma_db,
            network.station_sigma_db,
            network.receive_sigma_db,
            network.time_sigma_db,
        )
        path, site, receive, time = parts
        if path is None or site is None or receive is None or time is None:
            raise ValueError("the network was built without the parts of its spread")
        self._network = network
        self._path, self._site, self._receive, self._time = path, site, receive, time
        self._number: dict[tuple[int, int], int] = {}

    def way(self, calls: tuple[str, ...]) -> list[int]:
        """Numbers of the links of a way."""
        places = [self._network.index(call) for call in calls]
        return [
            self._number.setdefault((min(a, b), max(a, b)), len(self._number)) for a, b in pairwise(places)
        ]

    def draw(self, rng: np.random.Generator, evenings: int) -> BoolArray:
        """(evenings, links) whether each link works both ways."""
        pairs: NDArray[np.int64] = np.array(list(self._number), dtype=np.int64).reshape(-1, 2)
        one, other = pairs[:, 0], pairs[:, 1]
        stations = len(self._network.call_signs)
        shared_db = np.hypot(self._path[one, other], self._time[one, other])
        both_db = rng.standard_normal((evenings, len(pairs))) * np.nan_to_num(shared_db)
        site_db = rng.standard_normal((evenings, stations)) * np.nan_to_num(self._site)
        noise_db = rng.standard_normal((evenings, stations)) * np.nan_to_num(self._receive)
        both_db += site_db[:, one] + site_db[:, other]
        margin_db = self._network.margin_db
        there = margin_db[one, other] + both_db + noise_db[:, other] >= 0.0
        back = margin_db[other, one] + both_db + noise_db[:, one] >= 0.0
        return np.asarray(there & back)

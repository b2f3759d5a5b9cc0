"""How many check in on an evening, simulated, with what nobody knows kept apart from what changes.

The spread behind each chance is drawn in its parts (`SimplexNetwork`). Most of it is what nobody knows about
the club, and the same every week: a path's own loss, both directions alike; the site of each station, shared
by all its paths; the noise at each receiver, shared by all it hears. Only the air changes from one evening to
the next. So clubs are drawn, each as this one may really be, and each has two evenings: their counts together
give what to expect tonight, the difference between the two how far one evening is from the next. Who is
there is drawn for each evening from the attendance members give; who gives none, and net control, are there.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from reach.links.network import SimplexNetwork
from reach.plans.graph.reachability import BoolArray, FloatArray
from reach.plans.relays.plan import RelayPlan

_CHUNK = 2_000  # clubs drawn at once
_EVENINGS_EACH = 2


@dataclass(frozen=True)
class CheckIns:
    """Stations heard in one evening, net control not counted.

    low, high : a tenth of what may be lies below, above, by what nobody knows and by the evening together.
    from_evening_to_evening : standard deviation between the evenings of one and the same club.
    """

    expected: float
    low: float
    high: float
    from_evening_to_evening: float


@dataclass(frozen=True)
class CheckInForecast:
    """Check-ins by ways allowed: net control alone, with first relays, and with the second where the first
    fails; for weak stations called directly the second is the relay or stand-by to ask.

    A station counts as heard when any way allowed works: net control listens while a relay calls, so one that
    goes through a relay is heard directly as well, when that link works.

    stations : how many there are to be heard.
    with_attendance : how many of them say how often they are there.
    chance : station -> how sure it is to be heard, with second relays.
    changes : station -> chance that of two evenings of the same club it is heard on one only.
    evenings, seed : of the simulation; each evening is of another club as this one may be.
    """

    direct: CheckIns
    first_ways: CheckIns
    all_ways: CheckIns
    stations: int
    chance: dict[str, float]
    changes: dict[str, float]
    evenings: int
    seed: int
    with_attendance: int = 0

    @property
    def sentence(self) -> str:
        """The answer in one sentence."""
        swing = self.all_ways.from_evening_to_evening
        more = f"about {swing:.0f} more or fewer" if swing >= 0.5 else "hardly one more or fewer"
        usual = f", counting how often {self.with_attendance} are there," if self.with_attendance else ""
        doubt = "the paths, the same every week:" if not usual else "the paths and who is there:"
        return (
            f"Expect {_range(self.all_ways)} of {self.stations} check-ins with the relays{usual or ','}"
            f" {_range(self.direct)} without them. Most of that doubt is {doubt}"
            f" from one evening to the next {more}."
        )


def forecast_check_ins(
    plan: RelayPlan, network: SimplexNetwork, *, seed: int, evenings: int = 10_000
) -> CheckInForecast:
    """Simulate `evenings` clubs as this one may be, two evenings each, and the plan on every one of them.

    A link works on an evening when both its directions are workable.

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
    attendance = _attendance(network, plan.control)
    direct = {call: links.way((call, plan.control)) for call in calls}
    first = {call: links.way((call, *via, plan.control)) for call, via in firsts.items()}
    second = {call: links.way((call, *via, plan.control)) for call, via in seconds.items()}
    rng = np.random.default_rng(seed)
    of_presence = np.random.default_rng([seed, 1])  # so that the paths are drawn alike with it and without
    counts = np.zeros((3, _EVENINGS_EACH, evenings))
    heard, changed = np.zeros(len(calls)), np.zeros(len(calls))
    for start in range(0, evenings, _CHUNK):
        count = min(_CHUNK, evenings - start)
        works = links.draw(rng, count)
        if (attendance < 1.0).any():
            there = of_presence.random((_EVENINGS_EACH, count, len(attendance))) < attendance
            works &= links.both_there(there)
        for place, call in enumerate(calls):
            alone = works[..., direct[call]].all(axis=-1)
            with_first = alone | works[..., first[call]].all(axis=-1) if call in first else alone
            with_all = with_first | works[..., second[call]].all(axis=-1) if call in second else with_first
            counts[:, :, start : start + count] += np.stack([alone, with_first, with_all])
            heard[place] += np.mean(with_all, axis=0).sum()
            changed[place] += np.diff(with_all, axis=0).sum()  # of booleans: where they differ
    direct_only, with_first_ways, with_all_ways = (_check_ins(ways) for ways in counts)
    return CheckInForecast(
        direct=direct_only,
        first_ways=with_first_ways,
        all_ways=with_all_ways,
        stations=len(calls),
        chance={call: float(share) for call, share in zip(calls, heard / evenings, strict=True)},
        changes={call: float(share) for call, share in zip(calls, changed / evenings, strict=True)},
        evenings=evenings,
        seed=seed,
        with_attendance=sum(network.net.station(call).attendance is not None for call in calls),
    )


def _attendance(network: SimplexNetwork, control: str) -> FloatArray:
    """(stations,) share of the evenings each is there, in the order of the network."""
    given = [network.net.station(call).attendance for call in network.call_signs]
    return np.array(
        [1.0 if share is None or call == control else share for call, share in zip(network.call_signs, given)]
    )


def _check_ins(counts: FloatArray) -> CheckIns:
    """counts : (evenings of a club, clubs)."""
    low, high = np.quantile(counts, [0.1, 0.9], method="inverted_cdf")
    return CheckIns(
        expected=float(counts.mean()),
        low=float(low),
        high=float(high),
        from_evening_to_evening=float(np.sqrt(counts.var(axis=0, ddof=1).mean())),
    )


def _range(found: CheckIns) -> str:
    return f"{found.low:.0f}" if found.low == found.high else f"{found.low:.0f} to {found.high:.0f}"


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

    def both_there(self, there: BoolArray) -> BoolArray:
        """(evenings of a club, clubs, links) whether both ends of each link are there.

        there : (evenings of a club, clubs, stations).
        """
        pairs = np.array(list(self._number), dtype=np.int64).reshape(-1, 2)
        return np.asarray(there[..., pairs[:, 0]] & there[..., pairs[:, 1]])

    def draw(self, rng: np.random.Generator, clubs: int) -> BoolArray:
        """(evenings of a club, clubs, links) whether each link works both ways."""
        pairs: NDArray[np.int64] = np.array(list(self._number), dtype=np.int64).reshape(-1, 2)
        one, other = pairs[:, 0], pairs[:, 1]
        time_there, time_back = (np.nan_to_num(self._time[a, b]) for a, b in ((one, other), (other, one)))
        margin_db = self._network.margin_db
        stray_there, stray_back = self._strays(rng, clubs, one, other)
        there, back = margin_db[one, other] + stray_there, margin_db[other, one] + stray_back
        evening = rng.standard_normal((_EVENINGS_EACH, clubs, len(pairs)))
        # one draw a path and evening, scaled for either direction
        works = (there + evening * time_there >= 0.0) & (back + evening * time_back >= 0.0)
        return np.asarray(works)

    def _strays(
        self, rng: np.random.Generator, clubs: int, one: NDArray[np.int64], other: NDArray[np.int64]
    ) -> tuple[FloatArray, FloatArray]:
        """(clubs, links) what is the same every week, of either direction, dB."""
        if self._network.lasting is not None:
            return self._network.lasting.draw(rng, clubs, one, other)
        stations = len(self._network.call_signs)
        lasting_db = rng.standard_normal((clubs, len(one))) * np.nan_to_num(self._path[one, other])
        site_db = rng.standard_normal((clubs, stations)) * np.nan_to_num(self._site)
        noise_db = rng.standard_normal((clubs, stations)) * np.nan_to_num(self._receive)
        lasting_db += site_db[:, one] + site_db[:, other]
        return lasting_db + noise_db[:, other], lasting_db + noise_db[:, one]

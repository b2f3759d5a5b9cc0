"""Stations and paths that stay off what the planner thinks of them, and what is likeliest to be behind it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from statistics import NormalDist

import numpy as np

from reach.learning.fit import Posterior
from reach.learning.model import FloatArray, functionals

WEAK_DB = -3.0  # a station this far under the expected is spoken of
SAID_FROM, SURE_FROM = 0.8, 0.9
_USUAL, _EACH = 0.94, 0.02  # how often a station is as expected, and how often each cause
_FAULT_SIGMA_DB = 10.0
_CLEAR_SHARE = 0.6
_ODD_PATH = 2.0  # own spreads


class Cause(Enum):
    """What is likeliest; the value is how it is said, what to do next in it."""

    SITE = (
        "is weak both ways. Likeliest: antenna, feed line, or where it stands. First check position, height "
        "and antenna in the roster, then try another antenna or line."
    )
    SENDING = (
        "hears as expected but is heard weakly. Likeliest: power, deviation or microphone. Next: measure "
        "the power."
    )
    HEARING = (
        "is heard as expected but hears weakly. Likeliest: noise at its place, or a deaf receiver. Next: "
        "compare the meter with the antenna off and on."
    )
    OPEN = (
        "is weaker than expected; sending and hearing cannot be told apart yet. Next: ask for reports "
        "both ways."
    )


@dataclass(frozen=True)
class StationTotal:
    """How far a station strays as all its links see it, dB over the expected, with standard deviations."""

    call_sign: str
    sends_db: float
    sends_sigma_db: float
    hears_db: float
    hears_sigma_db: float

    @property
    def chance_weak(self) -> float:
        """That it sends or hears at least 3 dB under the expected, whichever is surer."""
        below = NormalDist().cdf
        return max(
            below((WEAK_DB - self.sends_db) / self.sends_sigma_db),
            below((WEAK_DB - self.hears_db) / self.hears_sigma_db),
        )


@dataclass(frozen=True)
class Verdict:
    """A station that disagrees for good. at_least_db : the smaller size that is still likely."""

    total: StationTotal
    cause: Cause
    at_least_db: float

    @property
    def sentence(self) -> str:
        """In plain words, with what to do."""
        surely = "surely" if self.total.chance_weak >= SURE_FROM else "probably"
        size = f" By {self.at_least_db:.0f} dB or more." if self.at_least_db >= 3.0 else ""
        return f"{self.total.call_sign} ({surely}) {self.cause.value}{size}"


@dataclass(frozen=True)
class OddPath:
    """A path that alone is off, between stations that are sound. stray_db : over what map and stations
    say.
    """

    one: str
    other: str
    stray_db: float

    @property
    def sentence(self) -> str:
        """In plain words."""
        how = "blocked more than" if self.stray_db < 0.0 else "better than"
        size_db = abs(self.stray_db)
        return f"{self.one} and {self.other}: this path is {how} the map knows, by about {size_db:.0f} dB."


def station_totals(found: Posterior) -> tuple[StationTotal, ...]:
    """Every station's totals, in the model's order: c + s sending, c + h hearing."""
    n = len(found.model.call_signs)
    totals = []
    for k, call in enumerate(found.model.call_signs):
        c, s, h = 1 + k, 1 + n + k, 1 + 2 * n + k
        mean, cov = found.mean, found.covariance
        totals.append(
            StationTotal(
                call,
                float(mean[c] + mean[s]),
                math.sqrt(cov[c, c] + cov[s, s] + 2.0 * cov[c, s]),
                float(mean[c] + mean[h]),
                math.sqrt(cov[c, c] + cov[h, h] + 2.0 * cov[c, h]),
            )
        )
    return tuple(totals)


def verdicts(found: Posterior) -> tuple[Verdict, ...]:
    """Stations at least SAID_FROM sure to be weak, the surest first."""
    said = []
    for k, total in enumerate(station_totals(found)):
        if total.chance_weak >= SAID_FROM:
            worst = min(
                total.sends_db + 0.84 * total.sends_sigma_db,  # four in five lie below
                total.hears_db + 0.84 * total.hears_sigma_db,
            )
            said.append(Verdict(total, likeliest_cause(found, k), max(0.0, -worst)))
    return tuple(sorted(said, key=lambda v: (-v.total.chance_weak, v.total.call_sign)))


def cause_shares(found: Posterior, station: int) -> FloatArray:
    """(4,) how likely station number `station` is as usual, off both ways, in sending, in hearing.

    What the reports alone say of (c, s, h) is set against four priors, one of them wider by 10 dB each time.
    """
    n = len(found.model.call_signs)
    at = 1 + station + n * np.arange(3)
    prior = found.model.prior_sigma_db[at] ** 2
    inverse = np.linalg.inv(found.covariance[np.ix_(at, at)])
    values, vectors = np.linalg.eigh(inverse - np.diag(1.0 / prior))
    precision = (vectors * np.maximum(values, 0.0)) @ vectors.T
    shift = inverse @ found.mean[at]
    logs = []
    for wide in (None, 0, 1, 2):
        variance = prior.copy()
        if wide is not None:
            variance[wide] += _FAULT_SIGMA_DB**2
        _, half = np.linalg.slogdet(np.eye(3) + variance[:, np.newaxis] * precision)
        logs.append(-0.5 * half + 0.5 * shift @ np.linalg.solve(precision + np.diag(1.0 / variance), shift))
    weight = np.array([_USUAL, _EACH, _EACH, _EACH]) * np.exp(np.array(logs) - max(logs))
    return np.asarray(weight / weight.sum())


def likeliest_cause(found: Posterior, station: int) -> Cause:
    """The cause behind a weak station, OPEN where none of the three stands out."""
    shares = cause_shares(found, station)[1:]
    best = int(np.argmax(shares))
    if shares[best] < _CLEAR_SHARE * shares.sum():
        return Cause.OPEN
    return (Cause.SITE, Cause.SENDING, Cause.HEARING)[best]


def odd_paths(found: Posterior) -> tuple[OddPath, ...]:
    """Paths that stray by more than twice their own spread while both stations are sound; worst first."""
    model = found.model
    weak = {verdict.total.call_sign for verdict in verdicts(found)}
    own = -found.weight / found.path_precision[:, np.newaxis]
    load = own @ functionals()
    mean = (load * found.mean[model.local_globals()]).sum(axis=1) + found.path_shift / found.path_precision
    odd = []
    for k in np.flatnonzero(np.abs(mean) > _ODD_PATH * found.path_scale * model.path_sigma_db).tolist():
        one, other = (model.call_signs[s] for s in model.pairs[k])
        if not {one, other} & weak:
            odd.append(OddPath(one, other, float(mean[k])))
    return tuple(sorted(odd, key=lambda path: -abs(path.stray_db)))

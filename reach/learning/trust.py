"""How far predictions and corrected chances can be trusted: each net foretold from all the others.

Nothing is scored on what it was fitted to. A net's own factors are taken out of the fit, and its reports
foretold from what is left; on 30 nets that gives the log score of full refits within 0.002 a report.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.learning.evidence import GRADED, PLAIN, Evidence
from reach.learning.fit import Observations, Posterior, foretold, nothing_heard, on_prediction, without_net
from reach.learning.likelihood import Likelihoods, graded_heard, heard
from reach.learning.model import FloatArray

BIN_EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0)
FEWEST_IN_A_BIN = 30
_RESAMPLINGS = 600
_SURE = 0.5  # the more likely of heard and not heard is what was foretold


@dataclass(frozen=True)
class ReliabilityBin:
    """Reports foretold with like chances. foretold, seen : mean chance, and share really heard.

    low, high : nine in ten shares lie there when the chances are right, pairs resampled with all their
    reports.
    """

    reports: int
    foretold: float
    seen: float
    low: float
    high: float


@dataclass(frozen=True)
class Score:
    """How well heard and not heard were foretold. right : share of reports; brier : mean squared error.

    log_score : mean log of the probability of each report as it came, grades and all; higher is better.
    """

    right: float
    brier: float
    log_score: float
    bins: tuple[ReliabilityBin, ...]


@dataclass(frozen=True)
class Trust:
    """Of one band. before : the bare prediction; after : corrected by all other nets.

    mean_rate_brier : of foretelling the band's mean share for every report.
    error_mean_db, error_sigma_db : of the predicted margins of links with reports, as the reports see them;
    stated_sigma_db : what the planner said of them; left_sigma_db : what is not known still.
    """

    reports: int
    nets: int
    heard_share: float
    before: Score
    after: Score
    mean_rate_brier: float
    error_mean_db: float
    error_sigma_db: float
    stated_sigma_db: float
    left_sigma_db: float


def trust_in(evidence: Evidence, found: Posterior, *, seed: int = 1) -> Trust:
    """The figures of a band with at least two nets. Raises : ValueError with fewer."""
    if len(evidence.nets) < 2:
        raise ValueError("leave one net out of at least two")
    seen = evidence.observations
    heard_at_all = np.array([fact.heard for fact in evidence.facts])
    events = _events(evidence)
    chances, likelihoods = np.empty(len(seen)), np.empty(len(seen))
    for net in range(len(evidence.nets)):
        of_net = seen.net == net
        left = without_net(found, seen, net)
        chances[of_net], likelihoods[of_net] = _foretold(left, events, seen, of_net)
    bare = nothing_heard(found.model)
    every = np.ones(len(seen), dtype=np.bool_)
    bare_chances, bare_likelihoods = _foretold(bare, events, seen, every)
    rate = float(heard_at_all.mean())
    mean_db, sigma_db, stated_db, left_db = _errors(found, seen)
    return Trust(
        reports=len(seen),
        nets=len(evidence.nets),
        heard_share=rate,
        before=_score(bare_chances, bare_likelihoods, heard_at_all, seen.pair, seed),
        after=_score(chances, likelihoods, heard_at_all, seen.pair, seed),
        mean_rate_brier=rate * (1.0 - rate),
        error_mean_db=mean_db,
        error_sigma_db=sigma_db,
        stated_sigma_db=stated_db,
        left_sigma_db=left_db,
    )


def _events(evidence: Evidence) -> Observations:
    """For every report the question whether it would be heard at all, put as its listener reports."""
    seen = evidence.observations
    graded = seen.functional % 3 == GRADED
    says = [graded_heard() if is_graded else heard() for is_graded in graded]
    functional = seen.functional - seen.functional % 3 + np.where(graded, GRADED, PLAIN)
    return Observations(seen.pair, functional, seen.net, Likelihoods.of(says))


def _foretold(
    found: Posterior, events: Observations, seen: Observations, which: NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    asked, told = _some(events, which), _some(seen, which)
    chances = on_prediction(found.model, asked).chance(*foretold(found, asked))
    return chances, on_prediction(found.model, told).chance(*foretold(found, told))


def _some(seen: Observations, which: NDArray[np.bool_]) -> Observations:
    return replace(
        seen,
        pair=seen.pair[which],
        functional=seen.functional[which],
        net=seen.net[which],
        says=seen.says.take(which),
    )


def _errors(found: Posterior, seen: Observations) -> tuple[float, float, float, float]:
    """Mean error of the reported directions' predictions, its spread, the stated and the remaining spread,
    dB.
    """
    stray, covariance = found.strays()
    direction = np.unique(seen.pair * 2 + seen.functional // 3)
    pair, way = direction // 2, direction % 2
    mean, variance = stray[pair, way], covariance[pair, way, way]
    _, prior = nothing_heard(found.model).strays()
    centre = float(mean.mean())
    return (
        centre,
        float(np.sqrt((mean**2 + variance).mean() - centre**2)),
        float(np.sqrt(prior[pair, way, way].mean())),
        float(np.sqrt(variance.mean())),
    )


def _score(
    chances: FloatArray,
    likelihoods: FloatArray,
    heard_at_all: NDArray[np.bool_],
    pair: NDArray[np.int64],
    seed: int,
) -> Score:
    return Score(
        right=float(((chances > _SURE) == heard_at_all).mean()),
        brier=float(((chances - heard_at_all) ** 2).mean()),
        log_score=float(np.log(likelihoods).mean()),
        bins=reliability(chances, heard_at_all, pair, seed=seed),
    )


def reliability(
    chances: FloatArray, heard_at_all: NDArray[np.bool_], pair: NDArray[np.int64], *, seed: int
) -> tuple[ReliabilityBin, ...]:
    """Foretold against seen, bins of at least FEWEST_IN_A_BIN reports where there are that many."""
    number = np.clip(np.searchsorted(BIN_EDGES, chances, side="right") - 1, 0, len(BIN_EDGES) - 2)
    groups = _joined([np.flatnonzero(number == k) for k in range(len(BIN_EDGES) - 1)])
    rng = np.random.default_rng(seed)
    bins = []
    for rows in groups:
        p, y = chances[rows], heard_at_all[rows].astype(np.float64)
        _, of_pair = np.unique(pair[rows], return_inverse=True)
        gaps = np.bincount(of_pair, y - p)
        counts = np.bincount(of_pair)
        draws = rng.integers(0, len(gaps), size=(_RESAMPLINGS, len(gaps)))
        off = gaps[draws].sum(axis=1) / counts[draws].sum(axis=1)
        low, high = np.quantile(off - off.mean(), [0.05, 0.95])
        mean = float(p.mean())
        bins.append(
            ReliabilityBin(
                len(rows), mean, float(y.mean()), max(0.0, mean + float(low)), min(1.0, mean + float(high))
            )
        )
    return tuple(bins)


def _joined(groups: list[NDArray[np.int64]]) -> list[NDArray[np.int64]]:
    """Small groups put to their neighbours, in order."""
    found: list[NDArray[np.int64]] = []
    for group in groups:
        if found and (len(found[-1]) < FEWEST_IN_A_BIN or 0 < len(group) < FEWEST_IN_A_BIN):
            found[-1] = np.concatenate([found[-1], group])
        elif len(group):
            found.append(group)
    return found

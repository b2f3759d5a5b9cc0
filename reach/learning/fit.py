"""The fit: expectation propagation on a Gaussian whose paths and evenings are integrated out pair by pair.

Each report is replaced by a Gaussian factor (precision tau, shift nu) on the functional it speaks of, and the
factors are refined in turn until the means rest. What all pairs share, the globals, is one small dense
system; everything else is a rank-one update. Source : T. P. Minka, Expectation Propagation for Approximate
Bayesian Inference (2001); the elimination is Sherman and Morrison's formula. Check values are in the
tests, and a Gibbs sampler of the same model.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from reach.learning.likelihood import Likelihoods
from reach.learning.model import BandModel, FloatArray, IntArray, functionals

DAMPING = 0.7
MOST_ROUNDS = 60
SETTLED = 1e-2  # largest change of a site's mean, in its standard deviations
_START_PRECISION = 1e-6
_LEAST_PRECISION = 1e-9
SCALE_FROM_NETS = 10  # with fewer, the stated path spread stands
_SCALE_LIMITS = (0.6, 1.6)
_SCALE_PRIOR_PAIRS = 20.0
_A = functionals()


@dataclass(frozen=True)
class Observations:
    """Reports of one band, k of them. pair, functional (k,) : of the model; net (k,) : number of the net.

    says : on the margin over workable, dB (on the level in dBm for functional kind 2).
    """

    pair: IntArray
    functional: IntArray
    net: IntArray
    says: Likelihoods

    def __len__(self) -> int:
        return len(self.pair)


@dataclass(frozen=True)
class Posterior:
    """What the reports leave. mean (g,), covariance (g, g) : of the globals, as BandModel.prior_sigma_db.

    weight (p, 6), path_precision, path_shift (p,) : what the path integrated out leaves of each pair.
    path_scale : by how much the stated path spread was off. rounds : it took. settled : whether it came to
    rest.
    """

    model: BandModel
    mean: FloatArray
    covariance: FloatArray
    weight: FloatArray
    path_precision: FloatArray
    path_shift: FloatArray
    precision: FloatArray
    shift: FloatArray
    path_scale: float
    rounds: int
    settled: bool

    @property
    def loadings(self) -> FloatArray:
        """(p, 2, 11): what each direction's stray takes of its pair's globals; the rest is the path's own."""
        pick = np.zeros((2, 6))
        pick[0, 0] = pick[1, 3] = 1.0
        w = pick[np.newaxis] - (self.weight / self.path_precision[:, np.newaxis])[:, np.newaxis, :]
        return np.asarray(w @ _A)

    def strays(self) -> tuple[FloatArray, FloatArray]:
        """Mean (p, 2) and covariance (p, 2, 2) of how far each pair strays for good from its prediction,
        dB.
        """
        idx = self.model.local_globals()
        load = self.loadings
        block = self.covariance[idx[:, :, np.newaxis], idx[:, np.newaxis, :]]
        mean = np.einsum("pdl,pl->pd", load, self.mean[idx])
        mean += (self.path_shift / self.path_precision)[:, np.newaxis]
        covariance = load @ block @ load.transpose(0, 2, 1)
        covariance += (1.0 / self.path_precision)[:, np.newaxis, np.newaxis]
        return mean, covariance

    def links(self) -> tuple[FloatArray, FloatArray]:
        """Corrected margins (p, 2) and their covariance (p, 2, 2), the evening not in it."""
        mean, covariance = self.strays()
        return self.model.margin_db + mean, covariance


@dataclass(frozen=True)
class _State:
    """Sums of the sites over evenings and pairs, and the globals they give."""

    evening_precision: FloatArray  # T (m, 6)
    evening_shift: FloatArray  # H (m, 6)
    evening_total: FloatArray  # pi (m,)
    weight: FloatArray  # r (q, 6)
    path_precision: FloatArray  # (q,)
    path_shift: FloatArray  # sum of eta (q,)
    mean: FloatArray
    covariance: FloatArray


class _System:
    """The parts of the computation that do not change from round to round. q reported pairs, m evenings."""

    def __init__(self, model: BandModel, seen: Observations) -> None:
        self.model, self.seen = model, seen
        self.reported, self.pair = np.unique(seen.pair, return_inverse=True)
        nets = int(seen.net.max()) + 1 if len(seen) else 1
        keys, self.evening = np.unique(self.pair * nets + seen.net, return_inverse=True)
        self.pair_of_evening = keys // nets
        self.kappa = 1.0 / model.evening_sigma_db[self.reported] ** 2
        self.idx = model.local_globals()[self.reported]
        size = len(model.prior_sigma_db)
        self.flat = (self.idx[:, :, np.newaxis] * size + self.idx[:, np.newaxis, :]).ravel()
        direction = seen.functional // 3
        meter = seen.functional % 3 == 2
        predicted = np.where(
            meter, model.level_dbm[seen.pair, direction], model.margin_db[seen.pair, direction]
        )
        self.says = seen.says.under(predicted)

    def _by_evening(self, values: FloatArray) -> FloatArray:
        m = len(self.pair_of_evening)
        where = self.evening * 6 + self.seen.functional
        return np.bincount(where, values, minlength=6 * m).astype(np.float64).reshape(m, 6)

    def _by_pair(self, values: FloatArray) -> FloatArray:
        """Sum over the evenings of each pair; values (m, k)."""
        starts = np.searchsorted(self.pair_of_evening, np.arange(len(self.reported)))
        return np.add.reduceat(values, starts, axis=0) if len(starts) else values[:0]

    def solve(self, tau: FloatArray, nu: FloatArray, path_sigma_db: FloatArray) -> _State:
        """Evenings and paths integrated out, then the globals. path_sigma_db : (q,) of the reported pairs."""
        t, h = self._by_evening(tau), self._by_evening(nu)
        total = self.kappa[self.pair_of_evening] + t.sum(axis=1)
        inner = -t[:, :, np.newaxis] * (t / total[:, np.newaxis])[:, np.newaxis, :]
        inner[:, range(6), range(6)] += t
        lam = self._by_pair(inner.reshape(-1, 36)).reshape(-1, 6, 6)
        eta = self._by_pair(h - t * (h.sum(axis=1) / total)[:, np.newaxis])
        r = lam.sum(axis=2)
        path_precision = 1.0 / path_sigma_db**2 + r.sum(axis=1)
        path_shift = eta.sum(axis=1)
        lam = lam - r[:, :, np.newaxis] * (r / path_precision[:, np.newaxis])[:, np.newaxis, :]
        eta = eta - r * (path_shift / path_precision)[:, np.newaxis]
        prior = self.model.prior_sigma_db
        size = len(prior)
        counted = np.bincount(self.flat, (_A.T @ lam @ _A).ravel(), minlength=size * size)
        q = counted.astype(np.float64).reshape(size, size)  # of nothing, bincount counts in whole numbers
        q[range(size), range(size)] += 1.0 / prior**2
        shift = np.bincount(self.idx.ravel(), (eta @ _A).ravel(), minlength=size)
        root = np.linalg.inv(np.linalg.cholesky(q))
        covariance = root.T @ root
        return _State(t, h, total, r, path_precision, path_shift, covariance @ shift, covariance)

    def sites(self, state: _State) -> tuple[FloatArray, FloatArray]:
        """Mean and variance of every report's functional, evening included."""
        block = state.covariance[self.idx[:, :, np.newaxis], self.idx[:, np.newaxis, :]]
        u = state.mean[self.idx] @ _A.T
        spread = _A @ block @ _A.T
        pair, evening = self.pair, self.evening
        share = self.kappa[pair] / state.evening_total[evening]
        w = -state.evening_precision[evening] / state.evening_total[evening][:, np.newaxis]
        w -= (share / state.path_precision[pair])[:, np.newaxis] * state.weight[pair]
        w[np.arange(len(w)), self.seen.functional] += 1.0
        mean = (w * u[pair]).sum(axis=1) + share * state.path_shift[pair] / state.path_precision[pair]
        mean += state.evening_shift[evening].sum(axis=1) / state.evening_total[evening]
        variance = (w * (spread[pair] @ w[:, :, np.newaxis])[:, :, 0]).sum(axis=1)
        variance += share**2 / state.path_precision[pair] + 1.0 / state.evening_total[evening]
        return mean, variance

    def path_scale(self, state: _State, path_sigma_db: FloatArray) -> float:
        """By how much the reported pairs' own paths stray beside path_sigma_db, shrunk towards as stated."""
        block = state.covariance[self.idx[:, :, np.newaxis], self.idx[:, np.newaxis, :]]
        load = -(state.weight / state.path_precision[:, np.newaxis]) @ _A
        mean = (load * state.mean[self.idx]).sum(axis=1) + state.path_shift / state.path_precision
        variance = (load * (block @ load[:, :, np.newaxis])[:, :, 0]).sum(axis=1) + 1.0 / state.path_precision
        seen = float(((mean**2 + variance) / path_sigma_db**2).sum())
        return float(np.sqrt((_SCALE_PRIOR_PAIRS + seen) / (_SCALE_PRIOR_PAIRS + len(mean))))


def refined(
    says: Likelihoods, mean: FloatArray, variance: FloatArray, tau: FloatArray, nu: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """The Gaussian factors that give each report's functional the mean and variance it should have."""
    left = 1.0 / variance - tau
    usable = left > 1e-10
    v = np.where(usable, 1.0 / np.where(usable, left, 1.0), 1.0)
    m = v * (mean / variance - nu)
    _, slope, bend = says.tilted(m, v)
    inside = np.maximum(1.0 + v * bend, _LEAST_PRECISION)
    new_tau, new_nu = -bend / inside, (slope - m * bend) / inside
    outlier = new_tau < _LEAST_PRECISION  # the report is taken as wrong: keep its mean, add no certainty
    new_tau = np.where(outlier, _LEAST_PRECISION, new_tau)
    new_nu = np.where(outlier, (m + v * slope) * (1.0 / v + _LEAST_PRECISION) - m / v, new_nu)
    return np.where(usable, new_tau, tau), np.where(usable, new_nu, nu)


def fit(
    model: BandModel, seen: Observations, *, settled: float = SETTLED, most_rounds: int = MOST_ROUNDS
) -> Posterior:
    """The posterior of a band's stations and paths.

    From SCALE_FROM_NETS nets on the path spread's scale is fitted too, within 0.6 and 1.6 of the stated one.
    """
    system = _System(model, seen)
    scales = len(np.unique(seen.net)) >= SCALE_FROM_NETS
    scale = 1.0
    stated = model.path_sigma_db[system.reported]
    tau = np.full(len(seen), _START_PRECISION)
    nu = np.zeros(len(seen))
    last: FloatArray | None = None
    rounds, at_rest = 0, not len(seen)
    state = system.solve(tau, nu, stated)
    while not at_rest and rounds < most_rounds:
        rounds += 1
        mean, variance = system.sites(state)
        if last is not None:
            at_rest = bool(np.max(np.abs(mean - last) / np.sqrt(variance)) < settled)
        last = mean
        new_tau, new_nu = refined(system.says, mean, variance, tau, nu)
        tau = (1.0 - DAMPING) * tau + DAMPING * new_tau
        nu = (1.0 - DAMPING) * nu + DAMPING * new_nu
        if scales and rounds >= 4:
            scale = float(np.clip(scale * system.path_scale(state, scale * stated), *_SCALE_LIMITS))
        state = system.solve(tau, nu, scale * stated)
    return _posterior(system, state, tau, nu, scale=scale, rounds=rounds, settled=at_rest)


def _posterior(
    system: _System,
    state: _State,
    tau: FloatArray,
    nu: FloatArray,
    *,
    scale: float,
    rounds: int,
    settled: bool,
) -> Posterior:
    model = system.model
    weight = np.zeros((len(model.pairs), 6))
    precision = 1.0 / (scale * model.path_sigma_db) ** 2
    shift = np.zeros(len(model.pairs))
    weight[system.reported] = state.weight
    precision[system.reported] = state.path_precision
    shift[system.reported] = state.path_shift
    return Posterior(
        model,
        state.mean,
        state.covariance,
        weight,
        precision,
        shift,
        tau,
        nu,
        scale,
        rounds,
        settled,
    )


def without_net(found: Posterior, seen: Observations, net: int) -> Posterior:
    """The posterior as if the reports of one net had not come: their factors taken out, nothing refitted."""
    gone = seen.net == net
    system = _System(found.model, seen)
    tau, nu = np.where(gone, 0.0, found.precision), np.where(gone, 0.0, found.shift)
    state = system.solve(tau, nu, found.path_scale * found.model.path_sigma_db[system.reported])
    return _posterior(
        system, state, tau, nu, scale=found.path_scale, rounds=found.rounds, settled=found.settled
    )


def foretold(found: Posterior, seen: Observations) -> tuple[FloatArray, FloatArray]:
    """Mean and variance (k,) of what each report speaks of on a new evening, dB over the prediction."""
    idx = found.model.local_globals()[seen.pair]
    w = -found.weight[seen.pair] / found.path_precision[seen.pair][:, np.newaxis]
    w[np.arange(len(w)), seen.functional] += 1.0
    load = w @ _A
    block = found.covariance[idx[:, :, np.newaxis], idx[:, np.newaxis, :]]
    mean = (load * found.mean[idx]).sum(axis=1)
    mean += found.path_shift[seen.pair] / found.path_precision[seen.pair]
    variance = (load * (block @ load[:, :, np.newaxis])[:, :, 0]).sum(axis=1)
    variance += 1.0 / found.path_precision[seen.pair] + found.model.evening_sigma_db[seen.pair] ** 2
    return mean, variance


def on_prediction(model: BandModel, seen: Observations) -> Likelihoods:
    """The reports' likelihoods on the stray from the prediction instead of on the margin or level itself."""
    return _System(model, seen).says


def nothing_heard(model: BandModel) -> Posterior:
    """The posterior before any report: the prediction with its stated spread and the band's."""
    none = Observations(
        np.zeros(0, np.int64), np.zeros(0, np.int64), np.zeros(0, np.int64), Likelihoods.of([])
    )
    return fit(model, none)

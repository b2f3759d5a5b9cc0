"""The fit against slice sampling of the whole model, every path and evening an unknown of its own.

Elliptical slice sampling (Murray, Adams, MacKay 2010) needs nothing but the prior and the likelihood; the
latter is written anew here, with scipy's normal distribution.
"""

from __future__ import annotations

import numpy as np
from scipy.stats import norm

from reach.learning.fit import fit
from reach.learning.model import functionals
from tests.learning.world import World, invented_model

CHAINS, WARM_UP, KEPT = 100, 150, 150


def test_means_and_spreads_of_links() -> None:
    rng = np.random.default_rng(11)
    world = World.drawn(rng, invented_model(rng, 5))
    model = world.model
    evidence = world.evidence(world.reports(rng, 4, attend=0.9, filed=0.7))
    seen = evidence.observations
    found = fit(model, seen, settled=1e-6, most_rounds=300)
    mean, covariance = found.links()
    sigma = np.sqrt(np.stack([covariance[:, 0, 0], covariance[:, 1, 1]], axis=1))

    g, p = len(model.prior_sigma_db), len(model.pairs)
    evenings, evening = np.unique(seen.pair * 100 + seen.net, return_inverse=True)
    prior = np.concatenate(
        [model.prior_sigma_db, model.path_sigma_db, model.evening_sigma_db[evenings // 100]]
    )
    takes = np.zeros((len(seen), len(prior)))  # what each report's functional takes of every unknown
    rows = np.arange(len(seen))
    np.add.at(takes, (rows[:, None], model.local_globals()[seen.pair]), functionals()[seen.functional])
    takes[rows, g + seen.pair] = 1.0
    takes[rows, g + p + evening] = 1.0
    predicted = model.margin_db[seen.pair, seen.functional // 3]

    def log_likelihood(x: np.ndarray) -> np.ndarray:
        f = predicted + x @ takes.T
        said = seen.says
        total = said.floor + sum(
            said.weight[:, k]
            * (
                norm.cdf((said.high_db[:, k] - f) / said.sigma_db)
                - norm.cdf((said.low_db[:, k] - f) / said.sigma_db)
            )
            for k in range(2)
        )
        return np.log(total).sum(axis=1)

    x = rng.standard_normal((CHAINS, len(prior))) * prior
    level = log_likelihood(x)
    first, second = np.zeros((p, 2)), np.zeros((p, 2))
    link = np.zeros((2 * p, len(prior)))
    for d in range(2):
        at = 2 * np.arange(p) + d
        np.add.at(link, (at[:, None], model.local_globals()), functionals()[3 * d])
        link[at, g + np.arange(p)] = 1.0
    for step in range(WARM_UP + KEPT):
        other = rng.standard_normal(x.shape) * prior
        threshold = level + np.log(rng.random(CHAINS))
        angle = rng.random(CHAINS) * 2.0 * np.pi
        low, high = angle - 2.0 * np.pi, angle.copy()
        open_ones = np.arange(CHAINS)
        moved = x.copy()
        while open_ones.size:
            a = angle[open_ones, None]
            tried = x[open_ones] * np.cos(a) + other[open_ones] * np.sin(a)
            reached = log_likelihood(tried)
            good = reached > threshold[open_ones]
            moved[open_ones[good]] = tried[good]
            level[open_ones[good]] = reached[good]
            bad = open_ones[~good]
            high[bad] = np.where(angle[bad] > 0.0, angle[bad], high[bad])
            low[bad] = np.where(angle[bad] <= 0.0, angle[bad], low[bad])
            angle[bad] = low[bad] + rng.random(bad.size) * (high[bad] - low[bad])
            open_ones = bad
        x = moved
        if step >= WARM_UP:
            links = (x @ link.T).reshape(CHAINS, p, 2)
            first += links.mean(axis=0) / KEPT
            second += (links**2).mean(axis=0) / KEPT
    sampled_sigma = np.sqrt(second - first**2)
    off = mean - (model.margin_db + first)
    assert np.sqrt((off**2).mean()) < 0.6
    assert np.abs(off / sigma).max() < 0.3
    assert 0.93 < (sigma / sampled_sigma).mean() < 1.05

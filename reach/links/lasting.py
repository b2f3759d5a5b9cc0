"""What nobody knows about links once reports have come: doubts that many links share, as one joint normal.

Before reports the parts of a spread are independent (`SigmaParts`); after them they are not: a station heard
badly by all is badly sited or deaf, and which of the two stays open. The joint distribution is kept as a few
shared unknowns (band, stations) and one of each path's own.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.propagation.variability import SigmaParts

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class HeardEnd:
    """What reports have taught of one end of a path to somewhere nobody reported from.

    in_db, out_db : by how much it hears, and is heard, better than predicted, the band's own stray included.
    in_sigma_db, out_sigma_db : what that may be off by still, the end's noise included where it hears;
    covariance_db2 : of the two.
    path_scale : by how much the spread stated of paths was off.
    """

    in_db: float
    out_db: float
    in_sigma_db: float
    out_sigma_db: float
    covariance_db2: float
    path_scale: float


@dataclass(frozen=True)
class LastingDoubt:
    """Doubt of every direction [tx, rx] of a network of n stations, without the evening, dB.

    root (g, g) : of the shared unknowns, covariance = root root^T. shared (n, n, k) : which of them a
    direction holds; loading (n, n, k) : by how much. own_sigma_db (n, n) symmetric : of the path alone, one
    draw for both directions. variance, covariance (n, n) : of a direction, and with the way back.
    """

    root: FloatArray
    shared: IntArray
    loading: FloatArray
    own_sigma_db: FloatArray
    variance: FloatArray
    covariance: FloatArray

    def parts(self, time_db: FloatArray) -> SigmaParts:
        """Parts that give each direction's variance and its covariance with the way back.

        path_db is what both directions share, not symmetric where their variances differ; rx_noise_db the
        rest.
        """
        with np.errstate(invalid="ignore", divide="ignore"):
            correlation = self.covariance / np.sqrt(self.variance * self.variance.T)
        shared = np.clip(correlation, 0.0, 1.0)
        path_db = np.sqrt(shared * self.variance)
        own_db = np.sqrt((1.0 - shared) * self.variance)
        return SigmaParts(path_db, np.zeros_like(path_db), np.zeros_like(path_db), time_db, own_db)

    def draw(
        self, rng: np.random.Generator, clubs: int, one: IntArray, other: IntArray
    ) -> tuple[FloatArray, FloatArray]:
        """(clubs, links) strays of the directions one -> other and other -> one, dB, clubs drawn at
        random.
        """
        unknowns = rng.standard_normal((clubs, self.root.shape[1])) @ self.root.T
        own = rng.standard_normal((clubs, len(one))) * np.nan_to_num(self.own_sigma_db[one, other])

        def direction(tx: IntArray, rx: IntArray) -> FloatArray:
            taken = unknowns[:, self.shared[tx, rx]]
            return np.asarray((taken * self.loading[tx, rx]).sum(axis=-1) + own)

        return direction(one, other), direction(other, one)

    def of(self, keep: IntArray) -> LastingDoubt:
        """The same for some of the stations."""
        pick = np.ix_(keep, keep)
        return replace(
            self,
            shared=self.shared[pick],
            loading=self.loading[pick],
            own_sigma_db=self.own_sigma_db[pick],
            variance=self.variance[pick],
            covariance=self.covariance[pick],
        )

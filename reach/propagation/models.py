"""What every whole-path model looks like from outside, and the table from name to model.

A model turns terrain profiles into basic transmission loss between isotropic antennas. It knows nothing of
members, files or maps. The single-path and the batch call give the same numbers; the batch is what the
planner uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class PathLoss:
    """Basic transmission loss of one path: median, dB; parts for whoever wants to see them."""

    loss_db: float
    free_space_db: float
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True)
class PathLosses:
    """Basic transmission loss of a batch: arrays (paths,), dB. warnings : (path, text) pairs, path order."""

    loss_db: FloatArray
    free_space_db: FloatArray
    warnings: Sequence[tuple[int, str]] = ()


@runtime_checkable
class PathLossModel(Protocol):
    """A named way from profile to loss.

    name : what net.toml calls it; source : standard and edition; valid_mhz : (lowest, highest) frequency;
    summary : one plain sentence for `reach path` and the docs.
    """

    @property
    def name(self) -> str: ...
    @property
    def source(self) -> str: ...
    @property
    def summary(self) -> str: ...
    @property
    def valid_mhz(self) -> tuple[float, float]: ...

    def loss(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> PathLoss:
        """Loss of one path. Heights above ground. Raises OutOfRange outside the model's valid range."""
        ...

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> PathLosses:
        """Loss of every path of a batch; heights and frequency scalar or (paths,).

        Raises : OutOfRange naming the path.
        """
        ...

"""What every whole-path model looks like from outside, and the table from name to model.

A model turns terrain profiles into basic transmission loss between isotropic antennas. It knows nothing of
members, files or maps. The single-path and the batch call give the same numbers; the batch is what the
planner uses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import Enum
from typing import Protocol, runtime_checkable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.propagation.path_inputs import ModelLimits, single
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch

FloatArray = NDArray[np.float64]


class LandSight(Enum):
    """What a model makes of trees and houses."""

    NOTHING = "nothing"  # bare ground only, whatever the profiles carry
    PATH = "path"  # the clutter of the profiles; antennas stand clear of it
    ENDS = "ends"  # the path's, and what either antenna loses below what stands round it


@dataclass(frozen=True)
class PathLoss:
    """Basic transmission loss of one path: median, dB; parts for whoever wants to see them.

    tx_end_db, rx_end_db : what loss_db holds for antennas below trees and roofs, of models that see the ends.
    """

    loss_db: float
    free_space_db: float
    warnings: tuple[str, ...] = ()
    tx_end_db: float = 0.0
    rx_end_db: float = 0.0


@dataclass(frozen=True)
class PathLosses:
    """Basic transmission loss of a batch: arrays (paths,), dB; fields as in PathLoss.

    warnings : (path, text) pairs, path order. *_end_db : None of a model that does not see the ends.
    """

    loss_db: FloatArray
    free_space_db: FloatArray
    warnings: Sequence[tuple[int, str]] = ()
    tx_end_db: FloatArray | None = None
    rx_end_db: FloatArray | None = None

    def single(self) -> PathLoss:
        """The only path of a batch of one."""
        return PathLoss(
            float(self.loss_db[0]),
            float(self.free_space_db[0]),
            tuple(text for _, text in self.warnings),
            0.0 if self.tx_end_db is None else float(self.tx_end_db[0]),
            0.0 if self.rx_end_db is None else float(self.rx_end_db[0]),
        )


@runtime_checkable
class PathLossModel(Protocol):
    """A named way from profile to loss.

    name : what net.toml calls it; source : standard and edition; valid_mhz : (lowest, highest) frequency;
    summary : one plain sentence for `reach path` and the docs; limits : of frequency, antenna height, length
    and points; sees : what it makes of trees and houses; complete : it counts terrain, curvature and
    ground, so that its figure says something of how sure a loss is. A path by itself is a batch of one.
    """

    @property
    def name(self) -> str: ...
    @property
    def source(self) -> str: ...
    @property
    def summary(self) -> str: ...
    @property
    def valid_mhz(self) -> tuple[float, float]: ...
    @property
    def limits(self) -> ModelLimits: ...
    @property
    def sees(self) -> LandSight: ...
    @property
    def complete(self) -> bool: ...

    def loss(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: float = 10.0,
        rx_land_m: float = 10.0,
    ) -> PathLoss:
        """Loss of one path. Heights above ground. Raises OutOfRange outside the model's valid range.

        tx_land_m, rx_land_m : height of what stands round either antenna, m, 0 for open land; no matter to a
            model that does not see the ends.
        """
        found = self.losses(
            single(profile),
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
            tx_land_m=tx_land_m,
            rx_land_m=rx_land_m,
        )
        return found.single()

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: ArrayLike = 10.0,
        rx_land_m: ArrayLike = 10.0,
    ) -> PathLosses:
        """Loss of every path of a batch; heights, land and frequency scalar or (paths,).

        Raises : OutOfRange naming the path.
        """
        ...

"""The P.526 family as path-loss models: free space plus diffraction over the profile, median refraction.

P.526 itself states no clutter and no share of time. Clutter given with a profile counts as ground, except at
the ends.
"""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.machinery.parallel import over_paths
from reach.propagation.delta_bullington import DeltaBullington, delta_bullington
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import slant_free_space_db
from reach.propagation.models import LandSight, PathLosses, PathLossModel
from reach.propagation.path_inputs import POLARISATION_CODE, ModelLimits, PathInputs, prepare, single
from reach.propagation.smooth_earth import P526, DiffractionConstants
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch
from reach.units import wavelength_m

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class _DiffractionModel(PathLossModel):
    """What the four models share: checks, free space, the sum.

    k_factor : effective over true Earth radius; threads : None for every core.
    valid_mhz : the smooth-Earth part is stated for 10 MHz and up; P.526-15, 3.1.
    """

    k_factor: float = STANDARD_K_FACTOR
    threads: int | None = None
    name: str = ""
    source: str = ""
    summary: str = ""
    valid_mhz: tuple[float, float] = (10.0, 100_000.0)
    sees: LandSight = LandSight.PATH
    complete: bool = False

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used."""
        return ModelLimits(self.name, self.valid_mhz, (0.1, 3000.0), (1e-3, 3000.0), 3)

    @property
    def radius_km(self) -> float:
        """Effective Earth radius in use, km."""
        return effective_radius_km(self.k_factor)

    @abstractmethod
    def _diffraction(self, inputs: PathInputs, polarisation: Polarisation, loss_db: FloatArray) -> None:
        """Fill loss_db (paths,) with the loss against free space."""

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: ArrayLike = 0.0,
        rx_land_m: ArrayLike = 0.0,
    ) -> PathLosses:
        """As PathLossModel.losses."""
        inputs = prepare(
            batch,
            self.limits,
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
        )
        loss_db = np.empty(len(inputs))
        self._diffraction(inputs, polarisation, loss_db)
        free_space_db = slant_free_space_db(inputs)
        return PathLosses(free_space_db + loss_db, free_space_db)


@dataclass(frozen=True)
class _EdgeModel(_DiffractionModel):
    """A model of edges only; polarisation does not enter."""

    @abstractmethod
    def _loop(self) -> Callable[..., None]:
        """The compiled loop over paths, imported when it is first wanted."""

    def _diffraction(self, inputs: PathInputs, polarisation: Polarisation, loss_db: FloatArray) -> None:
        over_paths(
            self._loop(),
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.tx_height_m,
            inputs.rx_height_m,
            self.radius_km,
            wavelength_m(inputs.frequency_mhz),
            loss_db,
            threads=self.threads,
        )


@dataclass(frozen=True)
class SingleEdgeModel(_EdgeModel):
    """The one dominant edge as a knife edge."""

    name: str = "single_edge"
    source: str = "Rec. ITU-R P.526-15, 4.1"
    summary: str = (
        "The one worst edge as a knife edge; trust it behind a single sharp ridge, not behind several."
    )

    def _loop(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import single_edge_paths

        loop: Callable[..., None] = single_edge_paths
        return loop


@dataclass(frozen=True)
class CascadedEdgesModel(_EdgeModel):
    """The main edge and one on either side."""

    name: str = "cascaded_edges"
    source: str = "Rec. ITU-R P.526-11, 4.4.2"
    summary: str = (
        "The worst edge, one on either side, 10 dB more; for comparison only: "
        "reads far too high on finely sampled hills."
    )

    def _loop(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import cascaded_edges_paths

        loop: Callable[..., None] = cascaded_edges_paths
        return loop


@dataclass(frozen=True)
class BullingtonModel(_EdgeModel):
    """The equivalent edge where the two horizon lines meet."""

    name: str = "bullington"
    source: str = "Rec. ITU-R P.526-15, 4.5.1"
    summary: str = (
        "One equivalent edge for the whole profile; sound among hills, too hopeful over smooth ground."
    )

    def _loop(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import bullington_paths

        loop: Callable[..., None] = bullington_paths
        return loop


@dataclass(frozen=True)
class DeltaBullingtonModel(_DiffractionModel):
    """Bullington over the terrain, corrected by the smooth Earth.

    effective_earth_radius_km : overrides k_factor where a source states a radius (P.526 itself: 8500 km).
    constants : exact by default; P.1812 and the published test sets round them differently.
    """

    effective_earth_radius_km: float | None = None
    constants: DiffractionConstants = P526
    complete: bool = True
    name: str = "delta_bullington"
    source: str = "Rec. ITU-R P.526-15, 4.5"
    summary: str = (
        "Diffraction over the profile and the bent Earth, nothing else; the plain baseline in hills."
    )

    @property
    def radius_km(self) -> float:
        """Effective Earth radius in use, km."""
        return self.effective_earth_radius_km or effective_radius_km(self.k_factor)

    def parts(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> DeltaBullington:
        """The parts of one path's diffraction loss, by the very same formulas run as plain Python."""
        inputs = prepare(
            single(profile),
            self.limits,
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
        )
        found = delta_bullington(
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            tx_height_m,
            rx_height_m,
            self.radius_km,
            frequency_mhz * 1e-3,
            POLARISATION_CODE[polarisation],
            self.constants,
        )
        return DeltaBullington(*(float(value) for value in found))

    def _diffraction(self, inputs: PathInputs, polarisation: Polarisation, loss_db: FloatArray) -> None:
        from reach.propagation._delta_bullington_kernel import delta_bullington_paths

        over_paths(
            delta_bullington_paths,
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            inputs.tx_height_m,
            inputs.rx_height_m,
            self.radius_km,
            inputs.frequency_mhz,
            POLARISATION_CODE[polarisation],
            self.constants,
            loss_db,
            threads=self.threads,
        )

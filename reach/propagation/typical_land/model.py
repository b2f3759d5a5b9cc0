"""Typical land as a path-loss model: settings, checks, single paths and batches."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import Enum

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.machinery.parallel import over_paths
from reach.propagation.models import LandSight, PathLosses, PathLossModel
from reach.propagation.p1812.model import P1812Settings, path_settings, short_path_warnings
from reach.propagation.path_inputs import POLARISATION_CODE, ModelLimits, per_path, prepare, single
from reach.propagation.typical_land.path import BARE, GIVEN, USUAL, TypicalLandPath, typical_land_path
from reach.propagation.typical_land.rule import USUAL_HEIGHT_M
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch

FloatArray = NDArray[np.float64]

HIGHEST_LAND_M = 200.0


class Cover(Enum):
    """What stands along the paths; the value is the compiled path's code."""

    BARE = BARE  # nothing: the lower limit of the loss
    USUAL = USUAL  # by what stands round the two stations
    GIVEN = GIVEN  # the clutter of the profiles, from a land-cover raster


SUMMARIES = {
    Cover.BARE: (
        "P.1812 over bare ground, scatter for low antennas; the least loss there can be on all but flat land."
    ),
    Cover.USUAL: (
        "P.1812 over ground with houses and trees, each end in its surroundings; "
        "near P.1546's measured curves, least sure behind two ridges."
    ),
    Cover.GIVEN: (
        "P.1812 over the land cover given, each end in its surroundings; "
        "near P.1546's measured curves, least sure behind two ridges."
    ),
}


@dataclass(frozen=True)
class TypicalLandModel(PathLossModel):
    """P.1812's median over ground that carries houses and trees, with P.2108's end terms (see the package).

    cover : what stands along the paths. settings : of P.1812; its time percentage may be below 50, all its
    spread over places is left at the median. Below 30 MHz, where the Recommendations start, it goes on.
    """

    cover: Cover = Cover.USUAL
    settings: P1812Settings = field(default_factory=P1812Settings)
    name: str = "typical_land"
    source: str = "Rec. ITU-R P.1812-7 and P.2108-1, 3.1; NBS Technical Note 101, section 9"
    valid_mhz: tuple[float, float] = (20.0, 3000.0)
    complete: bool = True
    threads: int | None = None

    @property
    def summary(self) -> str:
        """One plain sentence."""
        return SUMMARIES[self.cover]

    @property
    def sees(self) -> LandSight:
        """Bare ground is bare at the ends too."""
        return LandSight.NOTHING if self.cover is Cover.BARE else LandSight.ENDS

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used. Paths under 0.25 km are computed with a warning."""
        return ModelLimits(
            self.name,
            self.valid_mhz,
            (0.5, 3000.0),
            (1e-3, 3000.0),
            3,
            stated_mhz=(30.0, 3000.0),
        )

    def details(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: float = USUAL_HEIGHT_M,
        rx_land_m: float = USUAL_HEIGHT_M,
    ) -> TypicalLandPath:
        """One path in its parts, by the very same formulas run as plain Python. Raises : as `losses`."""
        inputs = prepare(
            single(profile),
            self.limits,
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
        )
        found: TypicalLandPath = typical_land_path(
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            profile.mid_latitude_deg,
            tx_height_m,
            rx_height_m,
            tx_land_m,
            rx_land_m,
            frequency_mhz * 1e-3,
            POLARISATION_CODE[polarisation],
            self.cover.value,
            path_settings(self.settings),
        )
        return found

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: ArrayLike = USUAL_HEIGHT_M,
        rx_land_m: ArrayLike = USUAL_HEIGHT_M,
    ) -> PathLosses:
        """As PathLossModel.losses."""
        from reach.propagation.typical_land._typical_land_kernel import typical_land_paths

        inputs = prepare(
            batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
        )
        paths = len(inputs)
        lands_m = (0.0, HIGHEST_LAND_M)
        tx_land = per_path("land round the transmitter", tx_land_m, paths, bounds=lands_m, unit="m")
        rx_land = per_path("land round the receiver", rx_land_m, paths, bounds=lands_m, unit="m")
        loss_db, free_space_db, tx_end_db, rx_end_db = (np.empty(paths) for _ in range(4))
        over_paths(
            typical_land_paths,
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            inputs.mid_latitude_deg,
            inputs.tx_height_m,
            inputs.rx_height_m,
            tx_land,
            rx_land,
            inputs.frequency_mhz,
            POLARISATION_CODE[polarisation],
            self.cover.value,
            path_settings(self.settings),
            loss_db,
            free_space_db,
            tx_end_db,
            rx_end_db,
            threads=self.threads,
        )
        warnings = short_path_warnings(inputs, self.name)
        return PathLosses(loss_db, free_space_db, warnings, tx_end_db, rx_end_db)

"""What an area sweep needs to know besides the ground: the model, both ends, what stands along the paths."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from reach.errors import OutOfRange
from reach.propagation.choose import AUTO, choose_model
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.models import LandSight, PathLossModel
from reach.propagation.p1812.model import P1812Settings
from reach.propagation.typical_land.model import HIGHEST_LAND_M, Cover, TypicalLandModel
from reach.stations import Polarisation
from reach.units import figure

if TYPE_CHECKING:
    pass

Raster = NDArray[np.float32]


class AreaModel(Enum):
    """Path-loss models there is a sweep for, by their names."""

    DELTA_BULLINGTON = "delta_bullington"
    P1812 = "p1812"
    TYPICAL_LAND = "typical_land"


def area_model(name: str) -> AreaModel:
    """The sweep for a net's model, the same model as on single paths.

    Raises : OutOfRange for a model there is no sweep for.
    """
    found = AreaModel.TYPICAL_LAND if name == AUTO else AREA_MODELS.get(name)
    if found is None:
        raise OutOfRange(
            f"areas cannot be computed by {name}, and by another model they would not say what its paths "
            f"say; set model in net.toml to {AUTO} or {' or '.join(AREA_MODELS)}."
        )
    return found


AREA_MODELS = {model.value: model for model in AreaModel}


LIMITS_MHZ = {
    AreaModel.DELTA_BULLINGTON: (20.0, 10_000.0),  # beta = 1 over land from 20 MHz, P.526-15, 3.1.1.1
    AreaModel.P1812: (30.0, 6000.0),  # P.1812-7, scope
    AreaModel.TYPICAL_LAND: TypicalLandModel().valid_mhz,
}


@dataclass(frozen=True)
class AreaPath:
    """What an area sweep needs to know besides the ground.

    site_height_m, far_height_m : antenna heights above ground at the site and in the cells, m.
    location_percent : share of places within a cell for which the loss is not exceeded; other than 50 by
    P.1812 only. cover : what stands along the paths (typical land; the others see the raster's alone);
    site_land_m, far_land_m : height of what stands round the site and in the cells, m, 0 for open land;
    None, where nobody said: the usual, or, with a raster, what it has there.
    """

    frequency_mhz: float
    site_height_m: float
    far_height_m: float
    k_factor: float = STANDARD_K_FACTOR
    polarisation: Polarisation = Polarisation.VERTICAL
    model: AreaModel = AreaModel.DELTA_BULLINGTON
    location_percent: float = 50.0
    cover: Cover = Cover.USUAL
    site_land_m: float | None = None
    far_land_m: float | None = None

    @property
    def complete(self) -> bool:
        """Whether more than diffraction is computed."""
        return self.model is not AreaModel.DELTA_BULLINGTON

    @property
    def sees(self) -> LandSight:
        """What the model makes of trees and houses, as its namesake for single paths."""
        return path_model(self).sees

    @property
    def radius_km(self) -> float:
        """Effective Earth radius, km. P.1812 and typical land keep their own standard atmosphere unless
        another k-factor is asked for."""
        own = math.isclose(self.k_factor, STANDARD_K_FACTOR) and self.complete
        return P1812Settings().radius_km if own else effective_radius_km(self.k_factor)

    def check(self) -> None:
        """Raises : OutOfRange naming the value and its limits."""
        lowest_mhz, highest_mhz = LIMITS_MHZ[self.model]
        spread = (1.0, 99.0) if self.model is AreaModel.P1812 else (50.0, 50.0)
        limits = (
            ("frequency", self.frequency_mhz, lowest_mhz, highest_mhz, "MHz"),
            ("antenna height at the site", self.site_height_m, 0.1, 3000.0, "m"),
            ("antenna height in the cells", self.far_height_m, 0.1, 3000.0, "m"),
            ("k-factor", self.k_factor, 0.5, 10.0, ""),
            ("location percentage", self.location_percent, *spread, "%"),
            ("height of what stands round the site", self.site_land_m or 0.0, 0.0, HIGHEST_LAND_M, "m"),
            ("height of what stands in the cells", self.far_land_m or 0.0, 0.0, HIGHEST_LAND_M, "m"),
        )
        for name, value, lowest, highest, unit in limits:
            if not lowest <= value <= highest:
                valid = f"{figure(lowest)} to {figure(highest)} {unit}".rstrip()
                raise OutOfRange(f"{f'{name} {figure(value)} {unit}'.rstrip()}; valid: {valid}")


def path_model(path: AreaPath) -> PathLossModel:
    """The same model for single paths."""
    own = math.isclose(path.k_factor, STANDARD_K_FACTOR)
    return choose_model(
        path.model.value, path.frequency_mhz, k_factor=None if own else path.k_factor, cover=path.cover
    )

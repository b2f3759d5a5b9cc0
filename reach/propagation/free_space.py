# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""Free-space propagation, Rec. ITU-R P.525, and the conversions between loss, field and power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numba.extending import register_jitable
from numpy.typing import ArrayLike, NDArray

from reach.propagation.models import LandSight, PathLosses, PathLossModel
from reach.propagation.path_inputs import ModelLimits, PathInputs, prepare
from reach.stations import Polarisation
from reach.terrain.profile import ProfileBatch
from reach.units import SPEED_OF_LIGHT_M_PER_S, Number

FloatArray = NDArray[np.float64]

FREE_SPACE_CONSTANT_DB = 20.0 * np.log10(4.0 * np.pi * 1e9 / SPEED_OF_LIGHT_M_PER_S)  # 32.4478; printed 32.4


@register_jitable
def free_space_loss_db(distance_km: Number, frequency_mhz: Number) -> Number:
    """Basic transmission loss in free space, dB, between isotropic antennas.

    distance_km, frequency_mhz : floats or arrays that broadcast, above zero.
    Source : Rec. ITU-R P.525-4, eq. (4) (from memory), with the exact constant 32.448 for the printed 32.4.
    """
    return FREE_SPACE_CONSTANT_DB + 20.0 * np.log10(frequency_mhz) + 20.0 * np.log10(distance_km)


def field_strength_dbuvm(*, loss_db: ArrayLike, frequency_mhz: ArrayLike, eirp_dbm: ArrayLike) -> FloatArray:
    """Field strength at the receiver, dB(uV/m), from basic transmission loss and e.i.r.p.

    Source : P.525-4, section 4 (from memory): E = Pt[dBW] - Lb + 20 log f[GHz] + 167.2, constant left exact.
    """
    # E^2/(120 pi) = EIRP/(Lb) * 4 pi / lambda^2, in dB relative to 1 uV/m
    constant_db = (
        10.0 * np.log10(480.0 * np.pi**2) - 20.0 * np.log10(SPEED_OF_LIGHT_M_PER_S / 1e6) + 120.0 - 30.0
    )
    loss, frequency, eirp = (np.asarray(v, dtype=np.float64) for v in (loss_db, frequency_mhz, eirp_dbm))
    return np.asarray(eirp - loss + 20.0 * np.log10(frequency) + constant_db)


def slant_free_space_db(inputs: PathInputs) -> FloatArray:
    """(paths,) free-space loss over the straight line between the antennas, dB."""
    tx_asl_m = inputs.ground_m[inputs.start[:-1]] + inputs.tx_height_m
    rx_asl_m = inputs.ground_m[inputs.start[1:] - 1] + inputs.rx_height_m
    slant_km = np.hypot(inputs.length_km, (tx_asl_m - rx_asl_m) * 1e-3)
    return np.asarray(free_space_loss_db(slant_km, inputs.frequency_mhz))


@dataclass(frozen=True)
class FreeSpaceModel(PathLossModel):
    """Free space alone: what the path would lose with nothing in the way."""

    name: str = "free_space"
    source: str = "Rec. ITU-R P.525-4"
    summary: str = (
        "Nothing in the way: the least loss there can be; trust it only between towers in plain sight."
    )
    valid_mhz: tuple[float, float] = (1.0, 100_000.0)
    sees: LandSight = LandSight.NOTHING
    complete: bool = False

    @property
    def limits(self) -> ModelLimits:
        return ModelLimits(self.name, self.valid_mhz, (0.0, 30_000.0), (1e-3, 20_000.0), 2)

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
            batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
        )
        free_space_db = slant_free_space_db(inputs)
        return PathLosses(free_space_db.copy(), free_space_db)

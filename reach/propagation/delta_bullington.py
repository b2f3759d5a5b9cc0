"""Delta-Bullington diffraction, Rec. ITU-R P.526: Bullington over the terrain, corrected by the smooth Earth."""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numba.extending import register_jitable
from numpy.typing import ArrayLike

from reach.propagation.bullington import bullington_loss_db, smooth_bullington_loss_db
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import slant_free_space_db
from reach.propagation.models import PathLoss, PathLosses
from reach.propagation.parallel import over_paths
from reach.propagation.path_inputs import POLARISATION_CODE, ModelLimits, prepare, single, surface_of
from reach.propagation.profile_scan import obstruction, share_over_sea, smooth_surface
from reach.propagation.smooth_earth import P526, DiffractionConstants, smooth_earth_loss_db
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch


class DeltaBullington(NamedTuple):
    """Parts of a delta-Bullington loss against free space, dB; end heights of the smooth surface, m above sea level."""

    loss_db: float
    bullington_db: float
    smooth_bullington_db: float
    smooth_earth_db: float
    tx_smooth_m: float
    rx_smooth_m: float


@register_jitable
def diffraction_ends(distance_m, ground_m, tx_asl_m, rx_asl_m, hst_m, hsr_m):  # type: ignore[no-untyped-def]
    """End heights of the smooth surface for diffraction, hstd and hsrd, m above sea level.

    hst_m, hsr_m : the fitted line's ends. Source : P.1812-7, Attachment 1, eqs (89) to (91); P.526-15, 4.5.2.
    """
    hobs, from_tx, from_rx = obstruction(distance_m, ground_m, tx_asl_m, rx_asl_m)
    if hobs > 0.0:
        hst_m -= hobs * from_tx / (from_tx + from_rx)
        hsr_m -= hobs * from_rx / (from_tx + from_rx)
    return min(hst_m, ground_m[0]), min(hsr_m, ground_m[ground_m.size - 1])


@register_jitable
def delta_bullington_parts(  # type: ignore[no-untyped-def]
    distance_m,
    surface_m,
    tx_asl_m,
    rx_asl_m,
    hstd_m,
    hsrd_m,
    effective_radius_km,
    frequency_ghz,
    sea_share,
    polarisation,
    constants,
):
    """Loss, and its three parts: Lbulla, Lbulls, Ldsph; dB against free space.

    Source : P.1812-7, 4.3.4, eqs (37) to (39); P.526-15, 4.5.3.
    """
    wavelength_m = constants.wave_m_ghz / frequency_ghz
    d_km = distance_m[distance_m.size - 1] * 1e-3
    actual_db = bullington_loss_db(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km, wavelength_m)
    tx_m = tx_asl_m - hstd_m  # (37a)
    rx_m = rx_asl_m - hsrd_m  # (37b)
    smooth_db = smooth_bullington_loss_db(distance_m, tx_m, rx_m, effective_radius_km, wavelength_m)
    sphere_db = smooth_earth_loss_db(
        d_km, tx_m, rx_m, effective_radius_km, frequency_ghz, sea_share, polarisation, constants
    )
    return actual_db + max(sphere_db - smooth_db, 0.0), actual_db, smooth_db, sphere_db  # (39)


@register_jitable
def delta_bullington(  # type: ignore[no-untyped-def]
    distance_m,
    ground_m,
    surface_m,
    zone,
    tx_height_m,
    rx_height_m,
    effective_radius_km,
    frequency_ghz,
    polarisation,
    constants,
):
    """DeltaBullington of one path: arrays (n,), antenna heights above ground, m, radius of the bent Earth, km."""
    tx_asl_m = ground_m[0] + tx_height_m
    rx_asl_m = ground_m[ground_m.size - 1] + rx_height_m
    hst_m, hsr_m = smooth_surface(distance_m, ground_m)
    hstd_m, hsrd_m = diffraction_ends(distance_m, ground_m, tx_asl_m, rx_asl_m, hst_m, hsr_m)
    loss_db, actual_db, smooth_db, sphere_db = delta_bullington_parts(
        distance_m,
        surface_m,
        tx_asl_m,
        rx_asl_m,
        hstd_m,
        hsrd_m,
        effective_radius_km,
        frequency_ghz,
        share_over_sea(distance_m, zone),
        polarisation,
        constants,
    )
    return DeltaBullington(loss_db, actual_db, smooth_db, sphere_db, hstd_m, hsrd_m)


@dataclass(frozen=True)
class DeltaBullingtonModel:
    """Free space plus delta-Bullington diffraction, median refraction.

    effective_earth_radius_km : overrides k_factor where a source states a radius (P.526 itself: 8500 km).
    """

    k_factor: float = STANDARD_K_FACTOR
    effective_earth_radius_km: float | None = None
    constants: DiffractionConstants = P526
    name: str = "delta_bullington"
    source: str = "Rec. ITU-R P.526-15, 4.5"
    summary: str = (
        "Diffraction over the whole profile and the bent Earth, nothing else; "
        "trust it as the transparent baseline in hills."
    )
    valid_mhz: tuple[float, float] = (10.0, 100_000.0)
    threads: int | None = None

    @property
    def radius_km(self) -> float:
        """Effective Earth radius in use, km."""
        return self.effective_earth_radius_km or effective_radius_km(self.k_factor)

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used."""
        return ModelLimits(self.name, self.valid_mhz, (0.1, 3000.0), (1e-3, 3000.0), 3)

    def parts(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> DeltaBullington:
        """The parts of one path's diffraction loss, computed in plain Python by the very same formulas."""
        batch = single(profile)
        prepare(batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz)
        found = delta_bullington(
            profile.distance_m,
            profile.ground_m,
            surface_of(batch),
            profile.zone,
            tx_height_m,
            rx_height_m,
            self.radius_km,
            frequency_mhz * 1e-3,
            POLARISATION_CODE[polarisation],
            self.constants,
        )
        return DeltaBullington(*(float(value) for value in found))

    def loss(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> PathLoss:
        """As PathLossModel.loss."""
        found = self.losses(
            single(profile),
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
        )
        return PathLoss(float(found.loss_db[0]), float(found.free_space_db[0]))

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> PathLosses:
        """As PathLossModel.losses."""
        from reach.propagation._delta_bullington_kernel import delta_bullington_paths

        inputs = prepare(
            batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
        )
        diffraction_db = np.empty(len(inputs))
        over_paths(
            delta_bullington_paths,
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.surface_m,
            inputs.zone,
            inputs.tx_height_m,
            inputs.rx_height_m,
            self.radius_km,
            inputs.frequency_mhz,
            POLARISATION_CODE[polarisation],
            self.constants,
            diffraction_db,
            threads=self.threads,
        )
        free_space_db = slant_free_space_db(inputs)
        return PathLosses(free_space_db + diffraction_db, free_space_db)

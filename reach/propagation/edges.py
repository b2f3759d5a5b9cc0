"""Models that see only the edges of a profile: the one dominant edge, up to three in cascade, Bullington's equivalent.

They serve for teaching, comparison and a quick look; delta-Bullington replaced them in Rec. ITU-R P.526.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numba.extending import register_jitable
from numpy.typing import ArrayLike

from reach.propagation.bullington import bullington_loss_db
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.free_space import slant_free_space_db
from reach.propagation.knife_edge import LEAST_NU, knife_edge_loss_db
from reach.propagation.models import PathLoss, PathLosses
from reach.propagation.parallel import over_paths
from reach.propagation.path_inputs import ModelLimits, prepare, single
from reach.propagation.profile_scan import last_worst_point, nu_of, worst_obstruction
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch
from reach.units import SPEED_OF_LIGHT_M_PER_S


@register_jitable
def single_edge_loss_db(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km, wavelength_m):  # type: ignore[no-untyped-def]
    """Loss of the one edge with the largest nu, dB against free space.

    Source : Rec. ITU-R P.526-15, 4.1, eqs (26), (31), over the profile with the Earth's bulge.
    """
    n = distance_m.size
    worst = worst_obstruction(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km)
    return knife_edge_loss_db(nu_of(worst, distance_m[n - 1] * 1e-3, wavelength_m))


@register_jitable
def _edge_between(distance_m, surface_m, a, b, a_asl_m, b_asl_m, effective_radius_km, wavelength_m):  # type: ignore[no-untyped-def]
    """J of the main edge strictly between points a and b of a path, dB; and its index (0 for none)."""
    if b - a < 2:
        return 0.0, 0
    part_m = distance_m[a : b + 1] - distance_m[a]
    part_surface_m = surface_m[a : b + 1]
    worst = worst_obstruction(part_m, part_surface_m, a_asl_m, b_asl_m, effective_radius_km)
    nu = nu_of(worst, part_m[b - a] * 1e-3, wavelength_m)
    if nu <= LEAST_NU:
        return 0.0, 0
    at = last_worst_point(part_m, part_surface_m, a_asl_m, b_asl_m, effective_radius_km, worst)
    return knife_edge_loss_db(nu), a + at


@register_jitable
def cascaded_edges_loss_db(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km, wavelength_m):  # type: ignore[no-untyped-def]
    """Loss of the main edge and the main edge on either side of it, dB against free space.

    Source : Rec. ITU-R P.526-11, 4.4.2 (from memory): J(nu_p) + T [J(nu_t) + J(nu_r) + C], T = 1 - exp(-J(nu_p)/6),
        C = 10 + 0.04 D. Withdrawn in later editions: it hangs on how finely the profile is sampled.
    """
    last = distance_m.size - 1
    main_db, p = _edge_between(
        distance_m, surface_m, 0, last, tx_asl_m, rx_asl_m, effective_radius_km, wavelength_m
    )
    if p == 0:
        return 0.0
    tx_db, _ = _edge_between(
        distance_m, surface_m, 0, p, tx_asl_m, surface_m[p], effective_radius_km, wavelength_m
    )
    rx_db, _ = _edge_between(
        distance_m, surface_m, p, last, surface_m[p], rx_asl_m, effective_radius_km, wavelength_m
    )
    correction_db = 10.0 + 0.04 * distance_m[last] * 1e-3
    return main_db + (1.0 - np.exp(-main_db / 6.0)) * (tx_db + rx_db + correction_db)


@dataclass(frozen=True)
class _EdgeModel:
    """Free space plus one of the losses above."""

    k_factor: float = STANDARD_K_FACTOR
    threads: int | None = None
    name: str = ""
    source: str = ""
    summary: str = ""
    valid_mhz: tuple[float, float] = (10.0, 100_000.0)

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used."""
        return ModelLimits(self.name, self.valid_mhz, (0.1, 3000.0), (1e-3, 3000.0), 3)

    @property
    def _kernel(self) -> Callable[..., None]:
        raise NotImplementedError

    def loss(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> PathLoss:
        """As PathLossModel.loss; polarisation does not enter."""
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
        """As PathLossModel.losses; polarisation does not enter."""
        inputs = prepare(
            batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
        )
        diffraction_db = np.empty(len(inputs))
        over_paths(
            self._kernel,
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.surface_m,
            inputs.tx_height_m,
            inputs.rx_height_m,
            effective_radius_km(self.k_factor),
            SPEED_OF_LIGHT_M_PER_S / (inputs.frequency_mhz * 1e6),
            diffraction_db,
            threads=self.threads,
        )
        free_space_db = slant_free_space_db(inputs)
        return PathLosses(free_space_db + diffraction_db, free_space_db)


@dataclass(frozen=True)
class SingleEdgeModel(_EdgeModel):
    """The one dominant edge as a knife edge."""

    name: str = "single_edge"
    source: str = "Rec. ITU-R P.526-15, 4.1"
    summary: str = "The one worst edge as a knife edge; trust it behind a single sharp ridge, too low behind several."

    @property
    def _kernel(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import single_edge_paths

        return single_edge_paths  # type: ignore[no-any-return]


@dataclass(frozen=True)
class CascadedEdgesModel(_EdgeModel):
    """The main edge and one on either side."""

    name: str = "cascaded_edges"
    source: str = "Rec. ITU-R P.526-11, 4.4.2"
    summary: str = (
        "The worst edge and one on either side; for teaching and comparison, it jumps with the sampling of the profile."
    )

    @property
    def _kernel(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import cascaded_edges_paths

        return cascaded_edges_paths  # type: ignore[no-any-return]


@dataclass(frozen=True)
class BullingtonModel(_EdgeModel):
    """The equivalent edge where the two horizon lines meet."""

    name: str = "bullington"
    source: str = "Rec. ITU-R P.526-15, 4.5.1"
    summary: str = "One equivalent edge for the whole profile; robust, but too low over long smooth paths."

    @property
    def _kernel(self) -> Callable[..., None]:
        from reach.propagation._edges_kernel import bullington_paths

        return bullington_paths  # type: ignore[no-any-return]

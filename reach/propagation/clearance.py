"""Line of sight and first-Fresnel-zone clearance along the whole path, with the worst point.

The worst point is the one with the largest diffraction parameter nu, not the one with least metres to spare:
near the ends the zone is narrow. Rec. ITU-R P.526-15, 2.3 and 4.1: nu = -sqrt(2) clearance / F1.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.machinery.parallel import over_paths
from reach.propagation.earth import STANDARD_K_FACTOR, effective_radius_km
from reach.propagation.knife_edge import fresnel_radius_m
from reach.propagation.path_inputs import ModelLimits, prepare, single
from reach.terrain.profile import Profile, ProfileBatch
from reach.units import SPEED_OF_LIGHT_M_PER_S

FloatArray = NDArray[np.float64]

FREE_PATH_SHARE = 0.6  # of the first zone's radius; common practice, and P.526's notion of line of sight
LIMITS = ModelLimits("the clearance check", (1.0, 100_000.0), (0.0, 30_000.0), (1e-3, 20_000.0), 2)


@dataclass(frozen=True)
class PathClearance:
    """How clear one path is. Clutter counts as ground, except at the two ends.

    line_of_sight : nothing stands above the ray.
    worst_share : clearance at the worst point in first-Fresnel radii; negative when blocked, infinite when
        the profile has no intermediate point.
    worst_distance_m : of that point from the transmitter.
    obstruction_m : height of that point above the ray; negative when below.
    worst_fresnel_m : first-Fresnel radius there.
    nu : diffraction parameter there.
    """

    line_of_sight: bool
    worst_share: float
    worst_distance_m: float
    obstruction_m: float
    worst_fresnel_m: float
    nu: float

    @property
    def is_free(self) -> bool:
        """At least 0.6 of the first zone clear everywhere."""
        return self.worst_share >= FREE_PATH_SHARE


@dataclass(frozen=True)
class PathClearances:
    """`PathClearance` of every path of a batch: arrays (paths,)."""

    line_of_sight: NDArray[np.bool_]
    worst_share: FloatArray
    worst_distance_m: FloatArray
    obstruction_m: FloatArray
    worst_fresnel_m: FloatArray
    nu: FloatArray

    def __len__(self) -> int:
        return int(self.nu.size)

    def __getitem__(self, path: int) -> PathClearance:
        return PathClearance(
            bool(self.line_of_sight[path]),
            float(self.worst_share[path]),
            float(self.worst_distance_m[path]),
            float(self.obstruction_m[path]),
            float(self.worst_fresnel_m[path]),
            float(self.nu[path]),
        )


def clearances(
    batch: ProfileBatch,
    *,
    tx_height_m: ArrayLike,
    rx_height_m: ArrayLike,
    frequency_mhz: ArrayLike,
    k_factor: float = STANDARD_K_FACTOR,
    threads: int | None = None,
) -> PathClearances:
    """Clearance of every path; heights above ground and frequency are scalar or (paths,).

    Raises : OutOfRange naming the path.
    """
    from reach.propagation._clearance_kernel import worst_points

    inputs = prepare(
        batch, LIMITS, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
    )
    paths = len(inputs)
    point = np.zeros(paths, dtype=np.int64)
    obstruction_m = np.empty(paths)
    radius_km = effective_radius_km(k_factor)
    over_paths(
        worst_points,
        inputs,
        inputs.start,
        inputs.distance_m,
        inputs.clutter_m,
        inputs.ground_m,
        inputs.tx_height_m,
        inputs.rx_height_m,
        radius_km,
        point,
        obstruction_m,
        threads=threads,
    )
    d_km = inputs.length_km
    at_m = np.where(point > 0, inputs.distance_m[inputs.start[:-1] + point], 500.0 * d_km)
    x_km = at_m * 1e-3
    fresnel_m = np.asarray(
        fresnel_radius_m(x_km, d_km - x_km, SPEED_OF_LIGHT_M_PER_S / (inputs.frequency_mhz * 1e6))
    )
    share = -obstruction_m / fresnel_m
    return PathClearances(
        obstruction_m <= 0.0, share, at_m, obstruction_m, fresnel_m, -math.sqrt(2.0) * share
    )


def clearance(
    profile: Profile,
    *,
    tx_height_m: float,
    rx_height_m: float,
    frequency_mhz: float,
    k_factor: float = STANDARD_K_FACTOR,
) -> PathClearance:
    """Clearance of one path; see `clearances`."""
    return clearances(
        single(profile),
        tx_height_m=tx_height_m,
        rx_height_m=rx_height_m,
        frequency_mhz=frequency_mhz,
        k_factor=k_factor,
    )[0]

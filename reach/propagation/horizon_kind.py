# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""Which kind of path the ground makes of it, as codes of `path_kind.PathKind`: bodies for compiled loops."""

from __future__ import annotations

import math

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.p1812.geometry import horizons
from reach.propagation.profile_scan import nu_of, worst_obstruction

FloatArray = NDArray[np.float64]

CLEAR, GRAZING, ONE_EDGE, SEVERAL_EDGES = 0, 1, 2, 3
CLEAR_SHARE = 0.6  # of the first Fresnel zone
SAME_EDGE_SHARE = 0.1  # horizons nearer than this share of the path are one edge


@register_jitable
def kind_in_sight(clearance_share: float) -> int:
    """Code of a path in sight from its clearance at the worst point, first-Fresnel radii."""
    return CLEAR if clearance_share >= CLEAR_SHARE else GRAZING


@register_jitable
def kind_beyond(horizons_apart_m: float, length_m: float) -> int:
    """Code of a path that is not in sight from the distance between its two horizon points."""
    return ONE_EDGE if horizons_apart_m < SAME_EDGE_SHARE * length_m else SEVERAL_EDGES


@register_jitable
def path_kind(
    distance_m: FloatArray,
    ground_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    effective_radius_km: float,
    wavelength_m: float,
) -> int:
    """Code of the kind of one path over bare ground (n,); antennas above sea level, m.

    An edge is where a ray from either antenna first touches; two that lie nearer than a tenth of the path are
    taken together. Over smooth Earth beyond the horizon each end has its own.
    """
    n = distance_m.size
    found = horizons(distance_m, ground_m, tx_asl_m, rx_asl_m, effective_radius_km)
    length_m = distance_m[n - 1]
    if found.transhorizon:
        apart_m = length_m - 1e3 * (found.tx_horizon_km + found.rx_horizon_km)
        return kind_beyond(apart_m, length_m)
    worst = worst_obstruction(distance_m, ground_m, tx_asl_m, rx_asl_m, effective_radius_km)
    return kind_in_sight(-nu_of(worst, length_m * 1e-3, wavelength_m) / math.sqrt(2.0))

# mypy: disable-error-code="no-any-return"
# (a formula that numba can compile looks untyped to mypy)
"""Losses that see only the edges of a profile: the one dominant edge, or up to three in cascade.

They serve for teaching, comparison and a quick look; delta-Bullington replaced them in Rec. ITU-R P.526.
"""

from __future__ import annotations

import numpy as np
from numba.extending import register_jitable
from numpy.typing import NDArray

from reach.propagation.knife_edge import LEAST_NU, knife_edge_loss_db
from reach.propagation.profile_scan import last_worst_point, nu_of, worst_obstruction

FloatArray = NDArray[np.float64]


@register_jitable
def single_edge_loss_db(
    distance_m: FloatArray,
    surface_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    effective_radius_km: float,
    wavelength_m: float,
) -> float:
    """Loss of the one edge with the largest nu, dB against free space.

    Source : Rec. ITU-R P.526-15, 4.1, eqs (26), (31), over the profile with the Earth's bulge.
    """
    n = distance_m.size
    worst = worst_obstruction(distance_m, surface_m, tx_asl_m, rx_asl_m, effective_radius_km)
    return knife_edge_loss_db(nu_of(worst, distance_m[n - 1] * 1e-3, wavelength_m))


@register_jitable
def _edge_between(
    distance_m: FloatArray,
    surface_m: FloatArray,
    a: int,
    b: int,
    a_asl_m: float,
    b_asl_m: float,
    effective_radius_km: float,
    wavelength_m: float,
) -> tuple[float, int]:
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
def cascaded_edges_loss_db(
    distance_m: FloatArray,
    surface_m: FloatArray,
    tx_asl_m: float,
    rx_asl_m: float,
    effective_radius_km: float,
    wavelength_m: float,
) -> float:
    """Loss of the main edge and the main edge on either side of it, dB against free space.

    Source : Rec. ITU-R P.526-11, 4.4.2 (from memory): J(nu_p) + T [J(nu_t) + J(nu_r) + C] with
        T = 1 - exp(-J(nu_p)/6), C = 10 + 0.04 D. Withdrawn in later editions.
    Beware : C was fitted to measured paths and counts even behind one clean edge; and the point beside the
        main edge, which on a finely sampled hill all but touches its line, counts as an edge again with some
        6 dB on either side. Behind ridges on a 30 m grid it reads up to 35 dB above the models that replaced
        it, over smooth ground below them.
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

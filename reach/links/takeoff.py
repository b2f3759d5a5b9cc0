"""At what angle a path leaves its ends: towards the other antenna, or the horizon that hides it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.links._takeoff_kernel import steepest_slopes
from reach.machinery.parallel import over_paths
from reach.propagation.earth import effective_radius_km
from reach.terrain.profile import ProfileBatch

FloatArray = NDArray[np.float64]


def takeoff_angles_deg(
    batch: ProfileBatch, *, tx_height_m: ArrayLike, rx_height_m: ArrayLike, k_factor: float
) -> tuple[FloatArray, FloatArray]:
    """Elevation of the path at its first and at its last end, degrees over the horizontal, (paths,).

    batch : profiles of at least two points each; heights above ground, scalar or (paths,).
    Source : geometry over the bent Earth, slope (h - h0)/d - d/(2 a_e), as the horizon angles of Rec. ITU-R
        P.1812-7, Attachment 1 to Annex 1, 5.3.
    """
    paths = len(batch)
    if paths == 0:
        return np.empty(0), np.empty(0)
    both_m = (np.asarray(height_m, dtype=np.float64) for height_m in (tx_height_m, rx_height_m))
    heights_m = [np.broadcast_to(height_m, paths).copy() for height_m in both_m]
    slopes = np.empty(paths), np.empty(paths)
    over_paths(
        steepest_slopes, batch, batch.start, batch.distance_m, batch.ground_m, batch.clutter_m, *heights_m,
        2000.0 * effective_radius_km(k_factor), *slopes,
    )  # fmt: skip
    there, back = (np.degrees(np.arctan(slope)) for slope in slopes)
    return there, back

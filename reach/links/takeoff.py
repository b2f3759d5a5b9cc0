"""At what angle a path leaves its ends: towards the other antenna, or the horizon that hides it."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
    first, last = batch.start[:-1], batch.start[1:] - 1
    points = np.diff(batch.start)
    tx_asl_m = batch.ground_m[first] + np.asarray(tx_height_m, dtype=np.float64)
    rx_asl_m = batch.ground_m[last] + np.asarray(rx_height_m, dtype=np.float64)
    surface_m = batch.ground_m + batch.clutter_m
    surface_m[first], surface_m[last] = tx_asl_m, rx_asl_m
    curved_m = 2000.0 * effective_radius_km(k_factor)
    from_tx_m = batch.distance_m - np.repeat(batch.distance_m[first], points)
    to_rx_m = np.repeat(batch.distance_m[last], points) - batch.distance_m

    def highest_deg(from_asl_m: FloatArray, away_m: FloatArray, own: NDArray[np.int64]) -> FloatArray:
        with np.errstate(divide="ignore", invalid="ignore"):
            slope = (surface_m - np.repeat(from_asl_m, points)) / away_m - away_m / curved_m
        slope[own] = -np.inf
        angle: FloatArray = np.degrees(np.arctan(np.maximum.reduceat(slope, first)))
        return angle

    return highest_deg(tx_asl_m, from_tx_m, first), highest_deg(rx_asl_m, to_rx_m, last)

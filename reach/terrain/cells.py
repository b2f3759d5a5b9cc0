"""One-degree cells, named as SRTM tiles are (by their south-west corner): what a net needs and lacks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from itertools import combinations
from typing import Protocol

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.geodesy import points_along
from reach.stations import Position

LOOK_EVERY_M = 500.0


class KnowsTiles(Protocol):
    """What `Terrain` tells here: the pixel size at points, NaN outside every tile."""

    def step_m_at(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.float64]: ...


def cell_name(latitude_deg: float, longitude_deg: float) -> str:
    """Name of the one-degree cell that holds a place, e.g. 'N42W072' for 42..43 N, 72..71 W."""
    south = min(math.floor(latitude_deg), 89)
    west = math.floor((longitude_deg + 180.0) % 360.0 - 180.0)
    return f"{'S' if south < 0 else 'N'}{abs(south):02d}{'W' if west < 0 else 'E'}{abs(west):03d}"


def _path_points(positions: Sequence[Position]) -> Iterable[tuple[np.ndarray, np.ndarray]]:
    if len(positions) == 1:
        yield np.array([positions[0].latitude_deg]), np.array([positions[0].longitude_deg])
    for a, b in combinations(positions, 2):
        _, lat, lon = points_along(
            from_latitude_deg=a.latitude_deg,
            from_longitude_deg=a.longitude_deg,
            to_latitude_deg=b.latitude_deg,
            to_longitude_deg=b.longitude_deg,
            step_m=LOOK_EVERY_M,
        )
        yield lat, lon


def _names(latitude: np.ndarray, longitude: np.ndarray) -> set[str]:
    south = np.minimum(np.floor(latitude), 89.0)
    west = np.floor(np.mod(longitude + 180.0, 360.0) - 180.0)
    return {cell_name(float(s), float(w)) for s, w in np.unique(np.stack([south, west], axis=1), axis=0)}


def needed_cells(positions: Sequence[Position]) -> tuple[str, ...]:
    """Cells that the paths between any two of the positions touch (looked at every 500 m), sorted."""
    found: set[str] = set()
    for lat, lon in _path_points(positions):
        found |= _names(lat, lon)
    return tuple(sorted(found))


def missing_cells(terrain: KnowsTiles, positions: Sequence[Position]) -> tuple[str, ...]:
    """The needed cells in which some path leaves every tile, sorted.

    Looked at every 500 m; voids inside a tile are not seen.
    """
    found: set[str] = set()
    for lat, lon in _path_points(positions):
        outside = np.isnan(terrain.step_m_at(lat, lon))
        if outside.any():
            found |= _names(lat[outside], lon[outside])
    return tuple(sorted(found))

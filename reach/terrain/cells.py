"""One-degree cells, named as SRTM tiles are (by their south-west corner): what a net needs."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from reach.geodesy import points_along_each
from reach.stations import Position

FloatArray = NDArray[np.float64]

LOOK_EVERY_M = 500.0
PATHS_AT_ONCE = 4096


def cell_name(latitude_deg: float, longitude_deg: float) -> str:
    """Name of the one-degree cell that holds a place, e.g. 'N42W072' for 42..43 N, 72..71 W."""
    south = min(math.floor(latitude_deg), 89)
    west = math.floor((longitude_deg + 180.0) % 360.0 - 180.0)
    return f"{'S' if south < 0 else 'N'}{abs(south):02d}{'W' if west < 0 else 'E'}{abs(west):03d}"


def _path_points(positions: Sequence[Position]) -> Iterator[tuple[FloatArray, FloatArray]]:
    """(latitude, longitude) of the positions and along the paths between any two, some paths at a time."""
    places = np.array([(p.latitude_deg, p.longitude_deg) for p in positions], dtype=np.float64).reshape(-1, 2)
    yield places[:, 0], places[:, 1]
    a, b = np.triu_indices(len(positions), k=1)
    for first in range(0, a.size, PATHS_AT_ONCE):
        some = slice(first, first + PATHS_AT_ONCE)
        _, _, lat, lon = points_along_each(
            from_latitude_deg=places[a[some], 0],
            from_longitude_deg=places[a[some], 1],
            to_latitude_deg=places[b[some], 0],
            to_longitude_deg=places[b[some], 1],
            step_m=LOOK_EVERY_M,
        )
        yield lat, lon


def _names(latitude: FloatArray, longitude: FloatArray) -> set[str]:
    south = np.minimum(np.floor(latitude), 89.0).astype(np.int64)
    west = np.floor(np.mod(longitude + 180.0, 360.0)).astype(np.int64)  # counted from the date line
    south, west = np.divmod(np.unique((south + 90) * 360 + west), 360)
    return {cell_name(s - 90.0, w - 180.0) for s, w in zip(south.tolist(), west.tolist())}


def needed_cells(positions: Sequence[Position]) -> tuple[str, ...]:
    """Cells that the paths between any two of the positions touch (looked at every 500 m), sorted."""
    found: set[str] = set()
    for lat, lon in _path_points(positions):
        found |= _names(lat, lon)
    return tuple(sorted(found))

"""The nearest spot to drive to from which someone gets in."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reach.coverage.search.grid import Candidates, SearchGrid
from reach.geodesy import distance_and_bearing
from reach.stations import Position

COMFORTABLE_DB = 6.0  # to spare, so that a small error of place or model does not matter (common practice)


@dataclass(frozen=True)
class NearestSpot:
    """The nearest cell from which someone gets into a hub, and the nearest with COMFORTABLE_DB to spare.

    distance_m, bearing_deg : from their usual place. comfortable : None when there is none in reach.
    """

    hub: str
    position: Position
    elevation_m: float
    distance_m: float
    bearing_deg: float
    spare_db: float
    comfortable: NearestSpot | None = None


def nearest_spots(
    grid: SearchGrid,
    candidates: Candidates,
    spare_db: Mapping[str, NDArray[np.float32]],
    home: Position,
) -> tuple[NearestSpot, ...]:
    """For each hub that any candidate cell gets into, the nearest such cell; nearest hub first.

    spare_db : hub -> spare of the weaker direction in every cell, dB. Ties : the northernmost cell, then the
    westernmost; hubs by name.
    """
    east_m, north_m = grid.place_m(home)
    distance_m = np.where(candidates.mask, grid.distance_m(east_m, north_m), np.inf)
    found = []
    for hub in sorted(spare_db):
        spot = _nearest(grid, distance_m, spare_db[hub], home, hub, needed_db=0.0)
        if spot is not None:
            roomy = _nearest(grid, distance_m, spare_db[hub], home, hub, needed_db=COMFORTABLE_DB)
            found.append(replace(spot, comfortable=roomy))
    return tuple(sorted(found, key=lambda spot: spot.distance_m))


def spots_in_order(
    grid: SearchGrid,
    candidates: Candidates,
    spare_db: NDArray[np.float32],
    home: Position,
    hub: str,
    *,
    needed_db: float,
    count: int,
) -> tuple[NearestSpot, ...]:
    """The nearest cells with so much to spare, nearest first, at most so many; ties as in `nearest_spots`."""
    east_m, north_m = grid.place_m(home)
    distance_m = np.where(candidates.mask, grid.distance_m(east_m, north_m), np.inf).ravel()
    good = np.flatnonzero((spare_db.ravel() >= needed_db) & np.isfinite(distance_m))
    order = good[np.argsort(distance_m[good], kind="stable")][:count]
    return tuple(_spot(grid, int(cell), spare_db, home, hub) for cell in order)


def _nearest(
    grid: SearchGrid,
    distance_m: NDArray[np.float64],
    spare_db: NDArray[np.float32],
    home: Position,
    hub: str,
    *,
    needed_db: float,
) -> NearestSpot | None:
    open_m = np.where(spare_db >= needed_db, distance_m, np.inf)
    cell = int(np.argmin(open_m))
    return _spot(grid, cell, spare_db, home, hub) if np.isfinite(open_m.ravel()[cell]) else None


def _spot(
    grid: SearchGrid, cell: int, spare_db: NDArray[np.float32], home: Position, hub: str
) -> NearestSpot:
    place = grid.position(cell)
    length_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=home.latitude_deg,
        from_longitude_deg=home.longitude_deg,
        to_latitude_deg=place.latitude_deg,
        to_longitude_deg=place.longitude_deg,
    )
    return NearestSpot(
        hub,
        place,
        float(grid.elevation_m.ravel()[cell]),
        float(length_m),
        float(bearing_deg),
        float(spare_db.ravel()[cell]),
    )

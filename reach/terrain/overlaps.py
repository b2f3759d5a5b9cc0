"""Tiles that show the same ground and disagree: one of the two is in another unit, or wrong."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

import numpy as np

from reach.errors import InputProblem
from reach.geodesy import METRES_PER_DEGREE
from reach.terrain.blocks import TileReader
from reach.terrain.rasters import TileInfo

Box = tuple[float, float, float, float]

MOST_COMPARED = 200  # pairs of tiles
MUCH_M = 100.0  # steep ground on pixels of unlike size differs by less on the whole
AROUND_PX = 8
SHARES = (0.5, 0.2, 0.8)  # of the way across the overlap, both ways


def disagreements(reader: TileReader) -> tuple[str, ...]:
    """One sentence for each two overlapping tiles whose heights differ by more than 100 m over most of the
    places looked at (nine small windows).

    At most 200 pairs are compared, in the order of the tiles. What cannot be read is left to others to tell.
    """
    found: list[str] = []
    for first, second, box in islice(_overlapping(reader.tiles), MOST_COMPARED):
        try:
            apart_m = _apart_m(reader, first, second, box)
        except InputProblem:
            continue
        if apart_m > MUCH_M:
            one, other = reader.tiles[first], reader.tiles[second]
            why = "the finer" if one.resolution_m < 0.99 * other.resolution_m else "the first by name"
            found.append(
                f"{one.name} and {other.name} show the same ground {apart_m:.0f} m apart; "
                f"{one.name} is used, {why}. One of them is wrong, or in another unit: take it away."
            )
    return tuple(found)


def _overlapping(tiles: Sequence[TileInfo]) -> Iterator[tuple[int, int, Box]]:
    """(first, second, box) of tiles that share more than a seam; box : west, south, east, north, degrees."""
    bounds = np.array([tile.bounds for tile in tiles], dtype=np.float64).reshape(-1, 4)
    seam_deg = 4.0 * np.array([tile.resolution_m for tile in tiles]) / METRES_PER_DEGREE
    for first in range(len(tiles) - 1):
        own, rest = bounds[first], bounds[first + 1 :]
        turn = 360.0 * np.round((own[0] + own[2] - rest[:, 0] - rest[:, 2]) / 720.0)
        west, east = np.maximum(own[0], rest[:, 0] + turn), np.minimum(own[2], rest[:, 2] + turn)
        south, north = np.maximum(own[1], rest[:, 1]), np.minimum(own[3], rest[:, 3])
        seam = np.maximum(seam_deg[first], seam_deg[first + 1 :])
        for i in np.flatnonzero(np.minimum(east - west, north - south) > seam):
            yield first, first + 1 + int(i), (west[i], south[i], east[i], north[i])


def _apart_m(reader: TileReader, first: int, second: int, box: Box) -> float:
    """Median over the places where both know the ground; 0 without any."""
    west, south, east, north = box
    step_deg = max(reader.tiles[first].resolution_m, reader.tiles[second].resolution_m) / METRES_PER_DEGREE
    differences: list[float] = []
    for x in SHARES:
        for y in SHARES:
            away = (np.arange(AROUND_PX) - AROUND_PX / 2.0) * step_deg
            lat, lon = np.meshgrid(south + y * (north - south) + away, west + x * (east - west) + away)
            values = []
            for index in (first, second):
                column, row = reader.to_pixels(index, lat.ravel(), lon.ravel())
                known = np.isfinite(column) & np.isfinite(row)
                column, row = np.where(known, column, -9.0), np.where(known, row, -9.0)
                values.append(reader.raw(index, column, row, edge_px=0.5))
            apart = np.abs(values[0] - values[1])
            if np.isfinite(apart).any():
                differences.append(float(np.nanmedian(apart)))
    return float(np.median(differences)) if differences else 0.0

"""Ground along geodesic paths, many at once: evenly spaced bilinear samples, short voids filled and counted.

Points are read off geodesic nodes at most 500 m apart by straight interpolation in latitude and longitude; a
point is then at most about 5 mm off the geodesic at 45 degrees, 6 cm at 85 (sagitta of 500 m on the Earth's
radius times the tangent of the latitude).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from reach.errors import MissingTerrain
from reach.geodesy import points_along_each
from reach.machinery.parallel import Starts, over_paths
from reach.machinery.progress import Progress
from reach.stations import Position
from reach.terrain._sampling_kernel import fill_short_gaps, path_points
from reach.terrain.cells import cell_name
from reach.terrain.clutter import LandCover
from reach.terrain.profile import ZONE_INLAND, Profile, ProfileBatch
from reach.terrain.tiles import Terrain

FloatArray = NDArray[np.float64]
Pair = tuple[Position, Position]

NODE_SPACING_M = 500.0
LONGEST_GAP_M = 200.0
SHORTEST_PATH_M = 10.0  # two members at one address: taken this far apart, over the ground there
FEWEST_INTERVALS = 4
POINTS_PER_CHUNK = 1_000_000


@dataclass(frozen=True)
class PathGap:
    """A path along which ground is missing.

    path : its number among those looked at. at_m : from its first end to where ground first is missing;
    length_m : of the whole path.
    """

    path: int
    at_m: float
    length_m: float
    latitude_deg: float
    longitude_deg: float

    @property
    def cell(self) -> str:
        """The one-degree cell that lacks it."""
        return cell_name(self.latitude_deg, self.longitude_deg)


@dataclass(frozen=True)
class _Ground:
    """Sampled paths. start : (paths + 1,); distance_m, latitude_deg, longitude_deg, ground_m : (start[-1],).

    filled_m : length of the voids filled, by path; missing : number of the first point without ground, -1.
    """

    start: NDArray[np.int64]
    distance_m: FloatArray
    latitude_deg: FloatArray
    longitude_deg: FloatArray
    ground_m: FloatArray
    filled_m: FloatArray
    missing: NDArray[np.int64]

    def gap(self, path: int, *, first: int) -> PathGap:
        """The gap of a path here that lacks ground; first : number of the first path here."""
        i = int(self.missing[path])
        return PathGap(
            first + path,
            float(self.distance_m[i]),
            float(self.distance_m[int(self.start[path + 1]) - 1]),
            float(self.latitude_deg[i]),
            float(self.longitude_deg[i]),
        )


@dataclass(frozen=True)
class _Paths:
    """Geodesics, each between two places once, with their nodes and the number of intervals each is sampled
    at.

    of_pair : (pairs,) which of them each pair asked for runs along.
    """

    length_m: FloatArray
    node_start: NDArray[np.int64]
    node_latitude: FloatArray
    node_longitude: FloatArray
    mid_latitude_deg: FloatArray
    intervals: NDArray[np.int64]
    of_pair: NDArray[np.int64]


def profile_chunks(
    terrain: Terrain,
    pairs: Sequence[Pair],
    *,
    labels: Sequence[tuple[str, str]] | None = None,
    land_cover: LandCover | None = None,
    step_m: float | None = None,
    longest_gap_m: float = LONGEST_GAP_M,
    points_per_chunk: int = POINTS_PER_CHUNK,
    progress: Progress | None = None,
) -> Iterator[tuple[int, ProfileBatch]]:
    """Profiles of many paths a bounded number of points at a time.

    pairs : (transmitter, receiver) places. labels : their names for messages, same length.
    step_m : spacing at most this; None takes the pixel size of the finest tile on each path.
    longest_gap_m : voids are filled linearly where known points on both sides are no farther apart.
    progress : called with (paths done, paths in all).
    Yields : (index of the chunk's first pair, its batch), in order; a path longer than a chunk comes alone.
    Raises : MissingTerrain naming the two ends, how far along and where the ground is unknown, and the cell.
    """
    for first, paths, a, b in _chunks(terrain, pairs, step_m, points_per_chunk):
        names = labels[first + a : first + b] if labels is not None else None
        yield (
            first + a,
            _sampled(terrain, pairs[first + a : first + b], names, paths, a, b, land_cover, longest_gap_m),
        )
        if progress is not None:
            progress(first + b, len(pairs))


def path_gaps(
    terrain: Terrain,
    pairs: Sequence[Pair],
    *,
    step_m: float | None = None,
    longest_gap_m: float = LONGEST_GAP_M,
    points_per_chunk: int = POINTS_PER_CHUNK,
    progress: Progress | None = None,
) -> Iterator[PathGap]:
    """Every path along which `profile_chunks` would raise MissingTerrain, in order. Arguments as there."""
    for first, paths, a, b in _chunks(terrain, pairs, step_m, points_per_chunk):
        ground = _ground_along(terrain, paths, a, b, longest_gap_m)
        for path in np.flatnonzero(ground.missing >= 0):
            yield ground.gap(int(path), first=first + a)
        if progress is not None:
            progress(first + b, len(pairs))


def missing_cells_of(gaps: Iterable[PathGap]) -> tuple[str, ...]:
    """The one-degree cells in which paths lack ground, sorted."""
    return tuple(sorted({gap.cell for gap in gaps}))


def _chunks(
    terrain: Terrain, pairs: Sequence[Pair], step_m: float | None, points_per_chunk: int
) -> Iterator[tuple[int, _Paths, int, int]]:
    """(number of the first pair of a look, its paths, first and last of them in a chunk), in order."""
    paths_per_look = 4096
    for first in range(0, len(pairs), paths_per_look):
        paths = _paths_of(terrain, pairs[first : first + paths_per_look], step_m)
        points = paths.intervals[paths.of_pair] + 1
        a = 0
        while a < points.size:
            reach = np.cumsum(points[a:])
            b = a + max(1, int(np.searchsorted(reach, points_per_chunk, side="right")))
            yield first, paths, a, b
            a = b


def sample_profiles(
    terrain: Terrain,
    pairs: Sequence[Pair],
    *,
    labels: Sequence[tuple[str, str]] | None = None,
    land_cover: LandCover | None = None,
    step_m: float | None = None,
    longest_gap_m: float = LONGEST_GAP_M,
    progress: Progress | None = None,
) -> ProfileBatch:
    """Profiles of many paths, all in memory (33 bytes a point). Arguments and errors as `profile_chunks`."""
    parts = [
        batch
        for _, batch in profile_chunks(
            terrain,
            pairs,
            labels=labels,
            land_cover=land_cover,
            step_m=step_m,
            longest_gap_m=longest_gap_m,
            progress=progress,
        )
    ]
    if len(parts) == 1:
        return parts[0]
    if not parts:
        return ProfileBatch.of([])
    offsets = np.cumsum([0] + [int(part.start[-1]) for part in parts])
    return ProfileBatch(
        np.concatenate(
            [part.start[:-1] + offset for part, offset in zip(parts, offsets)] + [offsets[-1:]]
        ).astype(np.int64),
        np.concatenate([part.distance_m for part in parts]),
        np.concatenate([part.ground_m for part in parts]),
        np.concatenate([part.clutter_m for part in parts]),
        np.concatenate([part.zone for part in parts]),
        np.concatenate([part.mid_latitude_deg for part in parts]),
        np.concatenate([part.gaps_m for part in parts]),
    )


def sample_profile(
    terrain: Terrain,
    tx: Position,
    rx: Position,
    *,
    label: tuple[str, str] | None = None,
    land_cover: LandCover | None = None,
    step_m: float | None = None,
    longest_gap_m: float = LONGEST_GAP_M,
) -> Profile:
    """Profile of one path, transmitter first. Arguments and errors as `profile_chunks`."""
    labels = None if label is None else [label]
    return sample_profiles(
        terrain, [(tx, rx)], labels=labels, land_cover=land_cover, step_m=step_m, longest_gap_m=longest_gap_m
    )[0]


def _paths_of(terrain: Terrain, pairs: Sequence[Pair], step_m: float | None) -> _Paths:
    if step_m is not None and not step_m > 0.0:
        raise ValueError(f"step_m must be above zero, not {step_m}")
    number = {pair: n for n, pair in enumerate(dict.fromkeys(pairs))}
    of_pair = np.array([number[pair] for pair in pairs], dtype=np.int64)
    ends = np.array(
        [(a.latitude_deg, a.longitude_deg, b.latitude_deg, b.longitude_deg) for a, b in number],
        dtype=np.float64,
    )
    lat1, lon1, lat2, lon2 = ends.T
    start, distance, lat, lon = points_along_each(
        from_latitude_deg=lat1,
        from_longitude_deg=lon1,
        to_latitude_deg=lat2,
        to_longitude_deg=lon2,
        step_m=NODE_SPACING_M,
    )
    length = distance[start[1:] - 1]
    nodes = np.diff(start) - 1
    middle = (lat[start[:-1] + nodes // 2] + lat[start[:-1] + (nodes + 1) // 2]) / 2.0
    if step_m is None:
        pixel = np.nan_to_num(terrain.step_m_at(lat, lon), nan=np.inf)
        step = np.minimum.reduceat(pixel, start[:-1])
        step = np.where(
            np.isfinite(step), step, NODE_SPACING_M
        )  # wholly outside: one look is enough to say so
    else:
        step = np.full(length.size, float(step_m))
    length = np.maximum(length, SHORTEST_PATH_M)
    # a tenth of a per cent of slack keeps a whole number of pixels from gaining one by rounding
    intervals = np.maximum(FEWEST_INTERVALS, np.ceil(length / step - 1e-3)).astype(np.int64)
    return _Paths(length, start, lat, lon, middle, intervals, of_pair)


def _sampled(
    terrain: Terrain,
    pairs: Sequence[Pair],
    labels: Sequence[tuple[str, str]] | None,
    paths: _Paths,
    a: int,
    b: int,
    land_cover: LandCover | None,
    longest_gap_m: float,
) -> ProfileBatch:
    found = _ground_along(terrain, paths, a, b, longest_gap_m)
    bad = np.flatnonzero(found.missing >= 0)
    if bad.size:
        raise MissingTerrain(_missing_text(pairs, labels, [found.gap(int(p), first=0) for p in bad]))
    start, distance, ground = found.start, found.distance_m, found.ground_m
    if land_cover is None:
        clutter, zone = np.zeros(distance.size), np.full(distance.size, ZONE_INLAND, dtype=np.int8)
    else:
        lat, lon = found.latitude_deg, found.longitude_deg
        clutter, zone = land_cover.along(lat, lon, start=start, distance_m=distance, ground_m=ground)
        clutter[terrain.is_surface_at(lat, lon)] = 0.0  # those heights hold the trees and roofs already
    return ProfileBatch(
        start, distance, ground, clutter, zone, paths.mid_latitude_deg[paths.of_pair[a:b]], found.filled_m
    )


def _ground_along(terrain: Terrain, paths: _Paths, a: int, b: int, longest_gap_m: float) -> _Ground:
    """Of pairs a to b; what is asked for more than once, as for several antenna heights, is read once."""
    used, of_pair = np.unique(paths.of_pair[a:b], return_inverse=True)
    start = np.zeros(used.size + 1, dtype=np.int64)
    np.cumsum(paths.intervals[used] + 1, out=start[1:])
    total = int(start[-1])
    distance, lat, lon = np.empty(total), np.empty(total), np.empty(total)
    over_paths(
        path_points,
        Starts(start),
        start,
        paths.length_m[used],
        paths.node_start[used],
        np.diff(paths.node_start)[used],
        paths.node_latitude,
        paths.node_longitude,
        distance,
        lat,
        lon,
    )
    ground = terrain.sample(lat, lon)
    filled, missing = np.empty(used.size), np.empty(used.size, dtype=np.int64)
    fill_short_gaps(start, distance, ground, longest_gap_m, filled, missing)
    found = _Ground(start, distance, lat, lon, ground, filled, missing)
    return found if used.size == b - a and (np.diff(of_pair) == 1).all() else _repeated(found, of_pair)


def _repeated(found: _Ground, of_pair: NDArray[np.int64]) -> _Ground:
    """Path of_pair[i] of those found at every i."""
    counts = np.diff(found.start)[of_pair]
    start = np.zeros(of_pair.size + 1, dtype=np.int64)
    np.cumsum(counts, out=start[1:])
    moved = found.start[:-1][of_pair] - start[:-1]
    point = np.arange(start[-1]) + np.repeat(moved, counts)
    missing = found.missing[of_pair]
    return _Ground(
        start,
        found.distance_m[point],
        found.latitude_deg[point],
        found.longitude_deg[point],
        found.ground_m[point],
        found.filled_m[of_pair],
        np.where(missing >= 0, missing - moved, missing),
    )


def _missing_text(
    pairs: Sequence[Pair], labels: Sequence[tuple[str, str]] | None, gaps: Sequence[PathGap]
) -> str:
    gap = gaps[0]
    tx, rx = (
        labels[gap.path]
        if labels is not None
        else tuple(f"{q.latitude_deg:.5f}, {q.longitude_deg:.5f}" for q in pairs[gap.path])
    )
    others = len(gaps) - 1
    more = f" ({others} more path{'s lack' if others > 1 else ' lacks'} ground too)" if others else ""
    if gap.at_m == 0.0:
        return (
            f"path {tx} to {rx}: no elevation where {tx} stands, at {gap.latitude_deg:.5f}, "
            f"{gap.longitude_deg:.5f}{more}; add tiles that cover {', '.join(missing_cells_of(gaps))}, or "
            "correct the position."
        )
    return (
        f"path {tx} to {rx}: no elevation {gap.at_m / 1000.0:.1f} km along "
        f"({gap.length_m / 1000.0:.1f} km in all), at {gap.latitude_deg:.5f}, {gap.longitude_deg:.5f}{more}; "
        f"add tiles that cover {', '.join(missing_cells_of(gaps))}."
    )

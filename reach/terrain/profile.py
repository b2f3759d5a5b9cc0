"""The terrain along paths: one profile, and a ragged batch of many for the compiled models.

Nothing here reads a file; `reach.terrain.sampling` makes profiles from tiles, tests make them from arrays.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange

FloatArray = NDArray[np.float64]

ZONE_SEA, ZONE_COASTAL, ZONE_INLAND = 1, 3, 4  # radio-climatic zones as Rec. ITU-R P.1812 codes them


@dataclass(frozen=True)
class Profile:
    """Ground along one path, transmitter first.

    distance_m : (n,) from the transmitter, strictly ascending, first 0, n >= 2.
    ground_m : (n,) bare ground above sea level (the tile's vertical datum); finite.
    clutter_m : (n,) representative clutter height above ground, >= 0; zeros when no land cover was given.
    zone : (n,) int8 of ZONE_* codes; all ZONE_INLAND when no coast is known.
    mid_latitude_deg : latitude of the path's middle (P.1812 beta0); 45 when unknown.
    gaps_m : total length filled across voids, m.

    Build with `Profile.of`, which checks; arrays are made read-only.
    """

    distance_m: FloatArray
    ground_m: FloatArray
    clutter_m: FloatArray
    zone: NDArray[np.int8]
    mid_latitude_deg: float = 45.0
    gaps_m: float = 0.0

    @classmethod
    def of(
        cls,
        distance_m: ArrayLike,
        ground_m: ArrayLike,
        *,
        clutter_m: ArrayLike | None = None,
        zone: ArrayLike | None = None,
        mid_latitude_deg: float = 45.0,
        gaps_m: float = 0.0,
    ) -> Profile:
        """Check and freeze a profile.

        Raises : OutOfRange naming the first bad element (shape mismatch, NaN, distances not ascending from 0,
            fewer than two points, negative clutter, ground outside -500..9000 m).
        """
        d = np.array(distance_m, dtype=np.float64)
        h = np.array(ground_m, dtype=np.float64)
        c = np.zeros_like(h) if clutter_m is None else np.array(clutter_m, dtype=np.float64)
        z = np.full(h.shape, ZONE_INLAND, dtype=np.int8) if zone is None else np.array(zone, dtype=np.int8)
        if d.ndim != 1 or d.size < 2:
            raise OutOfRange(f"a profile needs at least 2 points in one dimension, not shape {d.shape}")
        if not d.shape == h.shape == c.shape == z.shape:
            raise OutOfRange(
                f"profile arrays differ in length: distance {d.size}, ground {h.size}, "
                f"clutter {c.size}, zone {z.size}"
            )
        for name, values in (("distance", d), ("ground", h), ("clutter", c)):
            bad = np.flatnonzero(~np.isfinite(values))
            if bad.size:
                raise OutOfRange(
                    f"{name} at point {bad[0]} is {values[bad[0]]}; every point needs a finite value"
                )
        if d[0] != 0.0:
            raise OutOfRange(f"the first distance is {d[0]} m; a profile starts at 0 at the transmitter")
        steps = np.flatnonzero(np.diff(d) <= 0.0)
        if steps.size:
            i = int(steps[0])
            raise OutOfRange(f"distances must ascend: point {i + 1} at {d[i + 1]} m does not follow {d[i]} m")
        bad = np.flatnonzero((h < -500.0) | (h > 9000.0))
        if bad.size:
            raise OutOfRange(f"ground at point {bad[0]} is {h[bad[0]]} m; the valid range is -500 to 9000 m")
        bad = np.flatnonzero((c < 0.0) | (c > 200.0))
        if bad.size:
            raise OutOfRange(f"clutter at point {bad[0]} is {c[bad[0]]} m; the valid range is 0 to 200 m")
        for values in (d, h, c):
            values.flags.writeable = False
        z.flags.writeable = False
        return cls(d, h, c, z, float(mid_latitude_deg), float(gaps_m))

    @property
    def length_m(self) -> float:
        """Path length, m."""
        return float(self.distance_m[-1])

    @property
    def points(self) -> int:
        """Number of points, both ends included."""
        return int(self.distance_m.size)

    def reversed(self) -> Profile:
        """The same path walked from the other end."""
        return Profile.of(
            self.distance_m[-1] - self.distance_m[::-1],
            self.ground_m[::-1],
            clutter_m=self.clutter_m[::-1],
            zone=self.zone[::-1],
            mid_latitude_deg=self.mid_latitude_deg,
            gaps_m=self.gaps_m,
        )


@dataclass(frozen=True)
class ProfileBatch:
    """Many profiles laid end to end, for compiled loops over paths.

    start : (paths + 1,) int64; path p owns elements start[p]:start[p + 1].
    distance_m, ground_m, clutter_m : (total,) float64; zone : (total,) int8.
    mid_latitude_deg, gaps_m : (paths,).
    """

    start: NDArray[np.int64]
    distance_m: FloatArray
    ground_m: FloatArray
    clutter_m: FloatArray
    zone: NDArray[np.int8]
    mid_latitude_deg: FloatArray
    gaps_m: FloatArray

    @classmethod
    def of(cls, profiles: Sequence[Profile]) -> ProfileBatch:
        """Lay profiles end to end, in order. An empty sequence makes an empty batch."""
        start = np.zeros(len(profiles) + 1, dtype=np.int64)
        np.cumsum([p.points for p in profiles], out=start[1:])

        def joined(parts: list[FloatArray]) -> FloatArray:
            return np.concatenate(parts) if parts else np.empty(0)

        return cls(
            start,
            joined([p.distance_m for p in profiles]),
            joined([p.ground_m for p in profiles]),
            joined([p.clutter_m for p in profiles]),
            np.concatenate([p.zone for p in profiles]) if profiles else np.empty(0, dtype=np.int8),
            np.array([p.mid_latitude_deg for p in profiles], dtype=np.float64),
            np.array([p.gaps_m for p in profiles], dtype=np.float64),
        )

    def __len__(self) -> int:
        return int(self.start.size - 1)

    def __getitem__(self, path: int) -> Profile:
        a, b = int(self.start[path]), int(self.start[path + 1])
        return Profile.of(
            self.distance_m[a:b],
            self.ground_m[a:b],
            clutter_m=self.clutter_m[a:b],
            zone=self.zone[a:b],
            mid_latitude_deg=float(self.mid_latitude_deg[path]),
            gaps_m=float(self.gaps_m[path]),
        )

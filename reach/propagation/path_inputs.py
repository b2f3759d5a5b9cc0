"""Checks and shapes what a model is given, once, before any compiled loop sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", bound=np.generic)

POLARISATION_CODE = {Polarisation.HORIZONTAL: 0, Polarisation.VERTICAL: 1}
LOWEST_GROUND_M, HIGHEST_GROUND_M = -500.0, 9000.0
HIGHEST_CLUTTER_M = 200.0


@dataclass(frozen=True)
class ModelLimits:
    """Where a model may be used. Bounds are inclusive.

    points : fewest profile points, both ends included.
    """

    model: str
    frequency_mhz: tuple[float, float]
    antenna_height_m: tuple[float, float]
    length_km: tuple[float, float]
    points: int
    frequency_advice: str = ""


@dataclass(frozen=True)
class PathInputs:
    """Checked arrays for the compiled loops; path p owns elements start[p]:start[p + 1].

    surface_m : ground plus clutter, bare ground at both ends (P.1812-7, 3.2).
    tx_height_m, rx_height_m, frequency_mhz : (paths,) float64.
    """

    start: NDArray[np.int64]
    distance_m: FloatArray
    ground_m: FloatArray
    surface_m: FloatArray
    zone: NDArray[np.int8]
    mid_latitude_deg: FloatArray
    tx_height_m: FloatArray
    rx_height_m: FloatArray
    frequency_mhz: FloatArray

    def __len__(self) -> int:
        return int(self.start.size - 1)

    @property
    def length_km(self) -> FloatArray:
        """(paths,) path lengths, km."""
        return self.distance_m[self.start[1:] - 1] * 1e-3


def prepare(
    batch: ProfileBatch,
    limits: ModelLimits,
    *,
    tx_height_m: ArrayLike,
    rx_height_m: ArrayLike,
    frequency_mhz: ArrayLike,
) -> PathInputs:
    """Checked inputs of a batch.

    Raises : OutOfRange saying which path, which value and the valid range.
    """
    paths = len(batch)
    tx = _per_path("transmitter antenna height", tx_height_m, paths)
    rx = _per_path("receiver antenna height", rx_height_m, paths)
    frequency = _per_path("frequency", frequency_mhz, paths)
    _check_range(frequency, limits.frequency_mhz, limits.model, "frequency", "MHz", limits.frequency_advice)
    _check_range(tx, limits.antenna_height_m, limits.model, "transmitter antenna height above ground", "m")
    _check_range(rx, limits.antenna_height_m, limits.model, "receiver antenna height above ground", "m")
    _check_profiles(batch, limits)
    return PathInputs(
        start=_plain(batch.start, np.int64),
        distance_m=_plain(batch.distance_m, np.float64),
        ground_m=_plain(batch.ground_m, np.float64),
        surface_m=surface_of(batch),
        zone=_plain(batch.zone, np.int8),
        mid_latitude_deg=_plain(batch.mid_latitude_deg, np.float64),
        tx_height_m=tx,
        rx_height_m=rx,
        frequency_mhz=frequency,
    )


def surface_of(batch: ProfileBatch) -> FloatArray:
    """Ground plus clutter; the terminals stand on bare ground. Source : P.1812-7, 3.2, eq. (1a) to (1d)."""
    ground_m = _plain(batch.ground_m, np.float64)
    if not batch.clutter_m.any():
        return ground_m
    surface_m = ground_m + batch.clutter_m
    for ends in (batch.start[:-1], batch.start[1:] - 1):
        surface_m[ends] = ground_m[ends]
    return surface_m


def single(profile: Profile) -> ProfileBatch:
    """A batch of one path."""
    return ProfileBatch.of([profile])


def _plain(values: NDArray[Any], dtype: type[Number]) -> NDArray[Number]:
    """Contiguous and writable: a read-only array would make the compiled loops compile once more."""
    return np.require(values, dtype, ["C_CONTIGUOUS", "WRITEABLE"])


def _per_path(name: str, values: ArrayLike, paths: int) -> FloatArray:
    array = np.asarray(values, dtype=np.float64)
    if array.ndim > 1 or (array.ndim == 1 and array.size != paths):
        raise OutOfRange(
            f"{name} has shape {array.shape}; give one value or one for each of the {paths} paths"
        )
    return _plain(np.broadcast_to(array, (paths,)), np.float64)


def _check_range(
    values: FloatArray, bounds: tuple[float, float], model: str, name: str, unit: str, advice: str = ""
) -> None:
    lowest, highest = bounds
    bad = np.flatnonzero(~((values >= lowest) & (values <= highest)))
    if bad.size:
        tail = f"; {advice}" if advice else ""
        raise OutOfRange(
            f"path {bad[0]}: {name} is {values[bad[0]]:g} {unit}; "
            f"{model} is valid from {lowest:g} to {highest:g} {unit}{tail}"
        )


def _check_profiles(batch: ProfileBatch, limits: ModelLimits) -> None:
    start = batch.start
    if len(batch) == 0:
        return
    sizes = np.diff(start)
    short = np.flatnonzero(sizes < max(limits.points, 2))
    if short.size:
        raise OutOfRange(
            f"path {short[0]}: profile has {sizes[short[0]]} points; {limits.model} needs at least {limits.points}"
        )
    distance_m = batch.distance_m
    if start[0] != 0 or start[-1] != distance_m.size:
        raise OutOfRange(f"batch of {distance_m.size} points is cut at {start[0]} to {start[-1]}")

    def where(point: int) -> str:
        path = int(np.searchsorted(start, point, side="right")) - 1
        return f"path {path}, point {point - int(start[path])}"

    for name, values, lowest, highest in (
        ("distance", distance_m, 0.0, np.inf),
        ("ground", batch.ground_m, LOWEST_GROUND_M, HIGHEST_GROUND_M),
        ("clutter", batch.clutter_m, 0.0, HIGHEST_CLUTTER_M),
    ):
        if values.shape != distance_m.shape:
            raise OutOfRange(f"{name} has {values.size} points, distance has {distance_m.size}")
        # the two reductions let NaN through to the comparison, which then fails
        if values.size and not (
            values.min() >= lowest and values.max() <= highest and np.isfinite(values.max())
        ):
            point = int(np.flatnonzero(~((values >= lowest) & (values <= highest) & np.isfinite(values)))[0])
            bounds = f"{lowest:g} to {highest:g} m" if np.isfinite(highest) else "finite and not negative"
            raise OutOfRange(f"{where(point)}: {name} is {values[point]:g} m; valid: {bounds}")
    begins = distance_m[start[:-1]]
    if (begins != 0.0).any():
        path = int(np.flatnonzero(begins)[0])
        raise OutOfRange(f"path {path}: the first distance is {begins[path]:g} m; a profile starts at 0")
    rising = distance_m[1:] > distance_m[:-1]
    rising[start[1:-1] - 1] = True  # from one path's end to the next one's beginning
    if not rising.all():
        point = int(np.flatnonzero(~rising)[0]) + 1
        raise OutOfRange(
            f"{where(point)}: distance {distance_m[point]:g} m does not follow {distance_m[point - 1]:g} m; "
            "distances must ascend"
        )
    lengths_km = distance_m[start[1:] - 1] * 1e-3
    _check_range(lengths_km, limits.length_km, limits.model, "path length", "km")

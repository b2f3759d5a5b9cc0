"""Checks and shapes what a model is given, once, before any compiled loop sees it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.machinery.parallel import over_paths
from reach.stations import Polarisation
from reach.terrain.profile import ZONE_COASTAL, ZONE_INLAND, ZONE_SEA, Profile, ProfileBatch
from reach.units import figure, metres_in_words

FloatArray = NDArray[np.float64]
Number = TypeVar("Number", bound=np.generic)

POLARISATION_CODE = {Polarisation.HORIZONTAL: 0, Polarisation.VERTICAL: 1}
LOWEST_GROUND_M, HIGHEST_GROUND_M = -500.0, 9000.0
HIGHEST_CLUTTER_M = 200.0


@dataclass(frozen=True)
class ModelLimits:
    """Where a model may be used. Bounds are inclusive.

    points : fewest profile points, both ends included. frequency_advice : said below the lowest frequency.
    stated_mhz : frequencies its source states it for, where it is used beyond them.
    """

    model: str
    frequency_mhz: tuple[float, float]
    antenna_height_m: tuple[float, float]
    length_km: tuple[float, float]
    points: int
    frequency_advice: str = ""
    stated_mhz: tuple[float, float] | None = None

    def worked_height_m(self, height_m: ArrayLike) -> FloatArray:
        """Antenna heights above ground, m, none that is above zero left below the model's lowest."""
        heights_m = np.asarray(height_m, dtype=np.float64)
        lowest_m = self.antenna_height_m[0]
        return np.where((heights_m > 0.0) & (heights_m < lowest_m), lowest_m, heights_m)

    def is_extrapolated(self, frequency_mhz: float) -> bool:
        """Whether a frequency lies outside those the model's source states."""
        lowest, highest = self.stated_mhz or self.frequency_mhz
        return not lowest <= frequency_mhz <= highest


@dataclass(frozen=True)
class PathInputs:
    """Checked arrays for the compiled loops; path p owns elements start[p]:start[p + 1].

    tx_height_m, rx_height_m, frequency_mhz : (paths,) float64.
    """

    start: NDArray[np.int64]
    distance_m: FloatArray
    ground_m: FloatArray
    clutter_m: FloatArray
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
    tx = per_path("transmitter antenna height", tx_height_m, paths)
    rx = per_path("receiver antenna height", rx_height_m, paths)
    frequency = per_path("frequency", frequency_mhz, paths)
    _check_range(frequency, limits.frequency_mhz, limits.model, "frequency", "MHz", limits.frequency_advice)
    _check_range(tx, limits.antenna_height_m, limits.model, "transmitter antenna height above ground", "m")
    _check_range(rx, limits.antenna_height_m, limits.model, "receiver antenna height above ground", "m")
    _check_profiles(batch, limits)
    return PathInputs(
        start=_plain(batch.start, np.int64),
        distance_m=_plain(batch.distance_m, np.float64),
        ground_m=_plain(batch.ground_m, np.float64),
        clutter_m=_plain(batch.clutter_m, np.float64),
        zone=_plain(batch.zone, np.int8),
        mid_latitude_deg=_plain(batch.mid_latitude_deg, np.float64),
        tx_height_m=tx,
        rx_height_m=rx,
        frequency_mhz=frequency,
    )


def single(profile: Profile) -> ProfileBatch:
    """A batch of one path."""
    return ProfileBatch.of([profile])


def _plain(values: NDArray[Any], dtype: type[Number]) -> NDArray[Number]:
    """Contiguous and writable: a read-only array would make the compiled loops compile once more."""
    return np.require(values, dtype, ["C_CONTIGUOUS", "WRITEABLE"])


def per_path(
    name: str, values: ArrayLike, paths: int, *, bounds: tuple[float, float] | None = None, unit: str = ""
) -> FloatArray:
    """One value or one a path as (paths,) float64; bounds inclusive. Raises : OutOfRange naming the path."""
    array = np.asarray(values, dtype=np.float64)
    if array.ndim > 1 or (array.ndim == 1 and array.size != paths):
        raise OutOfRange(
            f"{name} has shape {array.shape}; give one value or one for each of the {paths} paths"
        )
    values_of = _plain(np.broadcast_to(array, (paths,)), np.float64)
    if bounds is not None:
        bad = np.flatnonzero(~((values_of >= bounds[0]) & (values_of <= bounds[1])))
        if bad.size:
            raise OutOfRange(
                f"path {bad[0]}: {name} is {figure(values_of[bad[0]])} {unit}; "
                f"valid: {figure(bounds[0])} to {figure(bounds[1])} {unit}"
            )
    return values_of


def _check_range(
    values: FloatArray, bounds: tuple[float, float], model: str, name: str, unit: str, advice: str = ""
) -> None:
    lowest, highest = bounds
    bad = np.flatnonzero(~((values >= lowest) & (values <= highest)))
    if bad.size:
        tail = f"; {advice}" if advice and values[bad[0]] < lowest else ""
        raise OutOfRange(
            f"path {bad[0]}: {name} is {figure(values[bad[0]])} {unit}; "
            f"{model} is valid from {figure(lowest)} to {figure(highest)} {unit}{tail}"
        )


def _check_profiles(batch: ProfileBatch, limits: ModelLimits) -> None:
    """One compiled pass over everything; only what it finds bad is looked at closely, for the message."""
    from reach.propagation._path_inputs_kernel import sound_paths

    start, points, fewest = batch.start, batch.distance_m.size, max(limits.points, 2)
    if start[0] != 0 or start[-1] != points:
        raise OutOfRange(f"batch of {points} points is cut at {start[0]} to {start[-1]}")
    for name, values in (("ground", batch.ground_m), ("clutter", batch.clutter_m), ("zone", batch.zone)):
        if values.shape != batch.distance_m.shape:
            raise OutOfRange(f"{name} has {values.size} points, distance has {points}")
    sizes = np.diff(start)
    short = np.flatnonzero(sizes < fewest)
    if short.size:
        raise OutOfRange(
            f"path {short[0]}: profile has {sizes[short[0]]} points; {limits.model} needs at least {fewest}"
        )
    sound = np.ones(len(batch), dtype=np.bool_)
    over_paths(
        sound_paths,
        batch,
        _plain(start, np.int64),
        _plain(batch.distance_m, np.float64),
        _plain(batch.ground_m, np.float64),
        _plain(batch.clutter_m, np.float64),
        LOWEST_GROUND_M,
        HIGHEST_GROUND_M,
        HIGHEST_CLUTTER_M,
        sound,
    )
    if not sound.all():
        path = int(np.flatnonzero(~sound)[0])
        part = slice(int(start[path]), int(start[path + 1]))
        raise OutOfRange(
            f"path {path}: " + _fault_of(batch.distance_m[part], batch.ground_m[part], batch.clutter_m[part])
        )
    _check_zones(batch)
    if batch.mid_latitude_deg.shape != (len(batch),):
        raise OutOfRange(
            f"middle latitude has shape {batch.mid_latitude_deg.shape}; give one for each of the "
            f"{len(batch)} paths"
        )
    _check_range(batch.mid_latitude_deg, (-90.0, 90.0), limits.model, "latitude of the middle", "degrees")
    lengths_km = batch.distance_m[start[1:] - 1] * 1e-3
    _check_range(lengths_km, limits.length_km, limits.model, "path length", "km")


def _check_zones(batch: ProfileBatch) -> None:
    known = batch.zone == ZONE_INLAND
    if known.all():  # nearly always, and quickly told
        return
    known |= (batch.zone == ZONE_SEA) | (batch.zone == ZONE_COASTAL)
    wrong = np.flatnonzero(~known)
    if wrong.size:
        path = int(np.searchsorted(batch.start, wrong[0], side="right")) - 1
        raise OutOfRange(
            f"path {path}: zone at point {wrong[0] - batch.start[path]} is {batch.zone[wrong[0]]}; "
            f"give {ZONE_SEA} for sea, {ZONE_COASTAL} for coastal land, {ZONE_INLAND} for inland"
        )


def _fault_of(distance_m: FloatArray, ground_m: FloatArray, clutter_m: FloatArray) -> str:
    """What is wrong with a profile that is known to be bad: the first bad element and the valid range."""
    for name, values, lowest, highest in (
        ("distance", distance_m, 0.0, np.finfo(np.float64).max),
        ("ground", ground_m, LOWEST_GROUND_M, HIGHEST_GROUND_M),
        ("clutter", clutter_m, 0.0, HIGHEST_CLUTTER_M),
    ):
        bad = np.flatnonzero(~((values >= lowest) & (values <= highest)))
        if bad.size:
            valid = (
                "finite and not negative"
                if name == "distance"
                else f"{figure(lowest)} to {metres_in_words(highest)}"
            )
            return (
                f"{name} at point {bad[0]} is {metres_in_words(values[bad[0]])}; the valid range is {valid}"
            )
    if distance_m[0] != 0.0:
        first = metres_in_words(distance_m[0])
        return f"the first distance is {first}; a profile starts at 0 at the transmitter"
    point = int(np.flatnonzero(~(np.diff(distance_m) > 0.0))[0]) + 1
    return (
        f"distance at point {point} is {metres_in_words(distance_m[point])} after "
        f"{metres_in_words(distance_m[point - 1])}; distances must ascend"
    )

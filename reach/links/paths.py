"""Loss and clearance of many named paths over terrain, at one or more frequencies, within bounded memory."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.geodesy import distance_and_bearing
from reach.lists import named
from reach.machinery.progress import Progress
from reach.propagation.clearance import clearances
from reach.propagation.free_space import free_space_loss_db
from reach.propagation.itm.settings import SKYWAVE_WORDS
from reach.propagation.models import PathLossModel
from reach.stations import Polarisation, Position
from reach.terrain.clutter import LandCover
from reach.terrain.sampling import profile_chunks
from reach.terrain.tiles import Terrain
from reach.units import wavelength_m

FloatArray = NDArray[np.float64]

CO_LOCATED_M = 50.0
ITM_LOWEST_M = 0.5  # NTIA ITM 1.2.2 refuses antennas below


@dataclass(frozen=True)
class PathEnd:
    """One end of a path: who, where, antenna above ground."""

    name: str
    position: Position
    antenna_height_m: float


@dataclass(frozen=True)
class SurveyedPaths:
    """What the terrain does to each path, in the order asked. F is the number of frequencies.

    distance_m, bearing_deg, return_bearing_deg : (paths,), from the first end and back from the second.
    path_loss_db, fresnel_clearance : (paths, F); line_of_sight : (paths,).
    warnings : plain words naming the paths they are about.
    """

    distance_m: FloatArray
    bearing_deg: FloatArray
    return_bearing_deg: FloatArray
    path_loss_db: FloatArray
    line_of_sight: NDArray[np.bool_]
    fresnel_clearance: FloatArray
    warnings: tuple[str, ...]


def survey_paths(
    ends: Sequence[tuple[PathEnd, PathEnd]],
    terrain: Terrain,
    model: PathLossModel,
    *,
    frequencies_mhz: Sequence[float],
    polarisation: Polarisation = Polarisation.VERTICAL,
    k_factor: float = 4.0 / 3.0,
    land_cover: LandCover | None = None,
    progress: Progress | None = None,
) -> SurveyedPaths:
    """Sample the terrain of every path once and run the model on it at each frequency.

    Stations closer than 50 m, or than the model's shortest path, get free space and a warning. An antenna
    below the model's lowest is worked at the lowest, with a warning: one radio held low must not cost the
    whole net its answer.
    Raises : MissingTerrain naming both ends of a path that leaves the tiles; OutOfRange naming both ends of
        a path the model cannot take.
    Cost : memory is bounded by one chunk of `profile_chunks`, whatever the number of paths.
    """
    total = len(ends)
    distance_m, bearing_deg, return_bearing_deg = _geometry(ends)
    frequencies = np.asarray(frequencies_mhz, dtype=np.float64)
    path_loss_db = np.full((total, frequencies.size), np.nan)
    clearance = np.full((total, frequencies.size), np.nan)
    line_of_sight = np.ones(total, dtype=np.bool_)
    filled_m = np.zeros(total)
    warnings = _Grouped()

    shortest_m = max(CO_LOCATED_M, _shortest_m(model))
    near = np.flatnonzero(distance_m < shortest_m)
    for path in (int(p) for p in near):
        a, b = ends[path]
        path_loss_db[path] = _near_loss_db(float(distance_m[path]), a, b, frequencies)
        warnings.add(
            f"{distance_m[path]:.0f} m apart, too close for {model.name}: free space was taken; "
            "strong signals may block a receiver",
            ends[path],
        )
    warnings_low = _low_antennas(ends, model)
    done = int(near.size)
    if progress is not None and done:
        progress(done, total)

    far = np.flatnonzero(distance_m >= shortest_m)
    far_ends = [ends[p] for p in far.tolist()]
    for start, batch in profile_chunks(
        terrain,
        [(a.position, b.position) for a, b in far_ends],
        labels=[(a.name, b.name) for a, b in far_ends],
        land_cover=land_cover,
    ):
        chunk = far[start : start + len(batch)]
        chunk_ends = far_ends[start : start + len(batch)]
        heights_m = [np.array([pair[side].antenna_height_m for pair in chunk_ends]) for side in (0, 1)]
        for f, frequency_mhz in enumerate(frequencies):
            try:
                found = model.losses(
                    batch,
                    tx_height_m=height_for_model_m(model, heights_m[0]),
                    rx_height_m=height_for_model_m(model, heights_m[1]),
                    frequency_mhz=frequency_mhz,
                    polarisation=polarisation,
                )
            except OutOfRange as problem:
                raise OutOfRange(_named(str(problem), chunk_ends)) from problem
            path_loss_db[chunk, f] = found.loss_db
            for of_chunk, text in found.warnings:
                if text != SKYWAVE_WORDS:  # goes by the frequency: said once, with the channel
                    warnings.add(text, chunk_ends[of_chunk])
            seen = clearances(
                batch,
                tx_height_m=heights_m[0],
                rx_height_m=heights_m[1],
                frequency_mhz=frequency_mhz,
                k_factor=k_factor,
            )
            clearance[chunk, f] = seen.worst_share
            line_of_sight[chunk] = seen.line_of_sight
        filled_m[chunk] = batch.gaps_m
        done += len(chunk)
        if progress is not None:
            progress(done, total)

    filled = np.flatnonzero(filled_m > 0.0).tolist()
    for path in filled:
        most = f"{'up to ' if len(filled) > 1 else ''}{filled_m.max():.0f} m"
        warnings.add(f"{most} of missing elevation filled from the ground beside it", ends[path])

    return SurveyedPaths(
        distance_m=distance_m,
        bearing_deg=bearing_deg,
        return_bearing_deg=return_bearing_deg,
        path_loss_db=path_loss_db,
        line_of_sight=line_of_sight,
        fresnel_clearance=clearance,
        warnings=(*warnings_low, *warnings.lines()),
    )


NAMED_AT_MOST = 3


class _Grouped:
    """Warnings of many paths; those that differ only in figures are said once, with the first figure."""

    def __init__(self) -> None:
        self._texts: dict[str, str] = {}
        self._paths: dict[str, dict[tuple[str, str], None]] = {}

    def add(self, text: str, ends: tuple[PathEnd, PathEnd]) -> None:
        key = re.sub(r"\d[\d.]*", "#", text)
        self._texts.setdefault(key, text)
        self._paths.setdefault(key, {})[ends[0].name, ends[1].name] = None

    def lines(self) -> list[str]:
        lines = []
        for key, text in self._texts.items():
            paths = [f"{a} to {b}" for a, b in self._paths[key]]
            lines.append(f"{named(paths, most=NAMED_AT_MOST)}: {text.rstrip('.')}.")
        return lines


def _geometry(ends: Sequence[tuple[PathEnd, PathEnd]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    places = np.array(
        [
            [
                a.position.latitude_deg,
                a.position.longitude_deg,
                b.position.latitude_deg,
                b.position.longitude_deg,
            ]
            for a, b in ends
        ],
        dtype=np.float64,
    ).reshape(-1, 4)
    distance_m, bearing_deg = distance_and_bearing(
        from_latitude_deg=places[:, 0],
        from_longitude_deg=places[:, 1],
        to_latitude_deg=places[:, 2],
        to_longitude_deg=places[:, 3],
    )
    _, return_bearing_deg = distance_and_bearing(
        from_latitude_deg=places[:, 2],
        from_longitude_deg=places[:, 3],
        to_latitude_deg=places[:, 0],
        to_longitude_deg=places[:, 1],
    )
    return distance_m, bearing_deg, return_bearing_deg


def _shortest_m(model: PathLossModel) -> float:
    limits = getattr(model, "limits", None)
    return 1000.0 * float(limits.length_km[0]) if limits is not None else 0.0


def height_for_model_m(model: PathLossModel, height_m: ArrayLike) -> FloatArray:
    """Antenna heights above ground, m, none that is above zero left below the model's lowest."""
    heights_m = np.asarray(height_m, dtype=np.float64)
    limits = getattr(model, "limits", None)
    lowest_m = ITM_LOWEST_M if model.name == "itm" else 0.0
    if limits is not None:
        lowest_m = float(limits.antenna_height_m[0])
    return np.where((heights_m > 0.0) & (heights_m < lowest_m), lowest_m, heights_m)


def _low_antennas(ends: Sequence[tuple[PathEnd, PathEnd]], model: PathLossModel) -> tuple[str, ...]:
    """A sentence for each antenna that is worked higher than it is, in the order met."""
    said: dict[str, str] = {}
    for end in (end for pair in ends for end in pair):
        worked_m = float(height_for_model_m(model, end.antenna_height_m))
        if worked_m != end.antenna_height_m:
            said[end.name] = (
                f"{end.name}: antenna at {end.antenna_height_m:g} m is below the {worked_m:g} m where "
                f"{model.name} starts; worked at {worked_m:g} m, so the real signal is weaker."
            )
    return tuple(said.values())


def _near_loss_db(distance_m: float, a: PathEnd, b: PathEnd, frequencies_mhz: FloatArray) -> FloatArray:
    """Free space over the slant, but not nearer than a wavelength, where the far-field formula ends."""
    slant_m = np.hypot(distance_m, a.antenna_height_m - b.antenna_height_m)
    far_m = np.maximum(slant_m, wavelength_m(frequencies_mhz))
    return np.asarray(free_space_loss_db(far_m / 1000.0, frequencies_mhz), dtype=np.float64)


def _named(text: str, ends: Sequence[tuple[PathEnd, PathEnd]]) -> str:
    """The model's message with 'path 3' replaced by the call signs of that path."""

    def who(match: re.Match[str]) -> str:
        a, b = ends[int(match.group(1))]
        return f"{a.name} to {b.name}"

    return re.sub(r"\bpath (\d+)", who, text, count=1)

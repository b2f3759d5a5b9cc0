"""The models against measurements of others: how far each strays, by kind of path, distance and band."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import numpy as np

from reach.answers.sheet import Sheet
from reach.errors import Fault, InputProblem, OutOfRange
from reach.inputs.bands import band_name
from reach.inputs.measured import MeasuredPath, read_measured
from reach.links.paths import PathEnd, survey_paths
from reach.machinery.progress import Watch, unwatched
from reach.propagation.choose import TYPICAL, choose_model
from reach.propagation.path_kind import PathKind
from reach.terrain.tiles import Terrain

COMPARED = (TYPICAL, "p1812", "itm", "delta_bullington")
_DISTANCES_KM = (5.0, 15.0, 40.0)


@dataclass(frozen=True)
class ErrorFigures:
    """Predicted less measured loss of one model on one group of paths, dB. ninth_db : 9 in 10 are within."""

    group: str
    model: str
    paths: int
    mean_db: float
    sigma_db: float
    median_db: float
    ninth_db: float


@dataclass(frozen=True)
class MeasuredAnswer:
    """errors : model -> predicted less measured, a path each, NaN where a model does not go there."""

    headline: str
    figures: tuple[ErrorFigures, ...]
    faults: tuple[Fault, ...]
    rows: Sheet

    def of(self, group: str) -> tuple[ErrorFigures, ...]:
        """The figures of one group, a model each."""
        return tuple(one for one in self.figures if one.group == group)

    @property
    def groups(self) -> tuple[str, ...]:
        """Groups in the order shown."""
        return tuple(dict.fromkeys(one.group for one in self.figures))


ALL = "all paths"


def against_measured(file: Path, terrain: Terrain, *, watch: Watch = unwatched) -> MeasuredAnswer:
    """Compute every measured path by each model. Raises : InputProblem; MissingTerrain naming both ends."""
    paths, faults = read_measured(file)
    outside = [fault for path in paths for fault in _without_ground(path, terrain, file.name)]
    if outside:
        raise InputProblem(outside)
    errors = {name: np.full(len(paths), np.nan) for name in COMPARED}
    kinds = np.zeros(len(paths), dtype=np.int8)
    distance_km = np.zeros(len(paths))
    frequencies = sorted({path.frequency_mhz for path in paths})
    with watch("measured paths") as progress:
        for number, frequency_mhz in enumerate(frequencies):
            at = [k for k, path in enumerate(paths) if path.frequency_mhz == frequency_mhz]
            ends = [_ends(paths[k]) for k in at]
            for name in COMPARED:
                try:
                    model = choose_model(name, frequency_mhz)
                except OutOfRange:
                    continue  # told by the count of its paths
                found = survey_paths(ends, terrain, model, frequencies_mhz=[frequency_mhz])
                measured_db = np.array([paths[k].loss_db for k in at])
                errors[name][at] = found.path_loss_db[:, 0] - measured_db
                if name == TYPICAL:
                    kinds[at], distance_km[at] = found.kind[:, 0], found.distance_m / 1000.0
            progress(number + 1, len(frequencies))
    groups = list(_groups(paths, kinds, distance_km))
    figures = tuple(
        _figures(group, name, errors[name][chosen])
        for group, chosen in groups
        for name in COMPARED
        if np.isfinite(errors[name][chosen]).any()
    )
    return MeasuredAnswer(_headline(figures), figures, faults, _rows(paths, kinds, distance_km, errors))


def _without_ground(path: MeasuredPath, terrain: Terrain, file: str) -> list[Fault]:
    ends = (path.first, path.second)
    ground = terrain.sample(
        np.array([end.latitude_deg for end in ends]), np.array([end.longitude_deg for end in ends])
    )
    if not np.isnan(ground).any():
        return []
    fix = "give the tiles it crosses with --terrain, or leave the row out"
    return [Fault("an end lies where there is no elevation", fix, file=file, row=path.row)]


def _ends(path: MeasuredPath) -> tuple[PathEnd, PathEnd]:
    name = path.name or f"row {path.row}"
    return (
        PathEnd(f"{name}, first end", path.first, path.first_height_m, path.first_land),
        PathEnd(f"{name}, second end", path.second, path.second_height_m, path.second_land),
    )


def _groups(
    paths: Sequence[MeasuredPath], kinds: np.ndarray, distance_km: np.ndarray
) -> Iterable[tuple[str, np.ndarray]]:
    every = np.arange(len(paths))
    yield ALL, every
    for kind in PathKind:
        if (chosen := every[kinds == kind.value]).size:
            yield kind.words, chosen
    edges = (0.0, *_DISTANCES_KM, np.inf)
    for low, high in pairwise(edges):
        if (chosen := every[(distance_km >= low) & (distance_km < high)]).size:
            yield (f"{low:g} to {high:g} km" if np.isfinite(high) else f"from {low:g} km"), chosen
    bands = [band_name(path.frequency_mhz) or f"{path.frequency_mhz:.8g} MHz" for path in paths]
    for band in sorted(set(bands), key=bands.index):
        yield band, every[[name == band for name in bands]]


def _figures(group: str, model: str, errors_db: np.ndarray) -> ErrorFigures:
    known = errors_db[np.isfinite(errors_db)]
    return ErrorFigures(
        group,
        model,
        len(known),
        float(known.mean()),
        float(known.std(ddof=1)) if len(known) > 1 else 0.0,
        float(np.median(known)),
        float(np.quantile(np.abs(known), 0.9)),
    )


def _headline(figures: Sequence[ErrorFigures]) -> str:
    every = [one for one in figures if one.group == ALL]
    usual = next((one for one in every if one.model == TYPICAL), every[0])
    side = "more" if usual.mean_db >= 0 else "less"
    return (
        f"{usual.paths} measured paths: {usual.model} reads {abs(usual.mean_db):.1f} dB {side} loss than was "
        f"measured, with a spread of {usual.sigma_db:.1f} dB."
    )


def _rows(
    paths: Sequence[MeasuredPath], kinds: np.ndarray, distance_km: np.ndarray, errors: dict[str, np.ndarray]
) -> Sheet:
    columns = ("row", "name", "frequency_mhz", "distance_km", "kind", "measured_db")
    return Sheet(
        (*columns, *(f"{name}_error_db" for name in COMPARED)),
        tuple(
            (
                path.row,
                path.name,
                path.frequency_mhz,
                float(distance_km[k]),
                PathKind(int(kinds[k])).words,
                path.loss_db,
                *(float(errors[name][k]) for name in COMPARED),
            )
            for k, path in enumerate(paths)
        ),
    )

"""Loss and clearance of many named paths over terrain, at one or more frequencies, within bounded memory."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from reach.errors import OutOfRange
from reach.geodesy import distance_and_bearing
from reach.links.land import land_height_m, stated_land
from reach.links.takeoff import takeoff_angles_deg
from reach.lists import named
from reach.machinery.parallel import each_behind
from reach.machinery.progress import Progress
from reach.notes import Note, NoteKind
from reach.propagation.clearance import clearances
from reach.propagation.free_space import free_space_loss_db
from reach.propagation.itm.model import ItmModel
from reach.propagation.itm.settings import SKYWAVE_WORDS
from reach.propagation.models import PathLossModel
from reach.propagation.path_kind import path_kinds, with_models_apart
from reach.propagation.typical_land.model import Cover, TypicalLandModel
from reach.stations import Land, Polarisation, Position, Repeater, Station
from reach.terrain.clutter import LandCover
from reach.terrain.profile import ProfileBatch
from reach.terrain.sampling import profile_chunks
from reach.terrain.tiles import Terrain
from reach.units import metres_in_words, wavelength_m

FloatArray = NDArray[np.float64]

CO_LOCATED_M = 50.0


@dataclass(frozen=True)
class PathEnd:
    """One end of a path: who, where, antenna above ground, what is said to stand round it (None: nobody
    said).
    """

    name: str
    position: Position
    antenna_height_m: float
    land: Land | None = None


def path_end(party: Station | Repeater, *, antenna_height_m: float | None = None) -> PathEnd:
    """A member or a repeater as an end of a path; antenna_height_m : in place of its own."""
    height_m = party.antenna.height_m if antenna_height_m is None else antenna_height_m
    return PathEnd(party.call_sign, party.position, height_m, stated_land(party))


@dataclass(frozen=True)
class SurveyedPaths:
    """What the terrain does to each path, in the order asked. F is the number of frequencies.

    distance_m, bearing_deg, return_bearing_deg : (paths,), from the first end and back from the second.
    path_loss_db, fresnel_clearance : (paths, F); line_of_sight : (paths,).
    tx_end_db, rx_end_db : (paths, F) what path_loss_db holds for either antenna below trees or roofs.
    kind : (paths, F) codes of `PathKind`. models_apart_db : (paths, F) ITM's loss over P.1812's, over bare
        ground; NaN where one of them does not go.
    tx_effective_height_m, rx_effective_height_m : (paths,) above the ground that counts, by ITM.
    elevation_deg, return_elevation_deg : (paths,), how steeply the path leaves its first end and its second,
        towards the other antenna or the horizon that hides it; 0 for stations too close to have a profile.
    warnings : naming the paths they are about.
    """

    distance_m: FloatArray
    bearing_deg: FloatArray
    return_bearing_deg: FloatArray
    path_loss_db: FloatArray
    line_of_sight: NDArray[np.bool_]
    fresnel_clearance: FloatArray
    tx_end_db: FloatArray
    rx_end_db: FloatArray
    kind: NDArray[np.int8]
    models_apart_db: FloatArray
    tx_effective_height_m: FloatArray
    rx_effective_height_m: FloatArray
    elevation_deg: FloatArray
    return_elevation_deg: FloatArray
    warnings: tuple[Note, ...]


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
    Cost : memory is bounded by two chunks of `profile_chunks`, whatever the number of paths.
    """
    found = _Survey(ends, model, frequencies_mhz, polarisation, k_factor, lands_m(ends, land_cover))
    near = found.take_near()
    done = len(near)
    if progress is not None and done:
        progress(done, len(ends))
    far = np.setdiff1d(np.arange(len(ends)), near)
    far_ends = [ends[p] for p in far.tolist()]
    chunks = profile_chunks(
        terrain,
        [(a.position, b.position) for a, b in far_ends],
        labels=[(a.name, b.name) for a, b in far_ends],
        land_cover=land_cover,
    )

    def take(chunk_of_profiles: tuple[int, ProfileBatch]) -> int:
        start, batch = chunk_of_profiles
        found.take(far[start : start + len(batch)], batch)
        return len(batch)

    for taken in each_behind(take, chunks):
        done += taken
        if progress is not None:
            progress(done, len(ends))
    return found.paths()


def shortest_path_m(model: PathLossModel) -> float:
    """Stations nearer to each other than this get free space in place of the model, m."""
    return max(CO_LOCATED_M, 1000.0 * model.limits.length_km[0])


class _Survey:
    """What is known of the paths so far, filled chunk by chunk; fields as in SurveyedPaths."""

    def __init__(
        self,
        ends: Sequence[tuple[PathEnd, PathEnd]],
        model: PathLossModel,
        frequencies_mhz: Sequence[float],
        polarisation: Polarisation,
        k_factor: float,
        land_m: tuple[FloatArray, FloatArray],
    ) -> None:
        self.ends, self.model, self.polarisation, self.k_factor = ends, model, polarisation, k_factor
        self.frequencies_mhz = np.asarray(frequencies_mhz, dtype=np.float64)
        self.land_m = land_m
        self.distance_m, self.bearing_deg, self.return_bearing_deg = _geometry(ends)
        self.height_m = tuple(
            np.array([pair[side].antenna_height_m for pair in ends], dtype=np.float64) for side in (0, 1)
        )
        total = len(ends)
        shape = (total, self.frequencies_mhz.size)
        self.path_loss_db, self.clearance, self.apart_db = (np.full(shape, np.nan) for _ in range(3))
        self.end_db = (np.zeros(shape), np.zeros(shape))
        self.kind = np.zeros(shape, dtype=np.int8)
        self.effective_m = tuple(height_m.copy() for height_m in self.height_m)
        self.elevation_deg = (np.zeros(total), np.zeros(total))
        self.line_of_sight = np.ones(total, dtype=np.bool_)
        self.filled_m = np.zeros(total)
        self.warnings = _Grouped()

    def take_near(self) -> NDArray[np.intp]:
        """Stations too close for the model; which paths they are."""
        near = np.flatnonzero(self.distance_m < shortest_path_m(self.model))
        for path in near.tolist():
            a, b = self.ends[path]
            apart_m = float(self.distance_m[path])
            self.path_loss_db[path] = _near_loss_db(apart_m, a, b, self.frequencies_mhz)
            self.warnings.add(
                NoteKind.PATH,
                f"{apart_m:.0f} m apart, too close for {self.model.name}: free space was taken; "
                "strong signals may block a receiver",
                self.ends[path],
            )
        return near

    def take(self, chunk: NDArray[np.intp], batch: ProfileBatch) -> None:
        """The paths of one chunk of profiles. Raises : OutOfRange naming both ends."""
        for f in range(self.frequencies_mhz.size):
            self._take_losses(chunk, batch, f)
            self._take_obstacles(chunk, batch, f)
        tx_m, rx_m = self.height_m[0][chunk], self.height_m[1][chunk]
        self.elevation_deg[0][chunk], self.elevation_deg[1][chunk] = takeoff_angles_deg(
            batch, tx_height_m=tx_m, rx_height_m=rx_m, k_factor=self.k_factor
        )
        self.filled_m[chunk] = batch.gaps_m

    def _take_losses(self, chunk: NDArray[np.intp], batch: ProfileBatch, f: int) -> None:
        ends = [self.ends[path] for path in chunk.tolist()]
        limits = self.model.limits
        try:
            found = self.model.losses(
                batch,
                tx_height_m=limits.worked_height_m(self.height_m[0][chunk]),
                rx_height_m=limits.worked_height_m(self.height_m[1][chunk]),
                frequency_mhz=self.frequencies_mhz[f],
                polarisation=self.polarisation,
                tx_land_m=self.land_m[0][chunk],
                rx_land_m=self.land_m[1][chunk],
            )
        except OutOfRange as problem:
            raise OutOfRange(_named(str(problem), ends)) from problem
        self.path_loss_db[chunk, f] = found.loss_db
        if found.tx_end_db is not None and found.rx_end_db is not None:
            self.end_db[0][chunk, f], self.end_db[1][chunk, f] = found.tx_end_db, found.rx_end_db
        for of_chunk, text in found.warnings:
            if text != SKYWAVE_WORDS:  # goes by the frequency: said once, with the channel
                self.warnings.add(NoteKind.MODEL, text, ends[of_chunk])

    def _take_obstacles(self, chunk: NDArray[np.intp], batch: ProfileBatch, f: int) -> None:
        """What stands in the way, and how far complete models part over it."""
        frequency_mhz = float(self.frequencies_mhz[f])
        tx_m, rx_m = self.height_m[0][chunk], self.height_m[1][chunk]
        seen = clearances(
            batch, tx_height_m=tx_m, rx_height_m=rx_m, frequency_mhz=frequency_mhz, k_factor=self.k_factor
        )
        self.clearance[chunk, f] = seen.worst_share
        self.line_of_sight[chunk] = seen.line_of_sight
        second = _second_opinion(batch, tx_m, rx_m, frequency_mhz, self.polarisation)
        self.apart_db[chunk, f] = second.apart_db
        self.effective_m[0][chunk], self.effective_m[1][chunk] = second.tx_effective_m, second.rx_effective_m
        kinds = path_kinds(
            batch, tx_height_m=tx_m, rx_height_m=rx_m, frequency_mhz=frequency_mhz, k_factor=self.k_factor
        )
        self.kind[chunk, f] = with_models_apart(kinds, second.apart_db)

    def paths(self) -> SurveyedPaths:
        """The whole, with what to beware of."""
        of_model = _beyond_stated(self.model, self.frequencies_mhz)
        of_antennas = _low_antennas(self.ends, self.model)
        filled = np.flatnonzero(self.filled_m > 0.0).tolist()
        most = f"{'up to ' if len(filled) > 1 else ''}{self.filled_m.max(initial=0.0):.0f} m"
        for path in filled:
            text = f"{most} of missing elevation filled from the ground beside it"
            self.warnings.add(NoteKind.GROUND, text, self.ends[path])
        return SurveyedPaths(
            distance_m=self.distance_m,
            bearing_deg=self.bearing_deg,
            return_bearing_deg=self.return_bearing_deg,
            path_loss_db=self.path_loss_db,
            line_of_sight=self.line_of_sight,
            fresnel_clearance=self.clearance,
            tx_end_db=self.end_db[0],
            rx_end_db=self.end_db[1],
            kind=self.kind,
            models_apart_db=self.apart_db,
            tx_effective_height_m=self.effective_m[0],
            rx_effective_height_m=self.effective_m[1],
            elevation_deg=self.elevation_deg[0],
            return_elevation_deg=self.elevation_deg[1],
            warnings=(*of_model, *of_antennas, *self.warnings.notes()),
        )


class _SecondOpinion(NamedTuple):
    """(paths,) ITM's loss over P.1812's with scatter for low antennas, both over bare ground, dB; ITM's
    effective heights, m."""

    apart_db: FloatArray
    tx_effective_m: FloatArray
    rx_effective_m: FloatArray


def _second_opinion(
    batch: ProfileBatch, tx_m: FloatArray, rx_m: FloatArray, frequency_mhz: float, polarisation: Polarisation
) -> _SecondOpinion:
    """What ITM makes of the paths; where it does not go (thin air), no opinion and heights as they are."""
    other, bare = ItmModel(), TypicalLandModel(Cover.BARE)
    try:
        itm = other.batch_details(
            batch,
            tx_height_m=other.limits.worked_height_m(tx_m),
            rx_height_m=other.limits.worked_height_m(rx_m),
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
        )
        p1812 = bare.losses(
            batch,
            tx_height_m=bare.limits.worked_height_m(tx_m),
            rx_height_m=bare.limits.worked_height_m(rx_m),
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
        )
    except OutOfRange:
        return _SecondOpinion(np.full(len(batch), np.nan), tx_m, rx_m)
    return _SecondOpinion(
        itm.loss_db - p1812.loss_db,
        np.maximum(itm.tx_effective_height_m, tx_m),
        np.maximum(itm.rx_effective_height_m, rx_m),
    )


def lands_m(
    ends: Sequence[tuple[PathEnd, PathEnd]], land_cover: LandCover | None
) -> tuple[FloatArray, FloatArray]:
    """(paths,) height of what stands round the first and the second ends, m: said, the raster's, or usual."""
    places = {(end.name, end.position): end for pair in ends for end in pair}
    silent = [key for key, end in places.items() if end.land is None]
    height_m = {key: land_height_m(end.land) for key, end in places.items()}
    if land_cover is not None and silent:
        found = land_cover.surrounding_height_m(
            np.array([position.latitude_deg for _, position in silent]),
            np.array([position.longitude_deg for _, position in silent]),
        )
        height_m |= dict(zip(silent, found.tolist()))
    first, second = (
        np.array([height_m[pair[side].name, pair[side].position] for pair in ends], dtype=np.float64)
        for side in (0, 1)
    )
    return first, second


NAMED_AT_MOST = 3


class _Grouped:
    """Warnings of many paths; those that differ only in figures are said once, with the first figure."""

    def __init__(self) -> None:
        self._first: dict[str, tuple[NoteKind, str]] = {}
        self._paths: dict[str, dict[tuple[str, str], None]] = {}

    def add(self, kind: NoteKind, text: str, ends: tuple[PathEnd, PathEnd]) -> None:
        key = re.sub(r"\d[\d.]*", "#", text)
        self._first.setdefault(key, (kind, text))
        self._paths.setdefault(key, {})[ends[0].name, ends[1].name] = None

    def notes(self) -> list[Note]:
        notes = []
        for key, (kind, text) in self._first.items():
            who = named([f"{a} to {b}" for a, b in self._paths[key]], most=NAMED_AT_MOST)
            notes.append(Note(kind, who, f"{who}: {text.rstrip('.')}."))
        return notes


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


def _beyond_stated(model: PathLossModel, frequencies_mhz: FloatArray) -> tuple[Note, ...]:
    """A note for each frequency at which the model goes on beyond what its source states."""
    stated = model.limits.stated_mhz
    return tuple(
        Note(
            NoteKind.MODEL,
            f"{frequency_mhz:.8g} MHz",
            f"{frequency_mhz:.8g} MHz: the Recommendations behind {model.name} start at {stated[0]:g} MHz; "
            "its losses are extrapolated.",
        )
        for frequency_mhz in frequencies_mhz.tolist()
        if stated is not None and model.limits.is_extrapolated(frequency_mhz)
    )


def _low_antennas(ends: Sequence[tuple[PathEnd, PathEnd]], model: PathLossModel) -> tuple[Note, ...]:
    """A note for each antenna that is worked higher than the model starts, in the order met."""
    said: dict[str, Note] = {}
    for end in dict.fromkeys(end for pair in ends for end in pair):
        worked_m = float(model.limits.worked_height_m(end.antenna_height_m))
        if worked_m != end.antenna_height_m:
            said[end.name] = Note(
                NoteKind.MODEL,
                end.name,
                f"{end.name}: antenna at {metres_in_words(end.antenna_height_m)} is below the "
                f"{metres_in_words(worked_m)} where {model.name} starts; worked at "
                f"{metres_in_words(worked_m)}, so the real signal is weaker.",
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

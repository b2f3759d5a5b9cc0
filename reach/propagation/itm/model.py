"""ITM as a path-loss model: settings in, losses with intermediate values and warnings out."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.machinery.parallel import over_paths
from reach.propagation.itm import path as itm_path
from reach.propagation.itm._batch_kernel import itm_paths
from reach.propagation.itm.ground import waves_of
from reach.propagation.itm.remarks import Remarks
from reach.propagation.itm.settings import (
    AVERAGE_GROUND,
    MEDIAN,
    USUAL_REFRACTIVITY_N_UNITS,
    Climate,
    Ground,
    ItmWarning,
    LeftOut,
    Percentages,
    Region,
    VariabilityMode,
)
from reach.propagation.itm.terrain import MOST_POINTS, workspace
from reach.propagation.itm.variability import deviate
from reach.propagation.models import LandSight, PathLosses, PathLossModel
from reach.propagation.path_inputs import ModelLimits, prepare, single
from reach.stations import Polarisation
from reach.terrain.profile import ZONE_INLAND, Profile, ProfileBatch

FloatArray = NDArray[np.float64]

LIMITS = ModelLimits(
    model="ITM",
    frequency_mhz=(20.0, 20_000.0),
    antenna_height_m=(0.5, 3000.0),
    length_km=(0.001, 20_000.0),
    points=2,
)

ERROR_WORDS = {
    itm_path.UNSOUND: "profile is not one of finite ground and ascending distances",
    itm_path.THIN_AIR: "refractivity at the path's mean elevation is below 150 N-units; ITM is valid from "
    "150 to 400 N-units (give a higher sea-level value or a lower path)",
    itm_path.THICK_AIR: "refractivity at the path's mean elevation is above 400 N-units; ITM is valid from "
    "150 to 400 N-units (give a lower sea-level value)",
    itm_path.EARTH_CURVATURE: "effective earth radius is outside ITM's valid range, 4000 to 13 333 km",
    itm_path.GROUND_IMPEDANCE: "ground impedance is not resistive enough (a permittivity of 1, that of air); "
    "ITM is not valid there: give a permittivity above 1",
}


@dataclass(frozen=True)
class ItmResult:
    """One path by ITM, with what the model made of it on the way.

    loss_db : basic transmission loss at the wanted percentages; free_space_db : with the model's 32.45.
    reference_db : attenuation over free space before climate and variability (A_ref).
    tx/rx_horizon_rad, _m : angles and distances of the horizons; tx/rx_effective_height_m : above the fitted
        ground. On well-cleared paths all six describe the fitted line, not the terrain: do not draw them.
    refractivity_n_units : at the path's mean elevation; irregularity_m : delta h, for an endless path.
    region : branch of the model; `Region.NEAR` is not a statement about clearance.
    flags : warnings as bits; warnings : the same in plain words.
    """

    loss_db: float
    free_space_db: float
    reference_db: float
    tx_horizon_rad: float
    rx_horizon_rad: float
    tx_horizon_m: float
    rx_horizon_m: float
    tx_effective_height_m: float
    rx_effective_height_m: float
    refractivity_n_units: float
    irregularity_m: float
    earth_radius_m: float
    region: Region
    flags: ItmWarning
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class ItmResults:
    """`ItmResult` for a batch: every array (paths,); region holds the values of `Region`, flags the bits."""

    loss_db: FloatArray
    free_space_db: FloatArray
    reference_db: FloatArray
    tx_horizon_rad: FloatArray
    rx_horizon_rad: FloatArray
    tx_horizon_m: FloatArray
    rx_horizon_m: FloatArray
    tx_effective_height_m: FloatArray
    rx_effective_height_m: FloatArray
    refractivity_n_units: FloatArray
    irregularity_m: FloatArray
    earth_radius_m: FloatArray
    region: NDArray[np.int64]
    flags: NDArray[np.int64]
    warnings: Sequence[tuple[int, str]]


@dataclass(frozen=True)
class ItmModel(PathLossModel):
    """The Irregular Terrain Model, point-to-point, with its settings frozen.

    climate, surface_refractivity_n_units (250..400, reduced to sea level), ground : of the area.
    mode, left_out, percentages : the variability wanted. The default is the median of a path between known
        sites; with all percentages at 50 mode and left_out change nothing.
    threads : None uses every core.

    Trees and houses on a profile are not seen by this model. Source : NTIA, ITM 1.2.2 (see the package text).
    """

    climate: Climate = Climate.CONTINENTAL_TEMPERATE
    surface_refractivity_n_units: float = USUAL_REFRACTIVITY_N_UNITS[Climate.CONTINENTAL_TEMPERATE]
    ground: Ground = AVERAGE_GROUND
    mode: VariabilityMode = VariabilityMode.MOBILE
    left_out: LeftOut = LeftOut.LOCATION
    percentages: Percentages = MEDIAN
    threads: int | None = None

    def __post_init__(self) -> None:
        if not 250.0 <= self.surface_refractivity_n_units <= 400.0:
            raise OutOfRange(
                f"surface refractivity is {self.surface_refractivity_n_units} N-units; "
                "ITM is valid from 250 to 400 N-units"
            )

    @property
    def name(self) -> str:
        return "itm"

    @property
    def source(self) -> str:
        return "NTIA Irregular Terrain Model (Longley-Rice) 1.2.2, point-to-point"

    @property
    def summary(self) -> str:
        return (
            "Statistics fitted to thousands of measured paths, over bare terrain; a second opinion. "
            "It sees no trees or houses and no skywave."
        )

    @property
    def valid_mhz(self) -> tuple[float, float]:
        return LIMITS.frequency_mhz

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used."""
        return LIMITS

    @property
    def sees(self) -> LandSight:
        return LandSight.NOTHING

    @property
    def complete(self) -> bool:
        return True

    def in_climate(self, climate: Climate) -> ItmModel:
        """The same settings in another climate, with its usual refractivity."""
        return replace(
            self, climate=climate, surface_refractivity_n_units=USUAL_REFRACTIVITY_N_UNITS[climate]
        )

    def losses(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
        tx_land_m: ArrayLike = 0.0,
        rx_land_m: ArrayLike = 0.0,
    ) -> PathLosses:
        """Loss of every path of a batch. Raises OutOfRange naming path, value and valid range."""
        results = self.batch_details(
            batch,
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
        )
        return PathLosses(results.loss_db, results.free_space_db, results.warnings)

    def details(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> ItmResult:
        """One path with everything the model worked out. Raises OutOfRange as `loss`."""
        many = self.batch_details(
            single(profile),
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
            polarisation=polarisation,
        )
        return ItmResult(
            loss_db=float(many.loss_db[0]),
            free_space_db=float(many.free_space_db[0]),
            reference_db=float(many.reference_db[0]),
            tx_horizon_rad=float(many.tx_horizon_rad[0]),
            rx_horizon_rad=float(many.rx_horizon_rad[0]),
            tx_horizon_m=float(many.tx_horizon_m[0]),
            rx_horizon_m=float(many.rx_horizon_m[0]),
            tx_effective_height_m=float(many.tx_effective_height_m[0]),
            rx_effective_height_m=float(many.rx_effective_height_m[0]),
            refractivity_n_units=float(many.refractivity_n_units[0]),
            irregularity_m=float(many.irregularity_m[0]),
            earth_radius_m=float(many.earth_radius_m[0]),
            region=Region(int(many.region[0])),
            flags=ItmWarning(int(many.flags[0])),
            warnings=tuple(text for _, text in many.warnings),
        )

    def batch_details(
        self,
        batch: ProfileBatch,
        *,
        tx_height_m: ArrayLike,
        rx_height_m: ArrayLike,
        frequency_mhz: ArrayLike,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> ItmResults:
        """A batch with everything the model worked out. Raises OutOfRange as `losses`.

        A profile whose points are not equally spaced is read at as many equally spaced points, by straight
        lines between its own.
        """
        given = {"tx_height_m": tx_height_m, "rx_height_m": rx_height_m, "frequency_mhz": frequency_mhz}
        # the ends tell lengths, heights and frequency; the compiled loop checks the points between as it goes
        inputs = prepare(_ends_of(batch), LIMITS, **given)
        crowded = np.flatnonzero(np.diff(batch.start) > MOST_POINTS)
        if crowded.size:
            points = int(np.diff(batch.start)[crowded[0]])
            raise OutOfRange(
                f"path {crowded[0]}: profile has {points} points; ITM takes at most {MOST_POINTS}"
            )
        rows = np.full((len(inputs), itm_path.COLUMNS), math.nan)
        errors = np.zeros(len(inputs), dtype=np.int64)
        flags = np.zeros(len(inputs), dtype=np.int64)
        longest = int(np.diff(batch.start).max(initial=2))

        frequencies, wave = _distinct(inputs.frequency_mhz)

        def share(first: int, last: int, *arguments: Any) -> None:
            itm_paths(first, last, *arguments, workspace(longest), rows, errors, flags)

        over_paths(
            share,
            batch,
            np.require(batch.start, np.int64, ("C", "W")),
            np.require(batch.distance_m, np.float64, ("C", "W")),
            np.require(batch.ground_m, np.float64, ("C", "W")),
            inputs.tx_height_m,
            inputs.rx_height_m,
            waves_of(
                frequencies,
                self.ground.relative_permittivity,
                self.ground.conductivity_s_per_m,
                polarisation is Polarisation.VERTICAL,
            ),
            wave,
            float(self.surface_refractivity_n_units),
            int(self.climate),
            int(self.mode) + int(self.left_out),
            deviate(self.percentages.time_pct / 100.0),
            deviate(self.percentages.location_pct / 100.0),
            deviate(self.percentages.situation_pct / 100.0),
            threads=self.threads,
        )
        wrong = np.flatnonzero(errors)
        if wrong.size:
            prepare(batch, LIMITS, **given)  # says exactly which point of a profile is bad
            raise OutOfRange(f"path {wrong[0]}: {ERROR_WORDS[int(errors[wrong[0]])]}")
        return ItmResults(
            loss_db=rows[:, itm_path.LOSS_DB],
            free_space_db=rows[:, itm_path.FREE_SPACE_DB],
            reference_db=rows[:, itm_path.REFERENCE_DB],
            tx_horizon_rad=rows[:, itm_path.THETA_1_RAD],
            rx_horizon_rad=rows[:, itm_path.THETA_2_RAD],
            tx_horizon_m=rows[:, itm_path.D_1_M],
            rx_horizon_m=rows[:, itm_path.D_2_M],
            tx_effective_height_m=rows[:, itm_path.H_E1_M],
            rx_effective_height_m=rows[:, itm_path.H_E2_M],
            refractivity_n_units=rows[:, itm_path.N_S],
            irregularity_m=rows[:, itm_path.DELTA_H_M],
            earth_radius_m=rows[:, itm_path.EARTH_RADIUS_M],
            region=rows[:, itm_path.REGION].astype(np.int64),
            flags=flags,
            warnings=Remarks(np.diff(batch.start), inputs.frequency_mhz, flags),
        )


def _ends_of(batch: ProfileBatch) -> ProfileBatch:
    """The batch with nothing but the two ends of every path."""
    sizes = np.diff(batch.start)
    whole = batch.start[0] == 0 and batch.start[-1] == batch.distance_m.size == batch.ground_m.size
    if not whole or (sizes < 2).any():
        return batch  # for the full check to refuse
    ends = np.stack([batch.start[:-1], batch.start[1:] - 1], axis=1).ravel()
    return ProfileBatch(
        np.arange(0, ends.size + 1, 2),
        batch.distance_m[ends],
        batch.ground_m[ends],
        np.zeros(ends.size),
        np.full(ends.size, ZONE_INLAND, dtype=np.int8),
        batch.mid_latitude_deg,
        batch.gaps_m,
    )


def _distinct(values: FloatArray) -> tuple[FloatArray, NDArray[np.int64]]:
    """The distinct values, and which of them each element is."""
    if (values == values[:1]).all():
        return values[:1], np.zeros(values.size, dtype=np.int64)
    distinct, which = np.unique(values, return_inverse=True)
    return distinct, which.astype(np.int64)


model = ItmModel()

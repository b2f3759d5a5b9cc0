"""P.1812 as a path-loss model: settings, checks, single paths and batches."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from reach.errors import OutOfRange
from reach.machinery.parallel import over_paths
from reach.propagation.building_entry import Building
from reach.propagation.delta_bullington import delta_bullington_parts
from reach.propagation.earth import effective_radius_km, median_k_factor
from reach.propagation.models import LandSight, PathLosses, PathLossModel
from reach.propagation.p1812.diffraction import DiffractionRun
from reach.propagation.p1812.parameters import BETA0_EARTH_RADIUS_KM
from reach.propagation.p1812.path import SHORTEST_KM, P1812Path, PathSettings, p1812_path
from reach.propagation.p1812.variability import BuildingEntry, building_entry
from reach.propagation.path_inputs import POLARISATION_CODE, ModelLimits, PathInputs, prepare, single
from reach.propagation.profile_scan import path_surface
from reach.propagation.smooth_earth import P1812
from reach.propagation.variability import location_sigma_db
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch
from reach.units import figure

FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class P1812Settings:
    """What P.1812 wants to know beyond the path.

    time_percent : p, 1 to 50; the loss is not exceeded for p % of the year. 50 is the median, the planner's
        choice; small p gives the small loss of interference studies.
    location_percent : pL, 1 to 99; above 50 the loss rises with the spread over places.
    lapse_rate_n_per_km : DN, sea_level_refractivity_n : N0, at the path's centre. The Recommendation's maps
        of both are not shipped; 45 and 325 are its reference implementation's defaults.
    location_sigma_db : sigma_L; None computes it from frequency, receiver height, clutter there and
        location_square_m.
    building : the receiver's building, None for outdoors; entry : its loss when known better than by P.2109.
    tx_coast_km, rx_coast_km : land distance from each end to the sea along the path; None takes it from the
        zones.
    """

    time_percent: float = 50.0
    location_percent: float = 50.0
    lapse_rate_n_per_km: float = 45.0
    sea_level_refractivity_n: float = 325.0
    location_sigma_db: float | None = None
    location_square_m: float = 100.0
    building: Building | None = None
    entry: BuildingEntry | None = None
    tx_coast_km: float | None = None
    rx_coast_km: float | None = None

    def __post_init__(self) -> None:
        for name, value, lowest, highest in (
            ("time percentage", self.time_percent, 1.0, 50.0),
            ("location percentage", self.location_percent, 1.0, 99.0),
            ("refractivity lapse rate in N/km", self.lapse_rate_n_per_km, -400.0, 156.0),
            ("sea-level refractivity in N-units", self.sea_level_refractivity_n, 200.0, 500.0),
            ("side of the location square in m", self.location_square_m, 50.0, 1000.0),
            ("location spread in dB", self.location_sigma_db or 0.0, 0.0, 30.0),
            ("distance to the coast in km", self.tx_coast_km or 0.0, 0.0, 20_000.0),
            ("distance to the coast in km", self.rx_coast_km or 0.0, 0.0, 20_000.0),
        ):
            if not lowest <= value <= highest:
                raise OutOfRange(
                    f"{name} is {figure(value)}; p1812 is valid from {figure(lowest)} to {figure(highest)}"
                )

    @property
    def radius_km(self) -> float:
        """Median effective Earth radius a_e, km. Source : P.1812-7, eqs (6), (7a)."""
        return effective_radius_km(median_k_factor(self.lapse_rate_n_per_km))


def lapse_rate_of_k_factor(k_factor: float) -> float:
    """DN, N/km, that gives a k-factor. Source : P.1812-7, eq. (6), solved for DN."""
    return 157.0 * (1.0 - 1.0 / k_factor)


def path_settings(s: P1812Settings) -> PathSettings:
    """Settings as the compiled path takes them."""
    return PathSettings(
        s.radius_km,
        float(s.sea_level_refractivity_n),
        float(s.time_percent),
        float(s.location_percent),
        -1.0 if s.tx_coast_km is None else float(s.tx_coast_km),
        -1.0 if s.rx_coast_km is None else float(s.rx_coast_km),
        P1812,
    )


def short_path_warnings(inputs: PathInputs, model: str) -> tuple[tuple[int, str], ...]:
    """(path, text) for every path shorter than P.1812 starts at."""
    return tuple(
        (
            int(path),
            f"path of {figure(inputs.length_km[path], 3)} km is shorter than the {SHORTEST_KM:g} km {model} "
            "starts at: free space and diffraction only",
        )
        for path in np.flatnonzero(inputs.length_km < SHORTEST_KM)
    )


def field_strength_1kw_dbuvm(*, loss_db: ArrayLike, frequency_mhz: ArrayLike) -> FloatArray:
    """Field strength, dB(uV/m), for 1 kW **e.r.p.** (half-wave dipole). Source : P.1812-7, 4.10, eq. (70)."""
    return np.asarray(199.36 + 20.0 * np.log10(np.asarray(frequency_mhz) * 1e-3) - np.asarray(loss_db))


@dataclass(frozen=True)
class P1812Model(PathLossModel):
    """Rec. ITU-R P.1812, complete for paths along one terrain profile."""

    settings: P1812Settings = field(default_factory=P1812Settings)
    name: str = "p1812"
    source: str = "Rec. ITU-R P.1812-7 (editions 6 to 8 agree for outdoor paths)"
    summary: str = (
        "Diffraction, ducting, scatter and clutter for a share of time and places; "
        "trust it first from 30 MHz up, less behind two ridges."
    )
    valid_mhz: tuple[float, float] = (30.0, 6000.0)
    sees: LandSight = LandSight.PATH
    complete: bool = True
    threads: int | None = None

    @property
    def limits(self) -> ModelLimits:
        """Where the model may be used. Paths under 0.25 km are computed with a warning."""
        return ModelLimits(
            self.name,
            self.valid_mhz,
            (1.0, 3000.0),
            (1e-3, 3000.0),
            3,
            frequency_advice="use typical_land below 30 MHz",
        )

    def details(
        self,
        profile: Profile,
        *,
        tx_height_m: float,
        rx_height_m: float,
        frequency_mhz: float,
        polarisation: Polarisation = Polarisation.VERTICAL,
    ) -> P1812Path:
        """Every intermediate value of one path, by the very same formulas run as plain Python.

        At p = 50 the run for beta0, which a batch skips (its share is 1e-9), is made for its own sake.
        """
        inputs = prepare(
            single(profile),
            self.limits,
            tx_height_m=tx_height_m,
            rx_height_m=rx_height_m,
            frequency_mhz=frequency_mhz,
        )
        sigma_db, entry_db = self._spread(inputs, profile.clutter_m[-1:])
        found: P1812Path = p1812_path(
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            profile.mid_latitude_deg,
            tx_height_m,
            rx_height_m,
            frequency_mhz * 1e-3,
            POLARISATION_CODE[polarisation],
            sigma_db[0],
            entry_db[0],
            path_settings(self.settings),
        )
        beta0 = DiffractionRun(
            *delta_bullington_parts(
                inputs.distance_m,
                path_surface(inputs.ground_m, inputs.clutter_m),
                inputs.ground_m[0] + tx_height_m,
                inputs.ground_m[-1] + rx_height_m,
                found.surfaces.hstd_m,
                found.surfaces.hsrd_m,
                BETA0_EARTH_RADIUS_KM,
                frequency_mhz * 1e-3,
                found.zones.sea_share,
                POLARISATION_CODE[polarisation],
                P1812,
            )
        )
        return found._replace(diffraction=found.diffraction._replace(beta0=beta0))

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
        """As PathLossModel.losses."""
        from reach.propagation.p1812._p1812_kernel import p1812_paths

        inputs = prepare(
            batch, self.limits, tx_height_m=tx_height_m, rx_height_m=rx_height_m, frequency_mhz=frequency_mhz
        )
        sigma_db, entry_db = self._spread(inputs, batch.clutter_m[batch.start[1:] - 1])
        loss_db = np.empty(len(inputs))
        free_space_db = np.empty(len(inputs))
        over_paths(
            p1812_paths,
            inputs,
            inputs.start,
            inputs.distance_m,
            inputs.ground_m,
            inputs.clutter_m,
            inputs.zone,
            inputs.mid_latitude_deg,
            inputs.tx_height_m,
            inputs.rx_height_m,
            inputs.frequency_mhz,
            POLARISATION_CODE[polarisation],
            sigma_db,
            entry_db,
            path_settings(self.settings),
            loss_db,
            free_space_db,
            threads=self.threads,
        )
        return PathLosses(loss_db, free_space_db, short_path_warnings(inputs, self.name))

    def _spread(self, inputs: PathInputs, receiver_clutter_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """(paths,) spread over places with building entry, and median entry loss, dB.

        Source : P.1812-7, 4.7 to 4.9.
        """
        s = self.settings
        paths = len(inputs)
        if s.location_percent == 50.0 or s.location_sigma_db is not None:
            sigma_db = np.full(paths, s.location_sigma_db or 0.0)
        else:
            sigma_db = location_sigma_db(
                frequency_mhz=inputs.frequency_mhz,
                cell_m=s.location_square_m,
                antenna_height_m=inputs.rx_height_m,
                clutter_height_m=receiver_clutter_m,
            )
        if s.entry is None and s.building is None:
            return sigma_db, np.zeros(paths)
        median_db, entry_sigma_db = np.empty(paths), np.empty(paths)
        for frequency in np.unique(inputs.frequency_mhz):
            entry = s.entry
            if entry is None and s.building is not None:
                entry = building_entry(s.building, frequency_mhz=float(frequency))
            assert entry is not None
            here = inputs.frequency_mhz == frequency
            median_db[here], entry_sigma_db[here] = entry.median_db, entry.sigma_db
        return np.hypot(sigma_db, entry_sigma_db), median_db

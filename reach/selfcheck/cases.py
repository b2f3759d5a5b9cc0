"""The standards' cases as records: one path, one model with its settings, the loss it should give.

Sources, terms and what was changed: `cases/README.md` beside this file.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from reach.propagation.diffraction_models import DeltaBullingtonModel
from reach.propagation.itm.model import ItmModel
from reach.propagation.itm.settings import Climate, Ground, LeftOut, Percentages, VariabilityMode
from reach.propagation.models import PathLossModel
from reach.propagation.p1812.model import P1812Model, P1812Settings
from reach.propagation.smooth_earth import BETA_IS_ONE, exact_constants
from reach.stations import Polarisation
from reach.terrain.profile import Profile

CASES = Path(__file__).parent / "cases"
Row = dict[str, str]


@dataclass(frozen=True)
class Case:
    """One case. expected_db : basic transmission loss, or with `excess` what it adds to free space.

    printed_db : the rounded figure of the source's print, and half a unit of its last digit; None without.
    """

    name: str
    model: PathLossModel
    profile: Profile
    tx_height_m: float
    rx_height_m: float
    frequency_mhz: float
    polarisation: Polarisation
    expected_db: float
    excess: bool = False
    printed_db: tuple[float, float] | None = None

    def found_db(self) -> float:
        """The same figure as this package computes it."""
        loss = self.model.loss(
            self.profile,
            tx_height_m=self.tx_height_m,
            rx_height_m=self.rx_height_m,
            frequency_mhz=self.frequency_mhz,
            polarisation=self.polarisation,
        )
        return float(loss.loss_db - loss.free_space_db if self.excess else loss.loss_db)


def rows(folder: str) -> list[Row]:
    """The rows of `cases/<folder>/cases.csv`."""
    with (CASES / folder / "cases.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@lru_cache(maxsize=16)
def profile_columns(folder: str, name: str) -> NDArray[np.float64]:
    """The columns of a profile file of P.1812 or P.526."""
    columns: NDArray[np.float64] = np.loadtxt(CASES / folder / "profiles" / name, delimiter=",", skiprows=1).T
    return columns


@lru_cache(maxsize=1)
def itm_profiles() -> dict[str, Profile]:
    """ITM's profiles by case."""
    profiles = {}
    for line in (CASES / "itm" / "profiles.csv").read_text(encoding="utf-8").split():
        name, intervals, spacing_m, *ground_m = line.split(",")
        if len(ground_m) != int(intervals) + 1:
            raise ValueError(f"cases/itm/profiles.csv: {name} has {len(ground_m)} elevations")
        profiles[name] = Profile.of(np.arange(len(ground_m)) * float(spacing_m), [float(z) for z in ground_m])
    return profiles


def p1812_model(row: Row) -> P1812Model:
    """P.1812 with a case's settings."""
    return P1812Model(
        P1812Settings(
            time_percent=float(row["p_pct"]),
            location_percent=float(row["pL_pct"]),
            location_sigma_db=float(row["sigmaL_db"]),
            lapse_rate_n_per_km=float(row["DN"]),
            sea_level_refractivity_n=float(row["N0"]),
            tx_coast_km=float(row["dct_km"]),
            rx_coast_km=float(row["dcr_km"]),
        )
    )


def p1812_profile(row: Row) -> Profile:
    """The profile of a case of P.1812, with land cover and zones."""
    d_km, ground_m, clutter_m, zone = profile_columns("p1812", row["profile"])
    return Profile.of(
        d_km * 1e3, ground_m, clutter_m=clutter_m, zone=zone, mid_latitude_deg=float(row["phi_deg"])
    )


def p526_model(row: Row) -> DeltaBullingtonModel:
    """Delta-Bullington with the constants the examples follow."""
    return DeltaBullingtonModel(
        effective_earth_radius_km=float(row["ae_km"]), constants=exact_constants(0.3, BETA_IS_ONE)
    )


def p526_profile(row: Row) -> Profile:
    """The profile of a case of P.526, bare ground."""
    d_km, ground_m = profile_columns("p526", row["profile"])
    return Profile.of(d_km * 1e3, ground_m)


def itm_model(row: Row) -> ItmModel:
    """ITM with a case's settings."""
    if row["variability"] == "TLS":
        percentages = Percentages(*(float(row[k]) for k in ("time_pct", "location_pct", "situation_pct")))
    else:
        percentages = Percentages.of_confidence(
            confidence_pct=float(row["confidence_pct"]), reliability_pct=float(row["reliability_pct"])
        )
    mdvar = int(row["mdvar"])
    return ItmModel(
        climate=Climate(int(row["climate"])),
        surface_refractivity_n_units=float(row["n0_n_units"]),
        ground=Ground(float(row["epsilon_r"]), float(row["sigma_s_per_m"])),
        mode=VariabilityMode(mdvar % 10),
        left_out=LeftOut(mdvar - mdvar % 10),
        percentages=percentages,
    )


def p1812_cases() -> Iterator[Case]:
    """Study Group 3's examples of Rec. ITU-R P.1812."""
    for row in rows("p1812"):
        yield Case(
            name=row["case_id"],
            model=p1812_model(row),
            profile=p1812_profile(row),
            tx_height_m=float(row["htg_m"]),
            rx_height_m=float(row["hrg_m"]),
            frequency_mhz=float(row["f_ghz"]) * 1e3,
            polarisation=Polarisation.HORIZONTAL if row["pol"] == "H" else Polarisation.VERTICAL,
            expected_db=float(row["Lb_stated_db"]),
        )


def p526_cases() -> Iterator[Case]:
    """Study Group 3's examples of delta-Bullington (Rec. ITU-R P.526): what it adds to free space."""
    for row in rows("p526"):
        yield Case(
            name=row["case_id"],
            model=p526_model(row),
            profile=p526_profile(row),
            tx_height_m=float(row["htg_m"]),
            rx_height_m=float(row["hrg_m"]),
            frequency_mhz=float(row["f_ghz"]) * 1e3,
            polarisation=Polarisation.VERTICAL,  # plays no part: beta is 1
            expected_db=float(row["Ld_db"]),
            excess=True,
        )


def itm_cases() -> Iterator[Case]:
    """NTIA's cases of ITM."""
    for row in rows("itm"):
        printed = row["published_loss_db"]
        half_a_digit = 0.5 * 10.0 ** -len(printed.partition(".")[2])
        yield Case(
            name=row["case_id"],
            model=itm_model(row),
            profile=itm_profiles()[row["case_id"]],
            tx_height_m=float(row["tx_height_m"]),
            rx_height_m=float(row["rx_height_m"]),
            frequency_mhz=float(row["frequency_mhz"]),
            polarisation=Polarisation.VERTICAL if row["polarization"] == "1" else Polarisation.HORIZONTAL,
            expected_db=float(row["loss_db"]),
            printed_db=(float(printed), half_a_digit) if printed else None,
        )

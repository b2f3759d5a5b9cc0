"""Every branch of P.1812 walked, and each walk held against the plain writing of the Recommendation.

The published examples leave many branches alone (high latitudes, coasts, all sea, very long and very short
paths, three points); here random paths of every kind go on until each branch was taken often.
"""

from __future__ import annotations

import runpy
from collections import Counter
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from reach.propagation.p1812.model import P1812Model, P1812Settings
from reach.stations import Polarisation
from reach.terrain.profile import ZONE_COASTAL, ZONE_INLAND, ZONE_SEA, Profile

plain_parts = runpy.run_path(str(Path(__file__).with_name("plain_p1812.py")))["p1812_parts"]

PATHS = 1500
TAKEN_AT_LEAST = 15
TOLERANCE_DB = 1e-6  # measured 7e-7 dB over 90 000 such paths, on losses up to 2000 dB
BRANCHES = (
    "LoS", "trans-horizon", "above 70 degrees", "mu1 of 1", "mu2 of 1", "alpha at -3.4", "rough, mu3",
    "dI of 40 km", "transmitter's coast", "receiver's coast", "transmitter shielded", "receiver shielded",
    "all sea", "some sea", "receiver at sea", "p below beta0", "p above beta0, below 50", "f from 0.5 GHz",
    "ducting, (61)", "troposcatter within 3 dB", "Lb0p, (69)", "terrain above the line, (90)",
    "smooth Earth counts, (39)",
)  # fmt: skip


def ground(rng: np.random.Generator, points: int) -> np.ndarray:
    kind = rng.integers(6)
    if kind == 0:
        return np.full(points, rng.choice([0.0, -400.0, 2500.0]))
    if kind == 1:
        return np.round(rng.uniform(0.0, 30.0, points))
    if kind == 2:  # one hill in a plain
        at, wide = rng.uniform(0.1, 0.9), rng.uniform(0.02, 0.2)
        return rng.uniform(20.0, 900.0) * np.exp(-(((np.linspace(0, 1, points) - at) / wide) ** 2))
    if kind == 3:
        return np.linspace(0.0, rng.uniform(-300.0, 2000.0), points)
    walk = np.cumsum(rng.normal(0.0, rng.choice([5.0, 80.0, 600.0]) / np.sqrt(points), points))
    return np.asarray(walk - walk.min())


def zones(rng: np.random.Generator, points: int) -> np.ndarray:
    kind = rng.integers(6)
    if kind == 0:
        return np.full(points, ZONE_SEA)
    zone = np.full(points, ZONE_INLAND)
    if kind == 1:
        return rng.choice([ZONE_SEA, ZONE_COASTAL, ZONE_INLAND], points)
    if kind in (2, 3):  # a sea between coasts, or up to either end
        a, b = sorted(rng.integers(0, points + 1, 2)) if kind == 2 else (points // 12, points)
        zone[max(a - points // 10, 0) : b + points // 10] = ZONE_COASTAL
        zone[a:b] = ZONE_SEA
        return zone if rng.random() < 0.5 else zone[::-1].copy()
    return zone


def one_path(rng: np.random.Generator) -> tuple[Profile, P1812Settings, dict[str, Any]]:
    points = int(rng.choice([3, 4, 5, 10, 50, 300]))
    length_m = 1e3 * 10.0 ** rng.uniform(np.log10(0.26), np.log10(2900.0))
    steps = rng.uniform(0.01, 1.0, points - 1) if rng.random() < 0.5 else np.ones(points - 1)
    distance_m = np.concatenate(([0.0], np.cumsum(steps)))
    covered = rng.random() < 0.5
    profile = Profile.of(
        distance_m * length_m / distance_m[-1],
        ground(rng, points),
        clutter_m=rng.choice([0.0, 0.0, 10.0, 20.0, 45.0], points) if covered else np.zeros(points),
        zone=zones(rng, points),
        mid_latitude_deg=float(rng.choice([rng.uniform(-90.0, 90.0), 0.0, 70.0, -70.0, 70.001, 89.0])),
    )
    settings = P1812Settings(
        time_percent=float(rng.choice([1.0, 2.0, 10.0, 30.0, 49.9, 50.0])),
        location_percent=float(rng.choice([1.0, 50.0, 99.0])),
        location_sigma_db=5.5,
        lapse_rate_n_per_km=float(rng.choice([-100.0, 0.0, 45.0, 100.0, 150.0])),
        sea_level_refractivity_n=float(rng.uniform(250.0, 400.0)),
    )
    heights_m = 10.0 ** rng.uniform(0.0, np.log10(3000.0), 2)
    link = {
        "tx_height_m": float(heights_m[0]),
        "rx_height_m": float(heights_m[1]) + 1e-3,  # equal heights over even ground tie: see below
        "frequency_mhz": float(rng.choice([30.0, 6000.0, 10.0 ** rng.uniform(1.48, 3.77)])),
        "polarisation": list(Polarisation)[int(rng.integers(2))],
    }
    return profile, settings, link


def in_plain_words(profile: Profile, settings: P1812Settings, link: dict[str, Any]) -> dict[str, Any]:
    parts: dict[str, Any] = plain_parts(
        d=profile.distance_m / 1e3, h=profile.ground_m, clutter=profile.clutter_m, zone=profile.zone,
        phi=profile.mid_latitude_deg, htg=link["tx_height_m"], hrg=link["rx_height_m"],
        f=link["frequency_mhz"] / 1e3, vertical=link["polarisation"] is Polarisation.VERTICAL,
        p=settings.time_percent, pl=settings.location_percent, sigma=settings.location_sigma_db,
        dn=settings.lapse_rate_n_per_km, n0=settings.sea_level_refractivity_n,
    )  # fmt: skip
    return parts


def test_every_branch_agrees_with_the_plain_writing() -> None:
    rng = np.random.default_rng(1812)
    taken: Counter[str] = Counter()
    for path in range(PATHS):
        profile, settings, link = one_path(rng)
        with np.errstate(divide="ignore", over="ignore"):
            plain = in_plain_words(profile, settings, link)
        taken.update(plain["branches"])
        found = P1812Model(settings).loss(profile, **link).loss_db
        assert found == pytest.approx(plain["Lb"], abs=TOLERANCE_DB), f"path {path}: {plain['branches']}"
    rare = {name: taken[name] for name in BRANCHES if taken[name] < TAKEN_AT_LEAST}
    assert not rare
    assert set(taken) == set(BRANCHES)


@pytest.mark.parametrize("slope_m", [0.0, 300.0])
@pytest.mark.parametrize("points", [4, 5, 10, 51, 300])
def test_equal_heights_over_even_ground_take_the_last_of_the_tied_points(slope_m: float, points: int) -> None:
    """The two nearest-to-middle or end points tie exactly; rounding must not choose between them.

    The Recommendation takes the last point with the largest nu, eq. (83a). Tied points lie alike from either
    end, so the distances may be told from one another without working out nu.
    """
    d = np.linspace(0.0, 9e3, points)
    profile = Profile.of(d, np.linspace(0.0, slope_m, points))
    found = P1812Model().details(profile, tx_height_m=60.0, rx_height_m=60.0, frequency_mhz=446.0)
    away_m = np.abs(d[1:-1] - 4.5e3)
    obstruction = (9e3**2 / 4.0 - away_m**2) / (2.0 * found_radius_m()) - 60.0
    nu = obstruction / np.sqrt(9e3**2 / 4.0 - away_m**2)
    last = 1 + int(np.flatnonzero(nu >= nu.max() - 1e-9 * abs(nu.max()))[-1])
    assert not found.horizons.transhorizon
    assert found.horizons.tx_horizon_km == pytest.approx(d[last] / 1e3, abs=1e-9)
    assert found.horizons.rx_horizon_km == pytest.approx(9.0 - d[last] / 1e3, abs=1e-9)


def found_radius_m() -> float:
    """Effective Earth radius at the default lapse rate, P.1812-7, eqs (6), (7a)."""
    return 6371e3 * 157.0 / (157.0 - 45.0)

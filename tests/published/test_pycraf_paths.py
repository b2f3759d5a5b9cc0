"""Real terrain against pycraf's P.452 (PyPI): the elevation sample that ships inside matplotlib.

P.452 and P.1812 share the delta-Bullington method. pycraf's diffraction carries P.1812's rounded constants,
so the two differ by its wavelength constant alone; the complete losses differ by what P.452 counts and P.1812
does not.
"""

from __future__ import annotations

import warnings
from functools import cache
from typing import Any

import numpy as np
import pytest

from reach.propagation.diffraction_models import DeltaBullingtonModel
from reach.propagation.p1812.model import P1812Model, P1812Settings
from reach.propagation.smooth_earth import P1812
from reach.stations import Polarisation
from reach.terrain.profile import Profile

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    pathprof = pytest.importorskip("pycraf.pathprof", reason="pycraf is not installed")
    from astropy import units as u

CELL_M = 90.0  # the sample's 3 arc-seconds, taken as square: only the heights matter here
PATHS = 25
LAPSE_N_PER_KM, SEA_LEVEL_N = 45.0, 325.0
LINKS = [(0.146, Polarisation.VERTICAL), (0.146, Polarisation.HORIZONTAL), (0.446, Polarisation.VERTICAL)]


@cache
def elevation_m() -> np.ndarray:
    from matplotlib import cbook

    with cbook.get_sample_data("jacksboro_fault_dem.npz") as sample:
        return np.asarray(sample["elevation"], dtype=np.float64)


def cut(seed: int, points: int = 200) -> Profile:
    """A straight cut of at least 4 km through the sample, bilinear."""
    ground = elevation_m()
    rows, columns = ground.shape
    rng = np.random.default_rng(seed)
    length_m = 0.0
    while length_m < 4000.0:
        a, b = rng.uniform((0, 0), (rows - 1, columns - 1), (2, 2))
        length_m = float(np.hypot(*(a - b)) * CELL_M)
    y, x = (np.linspace(a[k], b[k], points) for k in (0, 1))
    row, column = np.minimum(y.astype(int), rows - 2), np.minimum(x.astype(int), columns - 2)
    fy, fx = y - row, x - column
    height = (
        ground[row, column] * (1 - fy) * (1 - fx)
        + ground[row, column + 1] * (1 - fy) * fx
        + ground[row + 1, column] * fy * (1 - fx)
        + ground[row + 1, column + 1] * fy * fx
    )
    return Profile.of(np.linspace(0.0, length_m, points), height, mid_latitude_deg=36.0)


def peer(profile: Profile, *, frequency_ghz: float, polarisation: Polarisation, time_percent: float) -> Any:
    """pycraf's description of the path, antennas 15 m and 3 m, no clutter, same refractivity."""
    half_deg = profile.length_m / 1e3 / 111.19 / 2.0
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pathprof.PathProp(
            frequency_ghz * u.GHz,
            290.0 * u.K,
            1013.0 * u.hPa,
            -84.0 * u.deg,
            (36.0 - half_deg) * u.deg,
            -84.0 * u.deg,
            (36.0 + half_deg) * u.deg,
            15.0 * u.m,
            3.0 * u.m,
            float(np.diff(profile.distance_m)[0]) * u.m,
            time_percent * u.percent,
            polarization=0 if polarisation is Polarisation.HORIZONTAL else 1,
            version=16,
            delta_N=LAPSE_N_PER_KM * u.Unit("1/km"),
            N0=SEA_LEVEL_N * u.dimensionless_unscaled,
            hprof_dists=profile.distance_m / 1e3 * u.km,
            hprof_heights=profile.ground_m * u.m,
            hprof_bearing=0.0 * u.deg,
            hprof_backbearing=0.0 * u.deg,
        )


@pytest.mark.parametrize(("frequency_ghz", "polarisation"), LINKS)
def test_diffraction_is_that_of_p452(frequency_ghz: float, polarisation: Polarisation) -> None:
    """Tolerance 0.001 dB: wavelength 0.3/f there, 0.2998/f here. Measured 1.3e-4 dB."""
    model = DeltaBullingtonModel(
        effective_earth_radius_km=P1812Settings(lapse_rate_n_per_km=LAPSE_N_PER_KM).radius_km, constants=P1812
    )
    for seed in range(PATHS):
        profile = cut(seed)
        theirs = peer(profile, frequency_ghz=frequency_ghz, polarisation=polarisation, time_percent=50.0)
        ours = model.parts(
            profile,
            tx_height_m=15.0,
            rx_height_m=3.0,
            frequency_mhz=frequency_ghz * 1e3,
            polarisation=polarisation,
        )
        assert ours.loss_db == pytest.approx(pathprof.loss_diffraction(theirs)[0].value, abs=0.001), (
            f"cut {seed}"
        )


@pytest.mark.parametrize("time_percent", [2.0, 20.0])
def test_diffraction_at_other_times(time_percent: float) -> None:
    """Eqs (40), (41) with beta0 from the same latitude; 0.02 dB, as beta0 is worked from a slightly other
    middle."""
    model = P1812Model(P1812Settings(time_percent=time_percent))
    for seed in range(PATHS):
        profile = cut(seed)
        theirs = peer(
            profile, frequency_ghz=0.146, polarisation=Polarisation.VERTICAL, time_percent=time_percent
        )
        ours = model.details(profile, tx_height_m=15.0, rx_height_m=3.0, frequency_mhz=146.0)
        found = pathprof.loss_diffraction(theirs)[1].value
        assert ours.diffraction.time_db == pytest.approx(found, abs=0.02), f"cut {seed}"


@pytest.mark.parametrize("length_km", [8.0, 60.0, 250.0])
@pytest.mark.parametrize("time_percent", [2.0, 10.0, 50.0])
def test_ducting_and_troposcatter_are_those_of_p452_less_its_gases(
    length_km: float, time_percent: float
) -> None:
    """Cuts stretched to a length. P.452 adds the attenuation Ag of gases, which its free-space loss shows.

    Its troposcatter has 190 for 190.1, 0.051 dB of antenna coupling at 0 dBi and 10.1 for 10.125 (P.452-16,
    eq. (45)), and drier air behind its gases: 0.003 dB, measured 0.002. Ducting: 0.001 dB.
    """
    model = P1812Model(P1812Settings(time_percent=time_percent))
    for seed in range(8):
        short = cut(seed)
        profile = Profile.of(
            short.distance_m * (length_km * 1e3 / short.length_m), short.ground_m, mid_latitude_deg=36.0
        )
        theirs = peer(
            profile, frequency_ghz=0.446, polarisation=Polarisation.VERTICAL, time_percent=time_percent
        )
        ours = model.details(profile, tx_height_m=15.0, rx_height_m=3.0, frequency_mhz=446.0)
        # P.452-16, eq. (8): 92.5 + 20 log f + 20 log d + Ag, over the ground distance
        free_db = 92.5 + 20.0 * np.log10(0.446) + 20.0 * np.log10(length_km)
        gases_db = pathprof.loss_freespace(theirs)[0].value - free_db
        assert 0.0 < gases_db < 1.0
        assert ours.ducting_db == pytest.approx(pathprof.loss_ducting(theirs).value - gases_db, abs=0.001), (
            f"cut {seed}"
        )
        other_constants_db = 0.1 - 0.051 - 0.025 * np.log10(50.0 / time_percent) ** 0.7
        assert ours.troposcatter_db == pytest.approx(
            pathprof.loss_troposcatter(theirs).value + other_constants_db - gases_db, abs=0.003
        ), f"cut {seed}"


def test_complete_loss_is_near_that_of_p452() -> None:
    """A 'should be about' check, 0.3 dB: P.452 has 92.5 for 92.4 in free space, gases, its own
    troposcatter."""
    for seed in range(PATHS):
        profile = cut(seed)
        theirs = peer(profile, frequency_ghz=0.446, polarisation=Polarisation.VERTICAL, time_percent=50.0)
        ours = P1812Model().loss(profile, tx_height_m=15.0, rx_height_m=3.0, frequency_mhz=446.0)
        found = pathprof.loss_complete(theirs)[4].value
        assert ours.loss_db == pytest.approx(found, abs=0.3), f"cut {seed}"

"""Every single-precision formula of the sweep against its double-precision body, tolerance in decibels."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from numba import njit
from numpy.typing import NDArray

from reach.coverage.sweep import _formulas_kernel as single
from reach.coverage.sweep._formulas_kernel import DB
from reach.coverage.sweep._log_kernel import log2_f32
from reach.coverage.sweep._mechanisms_kernel import least_ducting_db
from reach.propagation.bullington import smooth_bullington_loss_db
from reach.propagation.knife_edge import knife_edge_loss_db
from reach.propagation.p1812.combine import combination
from reach.propagation.p1812.diffraction import Diffraction, DiffractionRun
from reach.propagation.p1812.ducting import time_loss_db
from reach.propagation.p1812.line_of_sight import LineOfSight
from reach.propagation.p1812.parameters import anomalous_time_percent, inland_share_tau
from reach.propagation.smooth_earth import (
    LAND_CONDUCTIVITY,
    LAND_PERMITTIVITY,
    P526,
    P1812,
    first_term_over_ground_db,
    height_gain_db,
    surface_admittance,
)
from reach.propagation.typical_land.scatter import low_antenna_loss_db

RNG = np.random.default_rng(4)


def compiled(formula: Callable[..., float], *arguments: NDArray[np.float64]) -> NDArray[np.float64]:
    """A formula that is only ever inlined, in float32 over arrays."""

    @njit(error_model="numpy")
    def loop(values, out):  # type: ignore[no-untyped-def]
        for i in range(out.size):
            out[i] = one(values, i)

    count = len(arguments)
    source = (
        f"def one(values, i):\n    return formula({', '.join(f'values[{n}, i]' for n in range(count))})\n"
    )
    scope = {"formula": formula}
    exec(source, scope)
    one = njit(error_model="numpy")(scope["one"])
    out = np.empty(arguments[0].size, np.float32)
    loop(np.stack([np.asarray(a, np.float32) for a in arguments]), out)
    return out.astype(np.float64)


def test_knife_edge() -> None:
    nu = np.concatenate([RNG.uniform(-2.0, 3.0, 4000), 10.0 ** RNG.uniform(0.0, 3.0, 1000)])
    wanted = np.where(nu > -0.78, np.asarray(knife_edge_loss_db(nu)), 0.0)
    assert np.abs(compiled(single.knife_edge_f32, nu) - wanted).max() < 3e-4


def test_bullington_correction() -> None:
    nu, km = RNG.uniform(-1.0, 30.0, 4000), RNG.uniform(0.05, 300.0, 4000)
    edge = np.where(nu > -0.78, np.asarray(knife_edge_loss_db(nu)), 0.0)
    wanted = edge + (1.0 - np.exp(-edge / 6.0)) * (10.0 + 0.02 * km)  # P.526-15, 4.5.1
    assert np.abs(compiled(single.bullington_f32, nu, km) - wanted).max() < 1e-3


def test_height_gain() -> None:
    b = np.concatenate([10.0 ** RNG.uniform(-3.0, 2.0, 4000), [1.999, 2.0, 2.001]])
    wanted = np.array([height_gain_db(v, 1.0, 1e-9) for v in b])
    assert np.abs(compiled(single.height_gain_f32, b) - wanted).max() < 3e-4


@pytest.mark.parametrize(("constants", "by_formula"), [(P526, False), (P1812, True)], ids=["P.526", "P.1812"])
@pytest.mark.parametrize("frequency_mhz", [28.5, 146.0, 1296.0])
@pytest.mark.parametrize("polarisation", [0, 1])
def test_first_term(constants, by_formula: bool, frequency_mhz: float, polarisation: int) -> None:  # type: ignore[no-untyped-def]
    n = 1500
    km, radius_km = RNG.uniform(0.3, 150.0, n), 10.0 ** RNG.uniform(2.0, 5.0, n)
    tx_m, rx_m = 10.0 ** RNG.uniform(-1.0, 3.0, n), 10.0 ** RNG.uniform(-1.0, 2.0, n)
    ghz = frequency_mhz * 1e-3
    ground = (LAND_PERMITTIVITY, LAND_CONDUCTIVITY, polarisation, constants)
    wanted = np.array(
        [first_term_over_ground_db(*v, ghz, *ground, not by_formula) for v in zip(km, tx_m, rx_m, radius_km)]
    )
    full = np.ones(n)
    formula = single.first_term_f32
    x_factor, y_factor = constants.x_factor * ghz ** (1 / 3), constants.y_factor * ghz ** (2 / 3)
    log_k = math.log2(surface_admittance(1.0, ghz, *ground))

    @njit(error_model="numpy")
    def loop(d, a, b, r, out):  # type: ignore[no-untyped-def]
        for i in range(out.size):
            out[i] = formula(
                d[i], a[i], b[i], log2_f32(r[i]), np.float32(x_factor), np.float32(y_factor),
                np.float32(log_k), by_formula,
            )  # fmt: skip

    out = np.empty(n, np.float32)
    loop(*(np.asarray(v, np.float32) for v in (km, tx_m, rx_m, radius_km)), out)
    # losses of tens of thousands of decibels are met on the smallest radii: relative there
    assert (np.abs(out - wanted) / np.maximum(np.abs(wanted), 300.0 * full)).max() * 300.0 < 2e-3


def test_arc_tangent() -> None:
    x = np.concatenate([RNG.uniform(-1.2, 1.2, 4000), RNG.uniform(-200.0, 200.0, 1000), [0.0, 1.0, -1.0]])
    # 573 dB a radian in P.1812-7, eq. (44): half a thousandth of a decibel
    assert 573.0 * np.abs(compiled(single.atan_f32, x) - np.arctan(x)).max() < 1e-3


def test_low_antennas_in_scatter() -> None:
    angle, tx_m, rx_m = (
        10.0 ** RNG.uniform(-2.0, 2.0, 3000),
        RNG.uniform(1.0, 300.0, 3000),
        RNG.uniform(1, 30, 3000),
    )
    wanted = np.array([low_antenna_loss_db(*v, 0.146) for v in zip(angle, tx_m, rx_m)])
    waves = 4.0 * math.pi * angle * 1e-3 * 0.146 / 0.299792458
    assert np.abs(compiled(single.frequency_gain_f32, waves * tx_m, waves * rx_m) - wanted).max() < 2e-4


def test_either_way_is_the_last_step_of_p1812() -> None:
    one, other = RNG.uniform(100.0, 250.0, 3000), RNG.uniform(100.0, 250.0, 3000)
    sight = LineOfSight(0.0, 0.0, 0.0)
    wanted = []
    for scatter, loss in zip(one, other):
        run = DiffractionRun(loss, 0.0, 0.0, 0.0)
        # ducting far above: Lbam is the diffraction loss
        wanted.append(
            combination(50.0, 5.0, 0.0, sight, Diffraction(run, run, 0.0, loss), 1e4, scatter, 50.0, 1.0)
        )
    found = compiled(single.either_way_f32, one, other)
    assert np.abs(found - np.array([w.lbc_db for w in wanted])).max() < 1e-4


def test_zero_profile_in_line_of_sight() -> None:
    """Newton's three steps to the largest nu against the points of a fine profile."""
    n = 400
    hi, lo = RNG.uniform(20.0, 400.0, n), RNG.uniform(1.5, 20.0, n)
    share = RNG.uniform(0.2, 0.95, n)
    radius_km = 8500.0
    km = share * np.sqrt(2.0 * radius_km) * (np.sqrt(1e-3 * hi) + np.sqrt(1e-3 * lo))
    bulge = (km * 1e3) ** 2 / 2.0 / (radius_km * 1e3)
    w = np.ones(n)
    for _ in range(3):
        w = compiled(single.least_clearance_step, w, hi, lo, bulge)
    u = 1.0 / (1.0 + w)
    gap = hi * (1 - u) + lo * u - bulge * u * (1 - u)
    nu = -gap * np.sqrt(2.0 / (2.053 * km * 1e3 * u * (1 - u)))
    found = compiled(single.bullington_f32, nu, km)
    wanted = []
    for d, a, b in zip(km, hi, lo):
        line = np.linspace(0.0, d * 1e3, 4001)
        wanted.append(smooth_bullington_loss_db(line, a, b, radius_km, 2.053))
    # the worst of antennas up to 270 times as high as one another; on invented ground 0.011 dB
    assert np.abs(found - np.array(wanted)).max() < 0.05


def test_lowest_point_of_the_smooth_earth() -> None:
    m, c = RNG.uniform(0.0, 0.999, 3000), RNG.uniform(0.0, 0.999, 3000)
    b = c / (m + 1.0)
    for _ in range(2):
        b = compiled(single.lowest_point_step, b, m, c)
    cosine = np.clip(1.5 * c * np.sqrt(3.0 * m / (m + 1.0) ** 3), -1.0, 1.0)
    # P.1812-7, eq. (24c)
    wanted = 2.0 * np.sqrt((m + 1.0) / (3.0 * m)) * np.cos(math.pi / 3.0 + np.arccos(cosine) / 3.0)
    assert np.percentile(np.abs(b - wanted), 95) < 2e-3


@pytest.mark.parametrize("latitude", [-60.0, -5.0, 0.0, 45.0, 75.0])
def test_no_ducting_is_less_than_its_bound(latitude: float) -> None:
    """Any direction, any part of beta0 that geometry and roughness leave."""
    table = least_ducting_db(400, 250.0, latitude)
    for cells in RNG.uniform(1.0, 400.0, 300):
        d_km = cells * 0.25
        for north in (-1.0, 0.0, 1.0):
            middle = latitude + north * 0.5e3 * d_km * 180.0 / (math.pi * 6.371e6)
            beta0 = anomalous_time_percent(d_km, inland_share_tau(d_km), middle)
            for left in (1.0, 0.3, 1e-4):
                assert time_loss_db(d_km, beta0 * left, 50.0) >= table[int(cells)]
    assert pytest.approx(20.0 * math.log10(2.0)) == DB

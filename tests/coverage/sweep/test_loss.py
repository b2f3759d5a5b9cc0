"""The area sweep: every cell filled, by the physics of single paths, whatever the radius or the cores."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid
from reach.coverage.sweep.loss import Clearance, area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath, area_model
from reach.coverage.sweep.run import SweepGround, SweepResult, SweepSite, radial_layout, sweep_into
from reach.errors import OutOfRange
from reach.propagation.choose import choose_model
from reach.propagation.diffraction_models import DeltaBullingtonModel
from reach.propagation.free_space import free_space_loss_db
from reach.propagation.knife_edge import knife_edge_loss_db
from reach.propagation.p1812.model import P1812Model
from reach.propagation.path_kind import path_kinds
from reach.propagation.typical_land.model import Cover
from reach.stations import Polarisation
from reach.terrain.profile import Profile, ProfileBatch
from tests.coverage.conftest import grid_of, ground_of

HANDHELD = AreaPath(frequency_mhz=146.0, site_height_m=30.0, far_height_m=1.5)


def exact_losses(
    grid: SiteGrid, path: AreaPath, lines: list[tuple[NDArray[np.float64], NDArray[np.float64]]]
) -> NDArray[np.float64]:
    """Loss of single paths by the path model: (distance_m, ground_m) each."""
    batch = ProfileBatch.of([Profile.of(d, h) for d, h in lines])
    return (
        DeltaBullingtonModel(k_factor=path.k_factor)
        .losses(
            batch,
            tx_height_m=path.site_height_m,
            rx_height_m=path.far_height_m,
            frequency_mhz=path.frequency_mhz,
            polarisation=path.polarisation,
        )
        .loss_db
    )


def bilinear(
    ground: NDArray[np.float32], row: NDArray[np.float64], column: NDArray[np.float64]
) -> NDArray[np.float64]:
    r = np.minimum(row.astype(int), ground.shape[0] - 2)
    c = np.minimum(column.astype(int), ground.shape[1] - 2)
    fr, fc = row - r, column - c
    z = ground
    return (z[r, c] * (1 - fr) + z[r + 1, c] * fr) * (1 - fc) + (
        z[r, c + 1] * (1 - fr) + z[r + 1, c + 1] * fr
    ) * fc


def line_to(grid: SiteGrid, row: int, column: int) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Straight line from the site to a cell's centre, a point a column of the longer axis, ground
    bilinear."""
    middle = grid.radius_cells
    down, across = row - middle, column - middle
    share = np.linspace(0.0, 1.0, max(abs(down), abs(across)) + 1)
    ground = bilinear(grid.elevation_m, middle + share * down, middle + share * across)
    return share * math.hypot(down, across) * grid.cell_m, ground


def random_cells(grid: SiteGrid, count: int, *, seed: int, nearest: int = 5) -> list[tuple[int, int]]:
    rng = np.random.default_rng(seed)
    n = grid.radius_cells
    cells: list[tuple[int, int]] = []
    while len(cells) < count:
        row, column = (int(v) for v in rng.integers(0, 2 * n + 1, 2))
        if nearest**2 <= (row - n) ** 2 + (column - n) ** 2 <= n * n:
            cells.append((row, column))
    return cells


@settings(max_examples=30, deadline=None)
@given(radius=st.integers(3, 130))
def test_every_cell_inside_is_filled_and_none_outside(radius: int) -> None:
    grid = grid_of(np.full((2 * radius + 1, 2 * radius + 1), 10.0, np.float32))
    found = area_loss(grid, HANDHELD)
    assert np.array_equal(np.isfinite(found.loss_db), grid.inside())
    assert found.unknown_share == 0.0


@pytest.mark.parametrize("radius", [7, 33, 250, 1667])
def test_a_true_radial_passes_every_cell_within_half_a_cell(radius: int) -> None:
    roots, levels = radial_layout(radius)
    span = math.asinh(1.0)
    x = np.arange(1, radius + 1)
    for level in range(levels + 1):
        radials = roots << level
        # the columns this level serves anywhere in the octant end at the latest where it is the last or
        # splits
        until = radius if level == levels else int(radials / span)
        y_over_x = np.concatenate([np.arange(0, k + 1) / k for k in x[x <= until]])
        column = np.concatenate([np.full(k + 1, k) for k in x[x <= until]])
        inside = column * np.hypot(1.0, y_over_x) <= radius
        stretch = np.hypot(1.0, np.minimum(y_over_x * (1.0 + 2.0 / roots) + 2.0 / roots, 1.0))
        served = inside & ((column <= np.floor(radials / (span * stretch))) | (level == levels))
        place = np.arcsinh(y_over_x) * radials / span
        radial = np.minimum(np.floor(place), radials - 1) + 0.5
        off = np.abs(np.sinh(radial * span / radials) - y_over_x) * column
        assert off[served].max() <= 0.5 + 1e-6


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
@pytest.mark.parametrize(
    "path",
    [
        HANDHELD,
        AreaPath(52.5, 200.0, 1.5),
        AreaPath(446.0, 12.0, 9.0, k_factor=1.0, polarisation=Polarisation.HORIZONTAL),
        AreaPath(28.5, 15.0, 9.0),
    ],
    ids=["2 m handheld", "6 m high site", "70 cm base k 1 H", "10 m base"],
)
def test_single_radials_agree_with_the_path_model_on_the_same_points(kind: str, path: AreaPath) -> None:
    # so small that no radial splits: the columns of a radial are the points of its paths, nothing else
    # differs
    radius = 50
    assert radial_layout(radius)[1] == 0
    roots = radial_layout(radius)[0]
    grid = grid_of(ground_of(kind, radius, seed=4), cell_m=450.0)
    found = area_loss(grid, path)
    lines, cells, beside = [], [], []
    span = math.asinh(1.0)
    z = grid.elevation_m
    for radial in range(roots):
        slope = math.sinh(span * (radial + 0.5) / roots)
        low, high = math.sinh(span * radial / roots), math.sinh(span * (radial + 1) / roots)
        for k in range(2, radius + 1):
            y = math.ceil(k * low)
            if y >= k * high or k * k + y * y > radius * radius:
                continue
            columns = np.arange(k + 1.0)
            lines.append(
                (
                    columns * 450.0 * math.hypot(1.0, slope),
                    bilinear(z, radius - columns * slope, radius + columns),
                )
            )
            rise = lines[-1][1][-1] + path.far_height_m - lines[-1][1][0] - path.site_height_m
            # free space is taken to the cell's centre, the rest where the radial passes it
            to_cell = math.hypot(450.0 * math.hypot(k, y), rise) / math.hypot(lines[-1][0][-1], rise)
            beside.append(20.0 * math.log10(to_cell))
            cells.append((radius - y, radius + k))
    assert len(cells) > 200
    wanted = exact_losses(grid, path, lines) + np.array(beside)
    difference = np.array([found.loss_db[cell] for cell in cells]) - wanted
    # The one thing done otherwise: the zero profile's largest nu is taken anywhere along the path, by the
    # path model at the profile's points only. It can only be larger, so the loss only smaller, and only
    # where columns are few.
    assert difference.max() < 1e-3
    assert np.median(difference) > -0.01
    assert np.percentile(difference, 5) > -0.1
    assert difference.min() > -0.4


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
def test_cells_agree_with_single_paths_to_their_centres(kind: str) -> None:
    grid = grid_of(ground_of(kind, 400, seed=3))
    found = area_loss(grid, HANDHELD)
    cells = random_cells(grid, 1500, seed=1)
    wanted = exact_losses(grid, HANDHELD, [line_to(grid, *cell) for cell in cells])
    difference = np.array([found.loss_db[cell] for cell in cells]) - wanted
    assert np.median(np.abs(difference)) <= 0.2
    assert np.percentile(np.abs(difference), 99) <= 1.5
    bearings = grid.bearing_deg()
    bearing = np.array([bearings[cell] for cell in cells])
    for sector in range(8):  # an octant of its own each
        own = difference[(bearing >= sector * 45.0) & (bearing < (sector + 1) * 45.0)]
        assert abs(own.mean()) < 0.1


def test_result_does_not_depend_on_the_number_of_cores(rough_grid: SiteGrid) -> None:
    results = [area_loss(rough_grid, HANDHELD, Clearance.COMPUTE, threads=threads) for threads in (1, 3)]
    assert np.array_equal(results[0].loss_db, results[1].loss_db, equal_nan=True)
    assert results[0].clearance is not None and results[1].clearance is not None
    assert np.array_equal(results[0].clearance, results[1].clearance, equal_nan=True)


def test_asking_for_clearance_changes_no_loss(rough_grid: SiteGrid) -> None:
    plain = area_loss(rough_grid, HANDHELD).loss_db
    with_clearance = area_loss(rough_grid, HANDHELD, Clearance.COMPUTE).loss_db
    assert (
        np.nanmax(np.abs(plain - with_clearance)) < 0.02
    )  # the zero-loss bound at nu = -0.78 skips 0.004 dB


def test_line_of_sight_and_clearance_of_single_cells(rough_grid: SiteGrid) -> None:
    found = area_loss(rough_grid, HANDHELD, Clearance.COMPUTE)
    assert found.clearance is not None
    wavelength, radius_m = 299.792458 / 146.0, 6371e3 * 4.0 / 3.0
    agree, off = 0, []
    cells = random_cells(rough_grid, 600, seed=2)
    for cell in cells:
        d, h = line_to(rough_grid, *cell)
        inner, total = d[1:-1], d[-1]
        line = (h[0] + 30.0) * (1.0 - inner / total) + (h[-1] + 1.5) * inner / total
        gap = line - h[1:-1] - inner * (total - inner) / (2.0 * radius_m)
        share = (gap / np.sqrt(wavelength * inner * (total - inner) / total)).min()
        agree += bool(found.line_of_sight[cell]) == (share > 0.0)
        if share > 0.05 and found.clearance[cell] > 0.05:
            off.append(float(found.clearance[cell]) - share)
    assert agree / len(cells) > 0.97  # the rest graze: half a cell aside they turn
    assert np.median(np.abs(off)) < 0.02


def test_flat_ground_is_the_same_in_every_direction() -> None:
    grid = grid_of(np.full((401, 401), 50.0, np.float32), cell_m=100.0)
    found = area_loss(grid, HANDHELD)
    distance = grid.distance_m()
    ring = grid.inside() & (np.abs(distance - 15_000.0) < 30.0)
    # beyond free space the loss is taken up to half a cell aside: a few hundredths of a decibel
    values = found.loss_db[ring] - 40.0 * np.log10(distance[ring] / 15_000.0)
    assert ring.sum() > 50
    assert np.ptp(values) < 0.15


def test_one_ridge_across_is_a_knife_edge_within_the_rest_of_bullington() -> None:
    ground = np.zeros((401, 401), np.float32)
    ground[:, 260] = 150.0  # a wall 60 cells east
    grid = grid_of(ground, cell_m=50.0)
    path = AreaPath(146.0, 20.0, 20.0, k_factor=10.0)
    found = area_loss(grid, path).loss_db[200, 320]
    d1, d2 = 60 * 50.0, 60 * 50.0
    height = 150.0 - 20.0 + d1 * d2 / (2.0 * 63710e3)
    nu = height * math.sqrt(2.0 / (299.792458 / 146.0) * (1.0 / d1 + 1.0 / d2))
    edge = float(knife_edge_loss_db(nu))
    wanted = (
        float(free_space_loss_db(6.0, 146.0)) + edge + (1.0 - math.exp(-edge / 6.0)) * (10.0 + 0.02 * 6.0)
    )
    assert found == pytest.approx(wanted, abs=0.1)


def test_voids_are_unknown_and_so_is_what_lies_behind_them() -> None:
    ground = ground_of("rough", 120)
    whole = area_loss(grid_of(ground), HANDHELD).loss_db
    holed = ground.copy()
    holed[100:110, 170:180] = np.nan
    found = area_loss(grid_of(holed), HANDHELD)
    lost = np.isnan(found.loss_db) & ~np.isnan(whole)
    assert np.isnan(found.loss_db[104, 175])
    assert lost[95, 230] and not lost[104, 168] and not lost[120, 20]
    kept = ~np.isnan(found.loss_db)
    assert np.array_equal(found.loss_db[kept], whole[kept])
    assert 0.0 < found.unknown_share < 0.05


@pytest.mark.parametrize(
    ("path", "words"),
    [
        (AreaPath(5.0, 30.0, 1.5), "frequency 5 MHz"),
        (AreaPath(146.0, 0.0, 1.5), "antenna height at the site 0 m"),
        (AreaPath(146.0, -3.0, 1.5), "antenna height at the site -3 m"),
        (AreaPath(146.0, 30.0, float("nan")), "antenna height in the cells nan"),
        (AreaPath(146.0, 30.0, 1.5, k_factor=0.0), "k-factor 0"),
    ],
)
def test_values_out_of_range_are_refused_with_their_limits(path: AreaPath, words: str) -> None:
    with pytest.raises(OutOfRange, match=words):
        area_loss(grid_of(np.zeros((21, 21), np.float32)), path)


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
@pytest.mark.parametrize("far_m", [1.5, 9.0])
def test_p1812_areas_agree_with_p1812_paths_to_the_cells(kind: str, far_m: float) -> None:
    grid = grid_of(ground_of(kind, 300, seed=3), cell_m=100.0)
    path = AreaPath(146.0, 30.0, far_m, model=AreaModel.P1812)
    found = area_loss(grid, path)
    cells = random_cells(grid, 800, seed=1)
    lines = [line_to(grid, *cell) for cell in cells]
    latitude = grid.position.latitude_deg
    batch = ProfileBatch.of([Profile.of(d, h, mid_latitude_deg=latitude) for d, h in lines])
    wanted = P1812Model().losses(batch, tx_height_m=30.0, rx_height_m=far_m, frequency_mhz=146.0).loss_db
    difference = np.array([found.loss_db[cell] for cell in cells]) - wanted
    assert np.median(np.abs(difference)) <= 0.2
    assert np.percentile(np.abs(difference), 99) <= 1.5
    assert abs(difference.mean()) < 0.05


def test_p1812_is_more_than_diffraction_far_out() -> None:
    grid = grid_of(ground_of("rough", 300, seed=3), cell_m=400.0)
    both = [
        area_loss(grid, AreaPath(446.0, 15.0, 1.5, model=model, k_factor=1.4)).loss_db
        for model in (AreaModel.DELTA_BULLINGTON, AreaModel.P1812)
    ]
    far = grid.inside() & (both[0] > 190.0)
    assert far.sum() > 1000
    # scatter carries on where diffraction has died away
    assert np.median((both[0] - both[1])[far]) > 5.0
    assert np.nanmax(both[1] - both[0]) < 0.2


def test_more_places_cost_more_in_p1812_only() -> None:
    grid = grid_of(ground_of("rough", 60))
    median = area_loss(grid, AreaPath(146.0, 30.0, 1.5, model=AreaModel.P1812)).loss_db
    most = area_loss(grid, AreaPath(146.0, 30.0, 1.5, model=AreaModel.P1812, location_percent=95.0)).loss_db
    # sigma_L = 0.52 + 0.024 f[GHz] times w_a^0.28, w_a = 50 m at least; 1.6449 is the 95 % quantile
    wanted = 1.6449 * (0.52 + 0.024 * 0.146) * 50.0**0.28
    middle = grid.inside() & (grid.distance_m() > 300.0)
    assert np.median((most - median)[middle]) == pytest.approx(wanted, abs=0.01)
    with pytest.raises(OutOfRange, match="location percentage 95 %; valid: 50 to 50 %"):
        area_loss(grid, AreaPath(146.0, 30.0, 1.5, location_percent=95.0))


@pytest.mark.parametrize(
    ("name", "model"),
    [
        ("auto", AreaModel.TYPICAL_LAND),
        ("typical_land", AreaModel.TYPICAL_LAND),
        ("p1812", AreaModel.P1812),
        ("delta_bullington", AreaModel.DELTA_BULLINGTON),
    ],
)
def test_a_net_gets_the_sweep_of_its_own_model(name: str, model: AreaModel) -> None:
    assert area_model(name) is model
    assert model is AreaModel(choose_model(name, 146.0).name)


@pytest.mark.parametrize("name", ["itm", "free_space", "bullington"])
def test_a_model_without_a_sweep_is_refused_rather_than_replaced(name: str) -> None:
    with pytest.raises(OutOfRange, match=f"areas cannot be computed by {name}.*typical_land"):
        area_model(name)


def test_a_rectangle_round_a_site_is_swept_as_its_square(rough_grid: SiteGrid) -> None:
    """The same cells, whatever else the raster holds; the margin beyond them is left as it was."""
    whole = area_loss(rough_grid, HANDHELD).loss_db
    middle = rough_grid.radius_cells
    part = np.s_[middle - 60 : middle + 150, middle - 20 : middle + 190]
    found = np.full((210, 210), -1.0, np.float32)
    sweep_into(
        SweepResult(found),
        SweepGround(np.ascontiguousarray(rough_grid.elevation_m[part])),
        SweepSite(60, 20, rough_grid.cell_m, rough_grid.position.latitude_deg),
        HANDHELD,
        radius_cells=middle,
    )
    inner = np.s_[3:-3, 3:-3]
    inside = rough_grid.inside()[part][inner]
    assert np.array_equal(found[inner][inside], whole[part][inner][inside])
    assert (found[inner][~inside] == -1.0).all()


@pytest.mark.parametrize("garbage", [np.inf, -np.inf, 3e38, -32768.0 * 1e3])
def test_garbage_in_the_elevation_ends_the_sweep_like_a_void(garbage: float) -> None:
    rng = np.random.default_rng(7)
    ground = ground_of("rough", 100)
    spots = rng.integers(0, 201, (40, 2))
    holed, spoilt = ground.copy(), ground.copy()
    for row, column in spots:
        if (row, column) != (100, 100):
            holed[row, column], spoilt[row, column] = np.nan, garbage
    wanted = area_loss(grid_of(holed), replace(HANDHELD, model=AreaModel.TYPICAL_LAND)).loss_db
    found = area_loss(grid_of(spoilt), replace(HANDHELD, model=AreaModel.TYPICAL_LAND)).loss_db
    assert np.array_equal(found, wanted, equal_nan=True)


def test_the_kind_of_path_is_that_of_single_paths(rough_grid: SiteGrid) -> None:
    path = AreaPath(146.0, 30.0, 12.0, model=AreaModel.TYPICAL_LAND, cover=Cover.BARE)
    found = area_loss(rough_grid, path, Clearance.COMPUTE)
    assert found.kind is not None
    cells = random_cells(rough_grid, 400, seed=4)
    batch = ProfileBatch.of([Profile.of(*line_to(rough_grid, *cell)) for cell in cells])
    wanted = path_kinds(batch, tx_height_m=30.0, rx_height_m=12.0, frequency_mhz=146.0)
    same = np.array([found.kind[cell] for cell in cells]) == wanted
    assert same.mean() > 0.93  # half a cell aside a grazing path turns

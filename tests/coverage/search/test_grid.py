"""The grid a search shares, and which cells a site may stand in."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Geod

from reach.coverage.search.grid import (
    SearchGrid,
    candidate_cells,
    polygon_cells,
    sea_cells,
    slope_deg,
    to_plane,
)
from reach.coverage.sweep.grid import site_crs
from reach.errors import NoPlan
from reach.geodesy import distance_and_bearing
from reach.inputs.polygons import GeoPolygon
from reach.inputs.search_area import Around, SiteLimits
from reach.stations import Position

MIDDLE = Position(41.3, -38.0)


def grid_on(ground_m: np.ndarray, cell_m: float = 100.0) -> SearchGrid:
    rows, columns = ground_m.shape
    return SearchGrid(
        MIDDLE, site_crs(MIDDLE), cell_m, ground_m.astype(np.float32), -columns / 2 * cell_m, rows / 2 *
        cell_m,
        3, 3, rows - 6, columns - 6,
    )  # fmt: skip


def flat(rows: int = 46, columns: int = 56) -> SearchGrid:
    return grid_on(np.full((rows, columns), 30.0))


@settings(max_examples=100, deadline=None)
@given(
    east=st.floats(-50_000, 50_000), north=st.floats(-50_000, 50_000),
    to_east=st.floats(-50_000, 50_000), to_north=st.floats(-50_000, 50_000),
)  # fmt: skip
def test_the_plane_keeps_distances_within_100_km(
    east: float, north: float, to_east: float, to_north: float
) -> None:
    """Against pyproj's geodesics: scale true to 4 parts in 100,000."""
    geod = Geod(ellps="WGS84")
    lon0, lat0, _ = geod.fwd(-38.0, 41.3, math.degrees(math.atan2(east, north)), math.hypot(east, north))
    lon1, lat1, _ = geod.fwd(
        -38.0, 41.3, math.degrees(math.atan2(to_east, to_north)), math.hypot(to_east, to_north)
    )
    _, _, true_m = geod.inv(lon0, lat0, lon1, lat1)
    x, y = to_plane(MIDDLE, [lon0, lon1], [lat0, lat1])
    assert math.hypot(x[1] - x[0], y[1] - y[0]) == pytest.approx(true_m, rel=4e-5, abs=0.01)
    # halfway along the geodesic the straight line of the plane is at most a few metres off
    az, _, length = geod.inv(lon0, lat0, lon1, lat1)
    lon, lat, _ = geod.fwd(lon0, lat0, az, length / 2.0)
    mx, my = to_plane(MIDDLE, [lon], [lat])
    assert math.hypot(mx[0] - (x[0] + x[1]) / 2.0, my[0] - (y[0] + y[1]) / 2.0) < 3.0


def test_cells_and_positions_go_round() -> None:
    grid = flat()
    for cell in (0, 17, grid.columns, grid.rows * grid.columns - 1):
        row, column = divmod(cell, grid.columns)
        east, north = grid.place_m(grid.position(cell))
        assert east == pytest.approx(grid.columns_m()[column], abs=1e-3)
        assert north == pytest.approx(grid.rows_m()[row], abs=1e-3)
    assert grid.position(0).latitude_deg > grid.position(grid.rows * grid.columns - 1).latitude_deg


def test_a_circle_keeps_cells_within_its_distance() -> None:
    grid = flat()
    around = Around(Position(41.305, -38.005), 900.0, "QK1A")
    mask = candidate_cells(grid, SiteLimits(around=(around,))).mask
    for cell in range(grid.rows * grid.columns):
        place = grid.position(cell)
        far, _ = distance_and_bearing(
            from_latitude_deg=41.305,
            from_longitude_deg=-38.005,
            to_latitude_deg=place.latitude_deg,
            to_longitude_deg=place.longitude_deg,
        )
        if abs(far - 900.0) > 1.0:
            assert mask.ravel()[cell] == (far < 900.0)


def test_polygons_hold_the_cells_whose_longitude_and_latitude_they_hold() -> None:
    grid = flat()
    outer = ((-38.02, 41.29), (-37.99, 41.285), (-37.985, 41.31), (-38.01, 41.315), (-38.02, 41.29))
    hole = ((-38.0, 41.295), (-37.995, 41.295), (-37.995, 41.305), (-38.0, 41.305), (-38.0, 41.295))
    mask = polygon_cells(grid, [GeoPolygon(outer, (hole,))]).ravel()
    from shapely import Point, Polygon

    shape = Polygon(outer, [hole])
    for cell in range(grid.rows * grid.columns):
        place = grid.position(cell)
        point = Point(place.longitude_deg, place.latitude_deg)
        if shape.boundary.distance(point) > 2e-5:  # two metres
            assert mask[cell] == shape.contains(point)
    assert 0 < mask.sum() < mask.size


def test_a_plane_slope_is_its_own_slope() -> None:
    """Rise 5 in 100 east and 12 in 100 north: 13 in 100 (5-12-13)."""
    y, x = np.mgrid[:30, :30]
    grid = grid_on(5.0 * x - 12.0 * y + 500.0)
    assert slope_deg(grid) == pytest.approx(math.degrees(math.atan(0.13)), abs=1e-3)


def test_the_sea_is_at_zero_or_below_and_flat() -> None:
    ground = np.full((5, 5), -2.0, np.float32)
    ground[0] = [0.0, 0.0, 3.0, 4.0, 5.0]
    ground[4] = [-5.0, 4.0, -9.0, -2.0, -2.0]
    assert sea_cells(ground).astype(int).tolist() == [
        [1, 1, 0, 0, 0],
        [0, 0, 0, 0, 0],  # below zero, but beside the shore: left in
        [1, 1, 1, 1, 1],
        [0, 0, 0, 1, 1],
        [0, 0, 0, 0, 1],
    ]


def limits(**changes: object) -> SiteLimits:
    return SiteLimits(**changes)  # type: ignore[arg-type]


def test_height_and_slope_limits_are_kept() -> None:
    y, x = np.mgrid[:40, :40]
    ground = 10.0 * x + 0.0 * y
    ground[:, 20:] = 400.0
    grid = grid_on(ground)
    mask = candidate_cells(grid, limits(lowest_m=100.0, highest_m=300.0, steepest_deg=8.0)).mask
    kept = grid.elevation_m[mask]
    assert kept.min() >= 100.0 and kept.max() <= 300.0
    assert slope_deg(grid)[mask].max() <= 8.0


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        ({"lowest_m": 900.0}, r'relax "at 900 m or higher" \(2,000 cells without it\)'),
        (
            {"around": (Around(Position(41.3, -39.0), 500.0, "QK1A"),)},
            r'relax "within 500 m of QK1A"',
        ),
        (
            {"lowest_m": 900.0, "around": (Around(Position(41.3, -39.0), 500.0, "QK1A"),)},
            "nothing at all is|within 500 m of QK1A",
        ),
    ],
)
def test_nothing_left_names_what_to_relax(asked: dict[str, object], words: str) -> None:
    with pytest.raises(NoPlan, match=words):
        candidate_cells(flat(), limits(**asked))


def test_ground_that_is_not_known_or_under_water_is_left_out_and_told() -> None:
    ground = np.full((46, 56), 30.0)
    ground[:, :28] = np.nan
    found = candidate_cells(grid_on(ground), SiteLimits())
    assert found.unknown_share == pytest.approx(0.5)
    assert found.mask.sum() == 1000
    with pytest.raises(NoPlan, match="outside the elevation tiles"):
        candidate_cells(grid_on(np.full((20, 20), np.nan)), SiteLimits())


def test_only_sea_is_said_so_and_nothing_to_relax() -> None:
    sea = np.zeros((46, 56))
    with pytest.raises(NoPlan, match="there is only sea: search somewhere else") as refused:
        candidate_cells(grid_on(sea), SiteLimits())
    assert "relax" not in str(refused.value)
    with pytest.raises(NoPlan, match="there is only sea: search somewhere else"):
        candidate_cells(grid_on(sea), limits(lowest_m=900.0, steepest_deg=5.0))
    sea[:, :28] = np.nan
    with pytest.raises(NoPlan, match="only sea, and ground beyond the elevation tiles: search") as refused:
        candidate_cells(grid_on(sea), SiteLimits())
    assert "relax" not in str(refused.value)


@pytest.mark.parametrize(("rows", "columns", "first"), [(46, 56, 3), (63, 47, 11)])
def test_a_coarser_grid_has_the_height_of_every_cell_s_middle_where_it_is(
    rows: int, columns: int, first: int
) -> None:
    ground = np.random.default_rng(3).random((rows, columns)) * 400.0
    fine = replace(grid_on(ground), first_row=first, first_column=first + 1, rows=31, columns=29)
    coarse = fine.coarser(5)
    assert coarse.shape == (6, 5) and coarse.cell_m == 500.0
    assert np.array_equal(coarse.elevation_m, fine.elevation_m[2::5, 2::5][:6, :5])
    assert coarse.columns_m() == pytest.approx(fine.columns_m()[2::5][:5])
    assert coarse.rows_m() == pytest.approx(fine.rows_m()[2::5][:6])
    down, across = coarse.ground_m.shape
    assert coarse.first_row >= 3 and down - coarse.first_row - coarse.rows >= 3
    assert coarse.first_column >= 3 and across - coarse.first_column - coarse.columns >= 3
    outer_m = coarse.west_m + across * coarse.cell_m
    assert coarse.west_m <= fine.west_m and outer_m >= fine.west_m + columns * fine.cell_m

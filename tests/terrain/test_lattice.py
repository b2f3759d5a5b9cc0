"""Where the samples of a grid lie: against the projection itself."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from pyproj import CRS, Geod, Transformer

from reach.terrain.lattice import Lattice, lattice_of

SITE = CRS.from_user_input("+proj=aeqd +lat_0=47.2 +lon_0=179.95 +datum=WGS84")
BOX = Affine(30.0, 0.0, -9000.0, 0.0, -30.0, 6000.0)


@pytest.fixture
def lattice() -> Lattice:
    return lattice_of(SITE, BOX, rows=400, columns=600)


@pytest.mark.parametrize("finer", [1, 3])
def test_samples_lie_within_centimetres_of_where_the_projection_puts_them(finer: int) -> None:
    lat, lon = lattice_of(SITE, BOX, rows=400, columns=600, finer=finer).places()
    x = BOX.c + 30.0 * (np.arange(600 * finer) + 0.5) / finer
    y = BOX.f - 30.0 * (np.arange(400 * finer) + 0.5) / finer
    true_lon, true_lat = Transformer.from_crs(SITE, "EPSG:4326", always_xy=True).transform(*np.meshgrid(x, y))
    assert lat.shape == true_lat.shape
    off_m = Geod(ellps="WGS84").inv(lon.ravel(), lat.ravel(), true_lon.ravel(), true_lat.ravel())[2]
    assert off_m.max() < 0.05


def test_longitudes_run_on_past_180(lattice: Lattice) -> None:
    lon = lattice.places()[1]
    assert lon.min() < 180.0 < lon.max() or lon.min() < -180.0 < lon.max()
    assert np.abs(np.diff(lon, axis=1)).max() < 0.001


@pytest.mark.parametrize(("first", "last"), [(0, 1), (0, 400), (15, 17), (37, 301), (399, 400)])
def test_some_rows_lie_where_they_lay_among_all(lattice: Lattice, first: int, last: int) -> None:
    for part, whole in zip(lattice.rows(first, last).places(), lattice.places(), strict=True):
        assert np.abs(part - whole[first:last]).max() < 1e-11


def test_degrees_are_not_projected_at_all() -> None:
    lat, lon = lattice_of(
        CRS.from_epsg(4326), Affine(0.1, 0.0, 7.0, 0.0, -0.1, 47.0), rows=3, columns=4
    ).places()
    assert lat[:, 0].tolist() == [47.0 - 0.1 * (k + 0.5) for k in range(3)]
    assert lon[0].tolist() == [7.0 + 0.1 * (k + 0.5) for k in range(4)]


def test_one_row_and_one_column_are_a_grid_too() -> None:
    lat, lon = lattice_of(SITE, BOX, rows=1, columns=1).places()
    assert lat.shape == lon.shape == (1, 1)


def test_cells_near_a_box_are_those_that_hold_one_of_its_samples_or_touch_it(lattice: Lattice) -> None:
    lat, lon = lattice.places()
    boxes = np.array([[-180.05, 47.19, -179.99, 47.21], [-180.2, 47.16, -180.09, 47.18]])
    near = lattice.cells_near(boxes, np.full((2, 2), 1e-4))
    assert 0.05 < near.mean() < 0.5
    for west, south, east, north in boxes:
        inside = (np.mod(lon - west, 360.0) <= east - west) & (lat >= south) & (lat <= north)
        i = np.minimum(lattice.at_row.astype(int), near.shape[0] - 1)
        j = np.minimum(lattice.at_column.astype(int), near.shape[1] - 1)
        assert inside.any() and near[i][:, j][inside].all()

"""Areas and single paths say the same of the same two places, by every model and over every kind of land."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from reach.coverage.sweep import run
from reach.coverage.sweep._tuples_kernel import COVERED, HIGHER, MIXED, Link
from reach.coverage.sweep.grid import SiteGrid
from reach.coverage.sweep.loss import area_loss
from reach.coverage.sweep.path import AreaModel, AreaPath, path_model
from reach.propagation.typical_land.model import Cover
from reach.propagation.typical_land.rule import USUAL_HEIGHT_M
from reach.terrain.clutter import TERMINAL_CLEARING_M
from reach.terrain.profile import Profile, ProfileBatch
from tests.coverage.conftest import grid_of, ground_of, relief
from tests.coverage.sweep.test_loss import line_to, random_cells

TYPICAL = AreaPath(146.0, 30.0, 1.5, model=AreaModel.TYPICAL_LAND)
GIVEN = replace(TYPICAL, cover=Cover.GIVEN)


def with_patches(grid: SiteGrid) -> SiteGrid:
    """The grid with woods of 15 m, houses of 10 m and open land between them."""
    patches = relief(grid.elevation_m.shape[0], seed=5, slope=1.6, spread_m=1.0) - 300.0
    return replace(
        grid, cover_m=np.select([patches > 0.6, patches > 0.2], [15.0, 10.0], 0.0).astype(np.float32)
    )


def cover_along(
    grid: SiteGrid, cell: tuple[int, int], distance_m: NDArray[np.float64]
) -> NDArray[np.float64]:
    """What a path to a cell's centre carries, as paths are sampled: nearest cell, clear round both ends."""
    assert grid.cover_m is not None
    middle = grid.radius_cells
    share = np.linspace(0.0, 1.0, distance_m.size)
    rows = np.rint(middle + share * (cell[0] - middle)).astype(int)
    columns = np.rint(middle + share * (cell[1] - middle)).astype(int)
    clear = np.minimum(distance_m, distance_m[-1] - distance_m) < TERMINAL_CLEARING_M
    return np.where(clear, 0.0, np.maximum(grid.cover_m[rows, columns].astype(np.float64), 0.0))


def differences(grid: SiteGrid, path: AreaPath, *, count: int = 400) -> NDArray[np.float64]:
    """Area minus path, dB, at random cells."""
    found = area_loss(grid, path)
    cells = random_cells(grid, count, seed=1)
    profiles = []
    for cell in cells:
        distance_m, ground_m = line_to(grid, *cell)
        cover = None if grid.cover_m is None else cover_along(grid, cell, distance_m)
        profiles.append(
            Profile.of(distance_m, ground_m, clutter_m=cover, mid_latitude_deg=grid.position.latitude_deg)
        )
    middle = grid.radius_cells
    raster = grid.cover_m if path.cover is Cover.GIVEN else None
    usual_m = USUAL_HEIGHT_M if raster is None else abs(raster[middle, middle])
    far_m = USUAL_HEIGHT_M if raster is None else np.abs([raster[cell] for cell in cells])
    wanted = path_model(path).losses(
        ProfileBatch.of(profiles),
        tx_height_m=path.site_height_m,
        rx_height_m=path.far_height_m,
        frequency_mhz=path.frequency_mhz,
        polarisation=path.polarisation,
        tx_land_m=usual_m if path.site_land_m is None else path.site_land_m,
        rx_land_m=far_m if path.far_land_m is None else path.far_land_m,
    )
    return np.array([found.loss_db[cell] for cell in cells]) - wanted.loss_db


CASES = {
    "houses": TYPICAL,
    "houses, 70 cm, base": replace(TYPICAL, frequency_mhz=446.0, site_height_m=12.0, far_height_m=12.0),
    "10 m band": replace(TYPICAL, frequency_mhz=28.5, site_height_m=15.0, far_height_m=9.0),
    "open site": replace(TYPICAL, site_land_m=0.0),
    "open site, low": replace(TYPICAL, site_land_m=0.0, site_height_m=6.0),
    "cells in woods": replace(TYPICAL, far_land_m=15.0),
    "cells in the open": replace(TYPICAL, far_land_m=0.0),
    "both in woods": replace(TYPICAL, site_land_m=15.0, far_land_m=15.0),
    "bare": replace(TYPICAL, cover=Cover.BARE),
    "P.1812": replace(TYPICAL, model=AreaModel.P1812),
    "delta-Bullington": replace(TYPICAL, model=AreaModel.DELTA_BULLINGTON),
}


@pytest.mark.parametrize("kind", ["smooth", "coastal"])
@pytest.mark.parametrize("case", CASES)
def test_area_and_path_agree(case: str, kind: str) -> None:
    difference = differences(grid_of(ground_of(kind, 250, seed=3)), CASES[case])
    assert np.median(np.abs(difference)) <= 0.1
    assert np.percentile(np.abs(difference), 99) <= 1.0


@pytest.mark.parametrize("case", ["houses", "10 m band", "open site, low", "cells in woods"])
def test_area_and_path_agree_on_ground_as_rough_as_noise(case: str) -> None:
    """A cell is taken where its radial passes, up to half a cell aside: relief of a cell's size shows."""
    difference = differences(grid_of(ground_of("rough", 250, seed=3)), CASES[case])
    assert np.median(np.abs(difference)) <= 0.15
    assert np.percentile(np.abs(difference), 99) <= 1.5
    assert abs(difference.mean()) < 0.05


OVER_RASTER = {
    "handheld": GIVEN,
    "low site, 70 cm": replace(GIVEN, frequency_mhz=446.0, site_height_m=6.0, far_height_m=9.0),
    "10 m band": replace(GIVEN, frequency_mhz=28.5, site_height_m=15.0, far_height_m=9.0),
    "P.1812": replace(GIVEN, model=AreaModel.P1812),
    "delta-Bullington": replace(GIVEN, model=AreaModel.DELTA_BULLINGTON),
}


@pytest.mark.parametrize("kind", ["smooth", "coastal"])
@pytest.mark.parametrize("case", OVER_RASTER)
def test_area_and_path_agree_over_a_land_cover_raster(case: str, kind: str) -> None:
    """A wood's edge right before a receiver is where its own line crosses it, not where the radial does."""
    grid = with_patches(grid_of(ground_of(kind, 250, seed=3)))
    difference = differences(grid, OVER_RASTER[case], count=2000)
    assert np.median(np.abs(difference)) <= 0.1
    assert np.percentile(np.abs(difference), 99) <= 1.0
    assert abs(difference.mean()) < 0.05


@pytest.mark.parametrize("cell_m", [5.0, 10.0, 20.0, 90.0])
@pytest.mark.parametrize("case", ["handheld", "P.1812"])
def test_they_agree_on_fine_and_coarse_cells_too(case: str, cell_m: float) -> None:
    """Nothing within 27 m of either end stands in the way, however many cells that is."""
    grid = with_patches(grid_of(ground_of("smooth", 250, seed=3), cell_m=cell_m))
    difference = differences(grid, OVER_RASTER[case], count=1000)
    assert np.median(np.abs(difference)) <= 0.1
    assert np.percentile(np.abs(difference), 99) <= 1.0
    assert abs(difference.mean()) < 0.05


@pytest.mark.parametrize("path", [GIVEN, replace(GIVEN, model=AreaModel.P1812)], ids=["typical", "P.1812"])
def test_cover_that_a_surface_model_holds_stands_round_stations_only(path: AreaPath) -> None:
    """In the west half heights are of the surface; the raster's cover counts along the way in the east."""
    grid = with_patches(grid_of(ground_of("smooth", 250, seed=3)))
    assert grid.cover_m is not None
    grid.cover_m[:, :250] *= -1.0
    difference = differences(grid, path)
    assert np.median(np.abs(difference)) <= 0.1
    assert np.percentile(np.abs(difference), 99) <= 1.0


@pytest.mark.parametrize("kind", ["rough", "smooth", "coastal"])
@pytest.mark.parametrize("lands_m", [(0.0, 10.0), (15.0, 10.0), (12.0, 11.0), (30.0, 5.0)])
@pytest.mark.parametrize(
    "ends",
    [
        replace(TYPICAL, site_height_m=6.0),
        replace(TYPICAL, site_height_m=2.0, far_height_m=8.0, frequency_mhz=446.0),
        replace(TYPICAL, site_height_m=12.0, frequency_mhz=446.0),
    ],
    ids=["low site", "low site, 70 cm", "base, 70 cm"],
)
def test_a_radial_that_splits_is_looked_at_as_point_by_point(
    monkeypatch: pytest.MonkeyPatch, ends: AreaPath, lands_m: tuple[float, float], kind: str
) -> None:
    """Every cell behind every split, over the same ground; where open land ends is each radial's own."""
    path = replace(ends, site_land_m=lands_m[0], far_land_m=lands_m[1])
    grid = grid_of(ground_of(kind, 250, seed=3))
    link = run._link
    looks = []

    def point_by_point(path: AreaPath, *, given: bool, clear_nu: float) -> Link:
        found = link(path, given=given, clear_nu=clear_nu)
        looks.append(found.look)
        return found._replace(look=MIXED)

    monkeypatch.setattr(run, "_taken_as", lambda path: (path,))  # among houses is another question
    found = area_loss(grid, path).loss_db
    monkeypatch.setattr(run, "_link", point_by_point)
    wanted = area_loss(grid, path).loss_db
    assert looks == [COVERED if lands_m[0] == 0.0 else HIGHER]
    difference = np.abs(found - wanted)[grid.inside()]
    assert difference.max() <= 0.02


def test_ducting_is_looked_at_where_it_counts() -> None:
    """Near the equator at 1.3 GHz it lowers many losses: the whole of P.1812 is worked there."""
    grid = grid_of(ground_of("smooth", 200, seed=3), cell_m=500.0)
    south = replace(grid, position=replace(grid.position, latitude_deg=5.0))
    path = AreaPath(1296.0, 30.0, 9.0, model=AreaModel.P1812)
    difference = differences(south, path)
    assert np.median(np.abs(difference)) <= 0.1
    assert np.percentile(np.abs(difference), 97) <= 1.5
    moved = area_loss(grid, path).loss_db - area_loss(south, path).loss_db
    assert np.nanmax(moved) > 1.5

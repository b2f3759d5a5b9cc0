"""Invented ground for sweeps: rough, smooth and coastal relief from seeded noise, and grids round its
middle."""

from __future__ import annotations

import numpy as np
import pytest
from affine import Affine
from numpy.typing import NDArray

from reach.coverage.sweep.grid import SiteGrid, site_crs
from reach.stations import Position

SEA_SITE = Position(41.3, -38.0)  # open ocean: no real place


def relief(cells: int, *, seed: int, slope: float, spread_m: float) -> NDArray[np.float32]:
    """(cells, cells) self-similar noise, m; spectral slope 2.2 is rough, 3.2 smooth."""
    rng = np.random.default_rng(seed)
    wave = np.fft.rfftfreq(cells)[None, :] ** 2 + np.fft.fftfreq(cells)[:, None] ** 2
    wave[0, 0] = 1.0
    spectrum = np.fft.rfft2(rng.standard_normal((cells, cells))) * wave ** (-slope / 2.0)
    spectrum[0, 0] = 0.0
    ground = np.fft.irfft2(spectrum, s=(cells, cells))
    return (ground * (spread_m / ground.std()) + 300.0).astype(np.float32)


def ground_of(kind: str, radius_cells: int, *, seed: int = 1) -> NDArray[np.float32]:
    """Elevation for a grid of that radius: 'rough', 'smooth' or 'coastal' (sea at exactly 0 m)."""
    side = 2 * radius_cells + 1
    if kind == "rough":
        return relief(side, seed=seed, slope=2.2, spread_m=150.0)
    if kind == "smooth":
        return relief(side, seed=seed, slope=3.2, spread_m=60.0)
    return np.maximum(relief(side, seed=seed, slope=3.0, spread_m=120.0) - 330.0, 0.0).astype(np.float32)


def grid_of(elevation_m: NDArray[np.float32], *, cell_m: float = 30.0) -> SiteGrid:
    """A grid on given ground with the site in the middle."""
    edge = elevation_m.shape[0] / 2.0 * cell_m
    return SiteGrid(
        SEA_SITE,
        np.ascontiguousarray(elevation_m, dtype=np.float32),
        cell_m,
        site_crs(SEA_SITE),
        Affine(cell_m, 0.0, -edge, 0.0, -cell_m, edge),
    )


@pytest.fixture(scope="session")
def rough_grid() -> SiteGrid:
    return grid_of(ground_of("rough", 200))

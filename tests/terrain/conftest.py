"""Small rasters for the terrain tests, written the way real ones come."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.transform import from_origin

Plane = Callable[[NDArray[np.float64], NDArray[np.float64]], NDArray[np.float64]]  # (lat, lon) -> height


@pytest.fixture
def geotiff_of(tmp_path: Path) -> Callable[..., Path]:
    """Writer of a latitude-longitude GeoTIFF of a surface: geotiff_of(name, surface=, west=, ...)."""

    def write(
        name: str,
        *,
        surface: Plane,
        west: float = -72.0,
        north: float = 42.0,
        columns: int = 60,
        rows: int = 60,
        pixel_deg: float = 1.0 / 120.0,
        unit: str | None = "m",
        dtype: str = "float32",
        nodata: float | None = None,
        holes: NDArray[np.bool_] | None = None,
        crs: str = "EPSG:4326",
        folder: str = "tiles",
    ) -> Path:
        path = tmp_path / folder / name
        path.parent.mkdir(exist_ok=True)
        lon = west + (np.arange(columns) + 0.5) * pixel_deg
        lat = north - (np.arange(rows) + 0.5) * pixel_deg
        values = surface(lat[:, None], lon[None, :]) + np.zeros((rows, columns))
        if holes is not None:
            values[holes] = np.nan if nodata is None else nodata
        with rasterio.open(
            path, "w", driver="GTiff", width=columns, height=rows, count=1,
            dtype=dtype, crs=crs, nodata=nodata,
            transform=from_origin(west, north, pixel_deg, pixel_deg),
        ) as data:  # fmt: skip
            data.write(values.astype(dtype), 1)
            if unit is not None:
                data.set_band_unit(1, unit)
        return path

    return write


@pytest.fixture
def hgt_of() -> Callable[..., bytes]:
    """A 3 arc second SRTM tile: 1201 x 1201 big-endian int16, north first, shared edges, void -32768."""

    def content(*, south: int, west: int, surface: Plane, voids: tuple[tuple[int, int], ...] = ()) -> bytes:
        lat = south + 1.0 - np.arange(1201) / 1200.0
        lon = west + np.arange(1201) / 1200.0
        values = np.round(surface(lat[:, None], lon[None, :]) + np.zeros((1201, 1201))).astype(">i2")
        for row, column in voids:
            values[row, column] = -32768
        return values.tobytes()

    return content

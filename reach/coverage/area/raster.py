"""Coverage as GeoTIFF, cloud-optimised, with units and parameters in its tags; and back."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from affine import Affine
from numpy.typing import NDArray

from reach.errors import Fault, InputProblem
from reach.files import Existing, check_writable, whole_file
from reach.stations import Position

Raster = NDArray[np.float32]
Box = tuple[float, float, float, float]

TILE_CELLS = 512


@dataclass(frozen=True)
class Layer:
    """One band. name : short, e.g. 'path_loss'; unit : e.g. 'dB'; values : (rows, columns) float32, NaN
    unknown."""

    name: str
    unit: str
    values: Raster


@dataclass(frozen=True)
class RasterFile:
    """A raster read back: layers, where it lies, what was written into its tags."""

    layers: tuple[Layer, ...]
    crs: str
    transform: Affine
    tags: Mapping[str, str]

    def layer(self, name: str) -> Layer:
        """The band of that name; KeyError when there is none."""
        for layer in self.layers:
            if layer.name == name:
                return layer
        raise KeyError(name)


def _profile(layers: Sequence[Layer], crs: str, transform: Affine) -> dict[str, Any]:
    rows, columns = layers[0].values.shape
    return {
        "width": columns,
        "height": rows,
        "count": len(layers),
        "dtype": "float32",
        "crs": crs,
        "transform": transform,
        "nodata": math.nan,
    }


def _describe(sink: Any, layers: Sequence[Layer], tags: Mapping[str, str]) -> None:
    sink.update_tags(**tags)
    for number, layer in enumerate(layers, start=1):
        sink.set_band_description(number, layer.name)
        sink.set_band_unit(number, layer.unit)


def write_cog(
    path: Path,
    layers: Sequence[Layer],
    *,
    crs: str,
    transform: Affine,
    tags: Mapping[str, str],
    existing: Existing = Existing.KEEP,
) -> None:
    """Write layers as one cloud-optimised GeoTIFF: tiles, overviews, lossless compression.

    tags : parameters, as text. Raises : OutputProblem; nothing is left behind when it fails.
    """
    from rasterio.io import MemoryFile
    from rasterio.shutil import copy

    check_writable(path, existing)
    with MemoryFile() as memory, MemoryFile(ext=".tif") as made:
        with memory.open(
            driver="GTiff",
            tiled=True,
            blockxsize=TILE_CELLS,
            blockysize=TILE_CELLS,
            **_profile(layers, crs, transform),
        ) as sink:
            _describe(sink, layers, tags)
            for number, layer in enumerate(layers, start=1):
                sink.write(layer.values, number)
        with memory.open() as source:
            copy(
                source,
                made.name,
                driver="COG",
                compress="DEFLATE",
                level=1,
                predictor="FLOATING_POINT",
                num_threads="ALL_CPUS",
                overview_resampling="NEAREST",
            )
        # to the disk by plain writing: what GDAL cannot put there while it closes a file it does not tell
        with whole_file(path, existing) as temporary, open(temporary, "wb") as file:
            file.write(made.getbuffer())


def write_plain(
    path: Path,
    layers: Sequence[Layer],
    *,
    crs: str,
    transform: Affine,
    tags: Mapping[str, str],
    existing: Existing = Existing.KEEP,
) -> None:
    """Write layers as one tiled GeoTIFF without compression or overviews: the quickest to write. Raises as
    write_cog."""
    import rasterio
    from rasterio._err import CPLE_BaseError  # what GDAL says while writing has no public class

    with whole_file(path, existing) as temporary:
        try:
            with rasterio.open(
                temporary, "w", driver="GTiff", tiled=True, blockxsize=TILE_CELLS, blockysize=TILE_CELLS,
                interleave="band", **_profile(layers, crs, transform),
            ) as sink:  # fmt: skip
                _describe(sink, layers, tags)
                for number, layer in enumerate(layers, start=1):
                    sink.write(layer.values, number)
        except (rasterio.errors.RasterioError, CPLE_BaseError) as error:
            raise OSError(str(error)) from error


def read_raster(path: Path) -> RasterFile:
    """Read a coverage raster back. Raises : InputProblem when it is none."""
    import rasterio

    try:
        with rasterio.open(path) as source:
            layers = tuple(
                Layer(source.descriptions[i] or "", source.units[i] or "", source.read(i + 1))
                for i in range(source.count)
            )
            return RasterFile(layers, source.crs.to_wkt(), source.transform, source.tags())
    except rasterio.errors.RasterioError as error:
        raise InputProblem(Fault(f"cannot be read as a raster ({error})", file=path.name)) from error


def warped(
    values: NDArray[Any], *, crs: str, transform: Affine, to_crs: str, box: Box, shape: tuple[int, int]
) -> NDArray[Any]:
    """Values on another grid, each cell that of the nearest, NaN (0 for whole numbers) where there is none.

    box : (left, bottom, right, top) in to_crs; shape : (rows, columns).
    """
    from rasterio.transform import from_bounds
    from rasterio.warp import Resampling, reproject

    real = np.issubdtype(values.dtype, np.floating)
    out = np.full(shape, math.nan if real else 0, dtype=values.dtype)
    reproject(
        values,
        out,
        src_transform=transform,
        src_crs=crs,
        src_nodata=math.nan if real else None,
        dst_transform=from_bounds(*box, shape[1], shape[0]),
        dst_crs=to_crs,
        dst_nodata=math.nan if real else 0,
        resampling=Resampling.nearest,
    )
    return out


def box_in(to_crs: str, *, crs: str, box: Box) -> Box:
    """A box in another coordinate system, edges followed."""
    from rasterio.warp import transform_bounds

    left, bottom, right, top = transform_bounds(crs, to_crs, *box, densify_pts=41)
    return left, bottom, right, top


def points_in(
    to_crs: str, *, crs: str, east: NDArray[np.float64], north: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Points of one coordinate system in another, in the shape they came in."""
    from rasterio.warp import transform

    there = transform(crs, to_crs, east.ravel(), north.ravel())
    across, up = (np.array(values, dtype=np.float64).reshape(east.shape) for values in there)
    return across, up


def place_in(crs: str, position: Position) -> tuple[float, float]:
    """(easting, northing) of a place in a projected coordinate system, in its units."""
    from rasterio.warp import transform

    (east,), (north,) = transform("EPSG:4326", crs, [position.longitude_deg], [position.latitude_deg])
    return east, north

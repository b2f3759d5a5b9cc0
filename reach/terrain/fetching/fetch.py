"""The part of a raster a net needs, fetched and kept as a GeoTIFF of its own, whole or not at all."""

from __future__ import annotations

import io
import math
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from rasterio.errors import RasterioError
from rasterio.io import DatasetReader
from rasterio.windows import Window, from_bounds

from reach.files import Existing, whole_file
from reach.machinery.progress import Progress
from reach.terrain.fetching.remote_file import FetchProblem, RemoteFile, Tally
from reach.terrain.fetching.sources import Ground, Part, TileSource

Box = tuple[float, float, float, float]  # west, south, east, north, degrees

_ROWS_AT_ONCE = 256
_LOWEST_M, _HIGHEST_M = -500.0, 9000.0
_MOST_PIXELS_OFF = 8.0  # overlaps and half-pixel shifts of the data sets known here
_SEA_PIXELS = 120
_GDAL: dict[str, Any] = {"GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR", "GDAL_PAM_ENABLED": "NO"}


def common(one: Box, other: Box) -> Box | None:
    """The part two boxes share, None when they only touch or less."""
    west, south = max(one[0], other[0]), max(one[1], other[1])
    east, north = min(one[2], other[2]), min(one[3], other[3])
    return (west, south, east, north) if west < east and south < north else None


def covers(file: Path, box: Box) -> bool:
    """Whether a raster that is there reaches over a box, a pixel less allowed."""
    try:
        with rasterio.Env(**_GDAL), rasterio.open(file) as data:
            west, south, east, north = data.bounds
            spare = abs(data.transform.a) + abs(data.transform.e)
    except RasterioError:
        return False
    lower_left = west - spare <= box[0] and south - spare <= box[1]
    return bool(lower_left and east + spare >= box[2] and north + spare >= box[3])


def fetch_part(
    source: TileSource,
    part: Part,
    box: Box,
    file: Path,
    *,
    existing: Existing,
    tally: Tally,
    progress: Progress,
    pause_s: float = 0.5,
) -> None:
    """Keep what a box has of one file of a source.

    progress : (rows done, rows). pause_s : before a broken connection is tried again.
    Raises : NotThere; FetchProblem, also when what comes is not what the source promises; OutputProblem.
    """
    wanted = common(box, part.bounds)
    if wanted is None:
        raise FetchProblem(f"{part.name} does not reach over the net.")
    trouble: list[FetchProblem] = []
    with rasterio.Env(**_GDAL), _opened(part, tally, trouble, pause_s) as data:
        _check_promise(data, part, source)
        window = _whole_window(data, wanted)
        profile: dict[str, Any] = {
            "driver": "GTiff", "width": window.width, "height": window.height, "count": 1,
            "dtype": data.dtypes[0], "crs": data.crs, "transform": data.window_transform(window),
            "nodata": data.nodata, "compress": "deflate", "tiled": True, "blockxsize": 256, "blockysize": 256,
            "predictor": 3 if data.dtypes[0].startswith("float") else 2,
        }  # fmt: skip
        with whole_file(file, existing) as temporary, rasterio.open(temporary, "w", **profile) as kept:
            if source.ground is not Ground.COVER:
                kept.units = ("m",)
            kept.update_tags(SOURCE=source.title, CREDIT=source.credit)
            for first in range(0, window.height, _ROWS_AT_ONCE):
                rows = min(_ROWS_AT_ONCE, window.height - first)
                asked = Window(window.col_off, window.row_off + first, window.width, rows)
                values = _read(data, asked, trouble)
                _check_heights(values, data.nodata, part, source)
                kept.write(values, 1, window=Window(0, first, window.width, rows))
                progress(first + rows, window.height)


def write_sea(cell: str, file: Path, *, existing: Existing) -> None:
    """A one-degree cell, named by its south-west corner, of flat sea at 0 m: on the user's word only."""
    south = int(cell[1:3]) * (1 if cell[0] == "N" else -1)
    west = int(cell[4:7]) * (1 if cell[3] == "E" else -1)
    step = 1.0 / _SEA_PIXELS
    profile: dict[str, Any] = {
        "driver": "GTiff", "width": _SEA_PIXELS, "height": _SEA_PIXELS, "count": 1, "dtype": "float32",
        "crs": "EPSG:4326", "transform": rasterio.transform.from_origin(west, south + 1.0, step, step),
        "compress": "deflate",
    }  # fmt: skip
    with whole_file(file, existing) as temporary, rasterio.open(temporary, "w", **profile) as kept:
        kept.units = ("m",)
        kept.update_tags(SOURCE="sea, on the user's word")
        kept.write(np.zeros((_SEA_PIXELS, _SEA_PIXELS), dtype=np.float32), 1)


@contextmanager
def _opened(part: Part, tally: Tally, trouble: list[FetchProblem], pause_s: float) -> Iterator[DatasetReader]:
    """The remote raster. Faults of reading, which GDAL would swallow, are put into `trouble`."""
    with RemoteFile(part.address, tally=tally, pause_s=pause_s) as remote:

        def opener(path: str, mode: str = "rb") -> _ForGdal:
            if not str(path).endswith(part.name):
                raise FileNotFoundError(path)  # side files: there are none
            return _ForGdal(remote, trouble)

        try:
            data = rasterio.open(part.name, opener=opener)
        except RasterioError as problem:
            if trouble:
                raise trouble[0] from None
            raise FetchProblem(f"{part.address} is no raster that can be read ({problem}).") from None
        with data:
            yield data


class _ForGdal(io.RawIOBase):
    """A remote file as GDAL reads one: a fault is noted and the read comes out short, nothing is raised."""

    def __init__(self, remote: RemoteFile, trouble: list[FetchProblem]) -> None:
        self._remote, self._trouble, self._at = remote, trouble, 0

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def tell(self) -> int:
        return self._at

    def seek(self, offset: int, whence: int = io.SEEK_SET) -> int:
        start = {io.SEEK_SET: 0, io.SEEK_CUR: self._at, io.SEEK_END: self._remote.size}[whence]
        self._at = max(0, start + offset)
        return self._at

    def read(self, size: int = -1) -> bytes:
        if self._trouble:
            return b""
        try:
            self._remote.seek(self._at)
            data = self._remote.read(size)
        except FetchProblem as problem:
            self._trouble.append(problem)
            return b""
        self._at += len(data)
        return data


def _read(data: DatasetReader, window: Window, trouble: list[FetchProblem]) -> np.ndarray[Any, Any]:
    try:
        values: np.ndarray[Any, Any] = data.read(1, window=window)
    except RasterioError as problem:
        raise (trouble[0] if trouble else FetchProblem(f"{data.name} is damaged ({problem}).")) from None
    if trouble:
        raise trouble[0]
    return values


def _whole_window(data: DatasetReader, box: Box) -> Window:
    exact = from_bounds(*box, transform=data.transform)
    left, top = max(0, math.floor(exact.col_off)), max(0, math.floor(exact.row_off))
    right = min(data.width, math.ceil(exact.col_off + exact.width))
    bottom = min(data.height, math.ceil(exact.row_off + exact.height))
    return Window(left, top, right - left, bottom - top)


def _check_promise(data: DatasetReader, part: Part, source: TileSource) -> None:
    """Raises : FetchProblem when a raster is not where or not as large as its name says."""
    is_cover = source.ground is Ground.COVER
    if data.count != 1 or (data.dtypes[0] == "uint8") is not is_cover:
        raise FetchProblem(
            f"{part.name} holds {data.count} band(s) of {data.dtypes[0]}: not what it should be."
        )
    if data.crs is None or not data.crs.is_geographic:
        raise FetchProblem(f"{part.name} is not in latitude and longitude: not what it should be.")
    across, down = abs(data.transform.a), abs(data.transform.e)
    expected = 1.0 / source.pixels_per_degree
    off = [abs(is_at - should) for is_at, should in zip(data.bounds, part.bounds)]
    slack = (_MOST_PIXELS_OFF * across, _MOST_PIXELS_OFF * down) * 2
    if any(a > b for a, b in zip(off, slack)) or not 0.9 * expected <= down <= 1.1 * expected:
        raise FetchProblem(f"{part.name} does not cover what its name says: a wrong or a cut file.")


def _check_heights(
    values: np.ndarray[Any, Any], nodata: float | None, part: Part, source: TileSource
) -> None:
    """Raises : FetchProblem for what cannot be metres above sea level."""
    if source.ground is Ground.COVER:
        return
    known = values[np.isfinite(values) & (values != nodata if nodata is not None else True)]
    if known.size and not (float(known.min()) >= _LOWEST_M and float(known.max()) <= _HIGHEST_M):
        raise FetchProblem(
            f"{part.name} holds heights from {known.min():.0f} to {known.max():.0f} m: a damaged file."
        )

"""Opening a raster so that no pixel of it is made up: every raster a user gives comes through here."""

from __future__ import annotations

import os
import warnings
from dataclasses import dataclass
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.enums import MaskFlags
from rasterio.errors import NotGeoreferencedWarning, RasterioError
from rasterio.windows import Window

from reach.errors import Fault, InputProblem
from reach.terrain.imagine_blocks import has_unwritten_blocks
from reach.terrain.local_files import head, is_regular, is_utf8, is_view, open_local, shown_path, size_bytes
from reach.terrain.tiff_ends import TiffEnds, tiff_ends
from reach.terrain.views import read_view

MOST_BLOCKS_LOOKED_AT = 200_000


@dataclass(frozen=True)
class Opened:
    """A raster opened. data : rasterio's data set; opened_as : what GDAL was given; driver : the one it used.

    sources : the rasters a VRT shows; rescales : it alters their values.
    has_holes : blocks of a GeoTIFF may never have been written and nothing in it marks them.
    """

    data: Any
    opened_as: str
    driver: str
    sources: tuple[str, ...] = ()
    rescales: bool = False
    has_holes: bool = False


def open_raster(path: str, name: str) -> Opened:
    """A local raster with nothing invented in it. name : for messages. The caller closes `data`.

    Raises : InputProblem for what is no regular file, is cut short, or shows what cannot be vouched for;
        RasterioError when GDAL cannot open it.
    """
    if not is_utf8(path):
        raise InputProblem(
            Fault(
                "the name of this file or of its folder is not UTF-8 text", "rename it", file=shown_path(name)
            )
        )
    if size_bytes(path) is None:
        if os.path.exists(path):
            problem = "is not a regular file; it cannot be read"
        else:
            problem = "there is no such file, so it cannot be read"
        raise InputProblem(Fault(problem, "put the raster itself there", file=name))
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        if is_view(head(path)):
            return _open_view(path, name)
        data, driver = open_local(path, name)
        try:
            has_holes = _vouch(data, driver, path, name)
        except BaseException:
            data.close()
            raise
    return Opened(data, path, driver, has_holes=has_holes)


def _open_view(path: str, name: str) -> Opened:
    if not is_regular(path):
        raise InputProblem(
            Fault(
                "a VRT inside a zip is not read", "unpack the zip, or leave only its rasters in it", file=name
            )
        )
    view = read_view(
        path, name, check_source=lambda data, driver, source: _vouch_source(data, driver, source, name)
    )
    try:
        data = rasterio.open(view.text, driver="VRT")
    except RasterioError as error:
        told = " ".join(str(error).replace(view.text, "").split())[:200]
        raise InputProblem(
            Fault(f"this VRT cannot be opened ({told})", "make it again (gdalbuildvrt)", file=name)
        ) from None
    return Opened(data, view.text, "VRT", view.sources, view.rescales)


def _vouch(data: Any, driver: str, path: str, name: str) -> bool:
    """Whether blocks of a raster may be unwritten and unmarked. Raises : InputProblem when cut short."""
    marks_voids = MaskFlags.all_valid not in data.mask_flag_enums[0] if data.count else True
    ends = TiffEnds()
    if driver == "GTiff":
        ends = tiff_ends(path) if is_regular(path) else TiffEnds(has_holes=True)
    elif driver == "ENVI":
        ends = TiffEnds(_missing_of_envi(data, path))
    elif driver == "HFA" and not marks_voids and is_regular(path) and has_unwritten_blocks(path):
        raise InputProblem(
            Fault(
                "parts of this raster were never written and nothing in it marks them",
                "declare its nodata value (gdal_edit.py -a_nodata), or fetch it again",
                file=name,
            )
        )
    if ends.missing_bytes:
        raise InputProblem(
            Fault(
                f"this raster is cut short: at least {ends.missing_bytes:,} bytes of it are missing",
                "fetch it again or remove it",
                file=name,
            )
        )
    return ends.has_holes and not marks_voids


def _vouch_source(data: Any, driver: str, path: str, name: str) -> None:
    if _vouch(data, driver, path, f"{name}, {shown_path(path)}") and unwritten_blocks(
        data, Window(0, 0, data.width, data.height)
    ):
        raise InputProblem(
            Fault(
                f"this VRT shows {shown_path(path)!r}, never written in full and not saying where",
                "declare its nodata value (gdal_edit.py -a_nodata), or fetch it again",
                file=name,
            )
        )


def _missing_of_envi(data: Any, path: str) -> int:
    """Bytes an ENVI image lacks of what its header promises; GDAL reads zeros in their place."""
    tags = data.tags(ns="ENVI")
    try:
        start = int(tags.get("header_offset", "0"))
        compressed = int(tags.get("file_compression", "0"))
    except ValueError:
        start, compressed = 0, 0
    pixel = sum(np.dtype(kind).itemsize for kind in data.dtypes)
    size = size_bytes(path)
    return 0 if compressed or size is None else max(0, start + data.width * data.height * pixel - size)


def unwritten_blocks(data: Any, window: Window) -> list[tuple[slice, slice]]:
    """(rows, columns) within a window of the blocks of a GeoTIFF that were never written.

    Raises : InputProblem when the window holds more blocks than can be looked at.
    """
    rows, columns = data.block_shapes[0]
    first_row, first_column = int(window.row_off), int(window.col_off)
    last_row, last_column = first_row + int(window.height), first_column + int(window.width)
    found: list[tuple[slice, slice]] = []
    down = range(first_row // rows, -(-last_row // rows))
    across = range(first_column // columns, -(-last_column // columns))
    if len(down) * len(across) > MOST_BLOCKS_LOOKED_AT:
        raise InputProblem(Fault("this raster is cut into too many blocks", "write it anew (gdal_translate)"))
    for j in down:
        for i in across:
            if data.get_tag_item(f"BLOCK_OFFSET_{i}_{j}", "TIFF", bidx=1) is None:
                found.append(
                    (
                        slice(max(0, j * rows - first_row), max(0, (j + 1) * rows - first_row)),
                        slice(max(0, i * columns - first_column), max(0, (i + 1) * columns - first_column)),
                    )
                )
    return found


def void_unwritten(values: NDArray[np.float32], data: Any, window: Window) -> None:
    """Make NaN, in place, what a window shows of blocks that were never written."""
    for rows, columns in unwritten_blocks(data, window):
        values[rows, columns] = np.nan

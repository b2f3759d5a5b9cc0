"""Which files may be opened as rasters, and with which of GDAL's drivers: regular local files only.

GDAL chooses a driver by a file's content, whatever its name; some drivers take a few lines of text for an
address on a network. Here the driver is settled first, from the bytes a file begins with and from its name,
and GDAL is given that one alone. What lies beside a raster and is read with it is looked at too.
"""

from __future__ import annotations

import os
import re
import stat
import zipfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import rasterio
from rasterio.errors import RasterioError

from reach.errors import Fault, InputProblem

# Nothing is fetched over a network, run as a script or taken from a hidden description beside a raster.
GDAL_OPTIONS: Mapping[str, Any] = {
    "GDAL_CACHEMAX": 96_000_000,  # bytes
    "GDAL_PAM_ENABLED": "NO",
    "GDAL_VRT_ENABLE_PYTHON": "NO",
    "GDAL_VRT_RAWRASTERBAND_ALLOWED_SOURCE": "ALL",  # each was looked at before
    "CPL_VSIL_CURL_ALLOWED_FILENAME": "/vsicurl/none",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".offline",
    "GDAL_HTTP_MAX_RETRY": 0,
    "GTIFF_IGNORE_READ_ERRORS": "NO",
}

LARGEST_TEXT_RASTER_BYTES = 2_000_000_000  # read from end to end, unlike the others
LARGEST_ZIP_MEMBER_BYTES = 8_000_000_000
MOST_ZIP_MEMBERS = 20_000
HEAD_BYTES = 4096

_TIFF_STARTS = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_BY_START: tuple[tuple[bytes, str], ...] = (
    *((start, "GTiff") for start in _TIFF_STARTS),
    (b"EHFA_HEADER_TAG", "HFA"),
    (b"\x89HDF\r\n\x1a\n", "netCDF"),
    (b"CDF\x01", "netCDF"),
    (b"CDF\x02", "netCDF"),
    (b"CDF\x05", "netCDF"),
    (b"\0\0\0\x0cjP", "JP2OpenJPEG"),
    (b"\xff\x4f\xff\x51", "JP2OpenJPEG"),
    (b"DSAA", "GSAG"),
    (b"DSBB", "GSBG"),
    (b"DSRB", "GS7BG"),
    (b"TERRAGEN", "Terragen"),
    (b"binterr1", "BT"),
)
_BY_SUFFIX: Mapping[str, tuple[str, ...]] = {
    ".hgt": ("SRTMHGT",),
    ".tif": ("GTiff",),
    ".tiff": ("GTiff",),
    ".gtiff": ("GTiff",),
    ".vrt": ("VRT",),
    ".jp2": ("JP2OpenJPEG",),
    ".nc": ("netCDF",),
    ".dt0": ("DTED",),
    ".dt1": ("DTED",),
    ".dt2": ("DTED",),
    ".adf": ("AIG",),
    ".ter": ("Terragen",),
    ".xyz": ("XYZ",),
}
# tried in this order where neither the first bytes nor the name settle it
_OTHERS = (
    "ENVI", "EHdr", "AAIGrid", "GRASSASCIIGrid", "USGSDEM", "DTED", "RST", "SAGA", "BT", "AIG", "HFA", "XYZ",
)  # fmt: skip
_TEXT_DRIVERS = frozenset({"AAIGrid", "GRASSASCIIGrid", "GSAG", "XYZ", "USGSDEM"})
# in a file that is no plain raster: a description some driver would follow elsewhere
_NAMES_ANOTHER_PLACE = re.compile(
    rb"^\s*(\xef\xbb\xbf)?\s*[<{]|^SQLite format 3|^%PDF|<(GDAL|WMS|WMT|WCS|MRF|VRT)|MapServer|ImageServer"
    rb"|singleFusedMapCache|TileService",
    re.IGNORECASE,
)
_ZIP_MEMBER = re.compile(r"/vsizip/(?:\{(?P<braced>[^{}]+)\}|(?P<plain>.+?\.zip))/(?P<member>.+)", re.I)


def shown_path(path: str | Path) -> str:
    """A file's name for messages: bytes that are no text are shown as such."""
    return os.fspath(path).encode("utf-8", "backslashreplace").decode("utf-8")


def is_utf8(path: str | Path) -> bool:
    """Whether a file's name is text GDAL can be given."""
    try:
        os.fspath(path).encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def is_regular(path: str | Path) -> bool:
    """Whether a path leads to a regular file, links followed: no pipe, no device, no folder."""
    try:
        return stat.S_ISREG(os.stat(path).st_mode)
    except (OSError, ValueError):
        return False


def size_bytes(path: str) -> int | None:
    """Bytes of what GDAL would open as `path`, a zip's member too; None when there is no such file here."""
    if path.startswith("/vsizip/"):
        found = _ZIP_MEMBER.fullmatch(path)
        archive = (found["braced"] or found["plain"]) if found else ""
        if not found or archive.startswith("/vsi") or not is_regular(archive):
            return None
        try:
            with zipfile.ZipFile(archive) as members:
                return members.getinfo(found["member"]).file_size
        except (KeyError, zipfile.BadZipFile, OSError):
            return None
    if path.startswith("/vsi") or not is_regular(path):
        return None
    return os.path.getsize(path)


def head(path: str) -> bytes:
    """The first bytes of a file or of a zip's member; empty when it cannot be read."""
    try:
        if path.startswith("/vsizip/"):
            found = _ZIP_MEMBER.fullmatch(path)
            if not found:
                return b""
            archive = found["braced"] or found["plain"]
            with zipfile.ZipFile(archive) as members, members.open(found["member"]) as member:
                return member.read(HEAD_BYTES)
        with open(path, "rb") as file:
            return file.read(HEAD_BYTES)
    except (OSError, KeyError, zipfile.BadZipFile, RuntimeError, NotImplementedError, EOFError, ValueError):
        return b""  # GDAL's own attempt then says why


def is_view(first: bytes) -> bool:
    """Whether these first bytes are those of a VRT, GDAL's description of a raster made of others."""
    return b"<VRTDataset" in first


def drivers_for(path: str, first: bytes) -> tuple[str, ...]:
    """GDAL drivers a file may be opened with, in the order to try; empty for what is no raster here."""
    if is_view(first):
        return ("VRT",)
    for start, driver in _BY_START:
        if first.startswith(start):
            return (driver,)
    if _NAMES_ANOTHER_PLACE.search(first):
        return ()
    suffix = Path(path).suffix.lower()
    return _BY_SUFFIX.get(suffix, _OTHERS)


def check_side_files(path: str, name: str) -> None:
    """Refuse a mask or overview file beside a raster that is no GeoTIFF: GDAL would open whatever it names.

    Raises : InputProblem.
    """
    if path.startswith("/vsi"):
        return
    for ending in (".msk", ".ovr", ".MSK", ".OVR"):
        for beside in (path + ending, str(Path(path).with_suffix(ending))):
            if os.path.lexists(beside) and not (is_regular(beside) and head(beside).startswith(_TIFF_STARTS)):
                raise InputProblem(
                    Fault(
                        f"{shown_path(Path(beside).name)} beside this raster is not a GeoTIFF and would be "
                        "opened with it",
                        "remove it",
                        file=name,
                    )
                )


def open_local(path: str, name: str) -> tuple[Any, str]:
    """A local raster that is no VRT, opened with a driver settled beforehand: (data set, driver).

    Raises : RasterioError when no driver takes it; InputProblem for side files and text rasters too large.
    """
    first = head(path)
    drivers = drivers_for(path, first)
    check_side_files(path, name)
    failure: RasterioError | None = None
    for driver in drivers:
        if driver in _TEXT_DRIVERS and (size_bytes(path) or 0) > LARGEST_TEXT_RASTER_BYTES:
            raise InputProblem(
                Fault(
                    f"this text raster has more than {LARGEST_TEXT_RASTER_BYTES / 1e9:.0f} GB",
                    "write it as GeoTIFF (gdal_translate)",
                    file=name,
                )
            )
        try:
            return rasterio.open(path, driver=driver), driver
        except RasterioError as error:
            failure = failure or error
    raise failure or RasterioError("not a raster of a kind read here")

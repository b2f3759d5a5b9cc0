"""Finding and describing elevation rasters: place, resolution, vertical unit; no elevation is read here.

A raster whose file does not say its vertical unit, and whose format does not fix it, is asked about rather
than taken for metres.
"""

from __future__ import annotations

import math
import os
import re
import warnings
import zipfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError
from rasterio.errors import NotGeoreferencedWarning, RasterioError

from reach.errors import Fault, InputProblem
from reach.geodesy import METRES_PER_DEGREE
from reach.lists import named
from reach.terrain.vertical_units import UNIT_IN_METRES, unit_named, unit_of_factor

# No raster is fetched over a network, even when a VRT asks for it.
GDAL_OPTIONS: Mapping[str, Any] = {
    "GDAL_CACHEMAX": 96_000_000,  # bytes
    "GDAL_PAM_ENABLED": "NO",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".offline",
    "GDAL_HTTP_MAX_RETRY": 0,
}

RASTER_SUFFIXES = frozenset(
    f".{s}"
    for s in re.findall(
        r"\S+", "tif tiff gtiff hgt vrt img dem asc grd bil bip bsq flt dt0 dt1 dt2 adf jp2 nc ter xyz"
    )
)
SIDE_FILES = frozenset(
    f".{s}"
    for s in re.findall(
        r"\S+",
        "xml ovr prj tfw hdr aux txt md rst html htm pdf csv tsv json geojson toml yaml yml ini py ipynb "
        "sh bat png jpg jpeg gif webp svg kml kmz gpx log "
        "doc docx xls xlsx ods odt gz 7z db sqlite gpkg shp shx dbf "
        "cpg sbn sbx msk num swb err qgz qgs part crdownload",
    )
)

NOT_HEIGHTS = frozenset({"uint8", "int8", "complex64", "complex128", "complex_int16"})

# What a VRT may do to its sources' values.
RESCALING = re.compile(r"<(ScaleOffset|ScaleRatio|LUT|Exponent|PixelFunctionType|KernelFilteredSource)\b")
# Names of Copernicus DEM tiles (GLO-30 "10", GLO-90 "30"; arc seconds times ten), metres by specification.
COPERNICUS_NAME = re.compile(r"copernicus_dsm_(cog_)?(10|30)_[ns]\d{2}_00_[ew]\d{3}_00", re.IGNORECASE)
SURFACE_NAME = re.compile(r"(^|[_\-. ])dsm([_\-. ]|$)", re.IGNORECASE)

# Horizontal datums that agree with WGS 84 within about 2 m, far less than a pixel.
SAME_AS_WGS84 = (
    "world geodetic system 1984", "wgs 84", "wgs84", "north american datum 1983", "nad83", "etrs89", "gda94",
    "european terrestrial reference system 1989", "gda2020", "nzgd2000", "sirgas 2000", "jgd2000", "jgd2011",
)  # fmt: skip


@dataclass(frozen=True)
class TileInfo:
    """One elevation raster.

    path : what GDAL opens (a /vsizip/ path for one inside a zip); name : for messages.
    bounds : (west, south, east, north), degrees, outer edges of the pixels.
    resolution_m : the larger side of a pixel, m, at the raster's middle; smaller is finer.
    crs : horizontal coordinate system, as text. unit : 'm', 'ft' or 'us-ft' of the stored values.
    unit_from : where the unit was learnt, in words.
    transform, width, height : pixel grid. scale, offset : stored value times scale plus offset, in `unit`.
    is_surface_model : heights include trees and roofs.
    is_plain : columns run along longitude and rows along latitude, so no reprojection is needed.
    """

    path: str
    name: str
    bounds: tuple[float, float, float, float]
    resolution_m: float
    crs: str
    unit: str
    unit_from: str
    transform: Affine
    width: int
    height: int
    scale: float = 1.0
    offset: float = 0.0
    is_surface_model: bool = False
    is_plain: bool = True

    @property
    def metres_per_unit(self) -> float:
        """Factor from the stored unit to metres."""
        return UNIT_IN_METRES[self.unit]

    def touches(self, west: float, south: float, east: float, north: float, *, margin_px: float) -> bool:
        """Whether a box of degrees comes within a margin of this raster's, round the globe."""
        down = margin_px * self.resolution_m / METRES_PER_DEGREE
        if self.bounds[3] + down < south or self.bounds[1] - down > north:
            return False
        across = down / max(0.01, math.cos(math.radians(min(89.0, abs(south), abs(north)))))
        between = ((self.bounds[0] + self.bounds[2] - west - east) / 2.0 + 180.0) % 360.0 - 180.0
        return abs(between) <= (self.bounds[2] - self.bounds[0] + east - west) / 2.0 + across

    def holds(
        self, latitude: NDArray[np.float64], longitude: NDArray[np.float64], *, margin_deg: float
    ) -> NDArray[np.bool_]:
        """Which points lie in this raster's box of degrees, widened by a margin."""
        west, south, east, north = self.bounds
        inside: NDArray[np.bool_] = (latitude >= south - margin_deg) & (latitude <= north + margin_deg)
        inside &= np.abs(np.mod(longitude - (west + east) / 2.0 + 180.0, 360.0) - 180.0) <= (
            (east - west) / 2.0 + margin_deg
        )
        return inside


class _UnknownUnit(Exception):
    """A raster that does not say its vertical unit."""


def split_crs(wkt: str) -> tuple[CRS, str | None]:
    """Horizontal part of a coordinate system and the unit of its vertical part (None when it has none)."""
    crs = CRS.from_wkt(wkt)
    unit: str | None = None
    if crs.is_compound:
        for part in crs.sub_crs_list:
            if part.is_vertical and part.axis_info:
                unit = unit_named(part.axis_info[0].unit_name) or unit_of_factor(
                    part.axis_info[0].unit_conversion_factor
                )
        crs = crs.sub_crs_list[0]
    elif len(crs.axis_info) == 3:
        axis = crs.axis_info[2]
        unit = unit_named(axis.unit_name) or unit_of_factor(axis.unit_conversion_factor)
        crs = crs.to_2d()
    return crs, unit


def is_latitude_longitude(crs: CRS) -> bool:
    """True for degrees on a datum that agrees with WGS 84 within about 2 m."""
    if not crs.is_geographic or any(
        abs(axis.unit_conversion_factor - math.pi / 180.0) > 1e-12 for axis in crs.axis_info
    ):
        return False
    datum = (crs.datum.name if crs.datum is not None else crs.name).lower().replace("_", " ")
    return any(known in datum for known in SAME_AS_WGS84)


def from_wgs84(crs: str) -> Transformer:
    """Transformer from (longitude, latitude) in degrees to the (x, y) of a raster."""
    return Transformer.from_crs("EPSG:4326", crs, always_xy=True)


def lonlat_bounds(crs: CRS, transform: Affine, width: int, height: int) -> tuple[float, float, float, float]:
    """Longitude-latitude box around a raster, from points along its outline (densified when projected)."""
    share = [i / 20.0 for i in range(21)]
    outline = [(s * width, e * height) for s in share for e in (0.0, 1.0)] + [
        (e * width, s * height) for s in share for e in (0.0, 1.0)
    ]
    x = [transform.c + transform.a * col + transform.b * row for col, row in outline]
    y = [transform.f + transform.d * col + transform.e * row for col, row in outline]
    if not is_latitude_longitude(crs):
        x, y = Transformer.from_crs(crs, "EPSG:4326", always_xy=True).transform(x, y)
    return float(min(x)), float(min(y)), float(max(x)), float(max(y))


def pixel_size_m(crs: CRS, transform: Affine, latitude_deg: float) -> float:
    """Larger side of a pixel, m."""
    across = math.hypot(transform.a, transform.d)
    down = math.hypot(transform.b, transform.e)
    if crs.is_geographic:
        degrees = crs.axis_info[0].unit_conversion_factor * 180.0 / math.pi
        across *= METRES_PER_DEGREE * degrees * math.cos(math.radians(latitude_deg))
        down *= METRES_PER_DEGREE * degrees
    else:
        across *= crs.axis_info[0].unit_conversion_factor
        down *= crs.axis_info[0].unit_conversion_factor
    return max(across, down)


def raster_paths(folders: Sequence[str | Path]) -> Iterator[tuple[str, str, bool] | Fault]:
    """Candidate rasters below folders (or single files), in a fixed order.

    Yields : (GDAL path, name for messages, True when the file name promises a raster), or a Fault for a
        folder that is not there or a zip that cannot be read.
    """
    for given in folders:
        root = Path(given)
        if root.is_file():
            files = [root]
        elif root.is_dir():
            files = sorted(Path(base) / name for base, _, names in os.walk(root) for name in names)
        else:
            yield Fault(
                f"the terrain folder {given} does not exist",
                "make it, or correct folders under [terrain] in net.toml",
            )
            continue
        for file in files:
            suffix = file.suffix.lower()
            if file.name.startswith(".") or suffix in SIDE_FILES:
                continue
            if suffix != ".zip":
                yield str(file), file.name, suffix in RASTER_SUFFIXES
                continue
            try:
                with zipfile.ZipFile(file) as archive:
                    members = sorted(
                        n
                        for n in archive.namelist()
                        if Path(n).suffix.lower() in RASTER_SUFFIXES and not n.startswith("__MACOSX")
                    )
            except (zipfile.BadZipFile, OSError):
                yield Fault(
                    "this zip file cannot be read; it is damaged or not fully downloaded",
                    "fetch it again or remove it",
                    file=str(file),
                )
                continue
            for member in members:
                yield f"/vsizip/{{{file.resolve()}}}/{member}", f"{file.name}: {member}", True


def describe(path: str, name: str, elevation_unit: str) -> TileInfo:
    """Open one raster and read its description.

    Raises : RasterioError when GDAL cannot open it; _UnknownUnit; InputProblem when it holds no elevation.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", NotGeoreferencedWarning)
        with rasterio.open(path) as data:
            if data.crs is None:
                raise InputProblem(
                    Fault(
                        "this raster does not say its coordinate system",
                        "add it (gdal_translate -a_srs) or remove the file",
                        file=name,
                    )
                )
            kind = data.dtypes[0] if data.count else "nothing"
            if data.count != 1 or kind in NOT_HEIGHTS:
                raise InputProblem(
                    Fault(
                        f"this raster holds {data.count} band(s) of {kind}: a picture or classes,"
                        " no elevation",
                        "move it out of the terrain folder",
                        file=name,
                    )
                )
            try:
                crs, vertical = split_crs(data.crs.to_wkt())
            except CRSError as error:
                raise InputProblem(
                    Fault(
                        f"the coordinate system of this raster is not understood ({error})",
                        "give it another (gdalwarp)",
                        file=name,
                    )
                ) from error
            unit, unit_from = _unit_of(data, path, vertical, elevation_unit)
            bounds = lonlat_bounds(crs, data.transform, data.width, data.height)
            if not all(math.isfinite(v) for v in bounds):
                raise InputProblem(
                    Fault(
                        "the position of this raster cannot be worked out from its coordinate system",
                        "give it another (gdalwarp)",
                        file=name,
                    )
                )
            straight = data.transform.b == 0.0 and data.transform.d == 0.0
            return TileInfo(
                path=path,
                name=name,
                bounds=bounds,
                resolution_m=pixel_size_m(crs, data.transform, (bounds[1] + bounds[3]) / 2.0),
                crs=crs.to_wkt() if crs.to_epsg() is None else f"EPSG:{crs.to_epsg()}",
                unit=unit,
                unit_from=unit_from,
                transform=data.transform,
                width=data.width,
                height=data.height,
                scale=float(data.scales[0]),
                offset=float(data.offsets[0]),
                is_surface_model=bool(COPERNICUS_NAME.search(name) or SURFACE_NAME.search(Path(path).stem)),
                is_plain=straight and is_latitude_longitude(crs),
            )


def _unit_of(data: Any, path: str, vertical: str | None, elevation_unit: str) -> tuple[str, str]:
    if (unit := unit_named(data.units[0])) is not None:
        return unit, "the raster's band"
    if vertical is not None:
        return vertical, "the raster's vertical coordinate system"
    for tags in (data.tags(1), data.tags()):
        for key, value in tags.items():
            if key.lower() in {"units", "unit", "unittype", "vertical_units", "verticalunits", "zunits"} and (
                unit := unit_named(value)
            ):
                return unit, f"the raster's {key} tag"
    if COPERNICUS_NAME.search(Path(path).name):
        return "m", "the Copernicus DEM specification"
    if data.driver == "VRT" and (unit := _unit_of_sources(data)) is not None:
        return unit, "the rasters it is made of"
    if elevation_unit:
        return elevation_unit, "terrain.elevation_unit in net.toml"
    raise _UnknownUnit


def _unit_of_sources(view: Any) -> str | None:
    """The unit all rasters of a plain VRT share; None when one does not say or the VRT alters values.

    gdalbuildvrt does not carry the unit over.
    """
    if RESCALING.search(view.tags(ns="xml:VRT").get("xml:VRT", "")):
        return None
    units = set()
    for path in view.files[1:]:
        try:
            with rasterio.open(path) as source:
                if source.driver == "VRT":
                    return None
                _, vertical = split_crs(source.crs.to_wkt()) if source.crs else (None, None)
                units.add(_unit_of(source, path, vertical, "")[0])
        except (RasterioError, CRSError, _UnknownUnit):
            return None
    return units.pop() if len(units) == 1 else None


def find_tiles(folders: Sequence[str | Path], *, elevation_unit: str = "") -> tuple[TileInfo, ...]:
    """Describe every elevation raster below the folders, finest first, then by name.

    elevation_unit : 'm' or 'ft' for rasters that do not say; '' when the user declared none.
    Raises : InputProblem with every unreadable raster and one fault for all rasters of unknown unit.
    """
    if elevation_unit not in ("", "m", "ft"):
        raise InputProblem(
            Fault(
                f'"{elevation_unit}" is not a unit of elevation',
                'write "m" or "ft"',
                file="net.toml",
                column="terrain.elevation_unit",
            )
        )
    tiles: list[TileInfo] = []
    faults: list[Fault] = []
    silent: list[str] = []
    with rasterio.Env(**GDAL_OPTIONS):
        for found in raster_paths(folders):
            if isinstance(found, Fault):
                faults.append(found)
                continue
            path, name, promised = found
            try:
                tiles.append(describe(path, name, elevation_unit))
            except _UnknownUnit:
                silent.append(name)
            except InputProblem as problem:
                faults += problem.faults if promised else ()
            except RasterioError as error:
                if promised:
                    faults.append(_unreadable(path, name, error))
    if silent:
        faults.append(
            Fault(
                f"these elevation files do not say whether they are in metres or feet: "
                f"{named(silent, most=5)}",
                'find out from whoever published them, then write elevation_unit = "m" (or "ft") '
                "under [terrain] in net.toml",
                file="net.toml",
                column="terrain.elevation_unit",
            )
        )
    if faults:
        raise InputProblem(faults)
    return tuple(sorted(tiles, key=lambda tile: (round(tile.resolution_m, 2), tile.path)))


def _unreadable(path: str, name: str, error: Exception) -> Fault:
    if Path(path).suffix.lower() == ".hgt":
        return Fault(
            "this .hgt file cannot be read: it is cut short or renamed "
            "(the format takes its place from a name like N42W072.hgt)",
            "fetch it again under its own name, or remove it",
            file=name,
        )
    return Fault(
        f"this raster cannot be read ({' '.join(str(error).split())})",
        "fetch it again or remove it",
        file=name,
    )

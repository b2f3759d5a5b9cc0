"""Finding and describing elevation rasters: place, resolution, vertical unit; no elevation is read here.

A raster whose file does not say its vertical unit, and whose format does not fix it, is asked about rather
than taken for metres.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import NDArray
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError
from rasterio.errors import RasterioError

from reach.errors import Fault, InputProblem
from reach.geodesy import METRES_PER_DEGREE
from reach.lists import named
from reach.terrain.candidates import Candidate, candidates
from reach.terrain.heights import Heights, heights_of
from reach.terrain.local_files import GDAL_OPTIONS
from reach.terrain.opening import Opened, open_raster
from reach.terrain.vertical_units import UNIT_IN_METRES, unit_named, unit_of_factor

NOT_HEIGHTS = frozenset({"uint8", "int8", "complex64", "complex128", "complex_int16"})

# Names of Copernicus DEM tiles (GLO-30 "10", GLO-90 "30"; arc seconds times ten), metres by specification.
COPERNICUS_NAME = re.compile(r"copernicus_dsm_(cog_)?(10|30)_[ns]\d{2}_00_[ew]\d{3}_00", re.IGNORECASE)
MOST_PIXELS = 1_000_000_000_000  # a country on 1 m pixels has a quarter of this

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
    opened_as, driver : what GDAL is given instead of the path, and the one driver it may use.
    heights : bare ground, or a surface with trees and roofs in it.
    has_holes : a GeoTIFF of which blocks may never have been written; GDAL would make up zeros for them.
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
    opened_as: str = ""
    driver: str = "GTiff"
    heights: Heights = Heights.UNSAID
    has_holes: bool = False
    is_plain: bool = True

    @property
    def is_surface_model(self) -> bool:
        """Whether its heights include trees and roofs."""
        return self.heights is Heights.SURFACE

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
    """Longitude-latitude box around a raster, from points along its outline (densified when projected).

    One that reaches over the antimeridian goes on past 180 degrees; one that holds a pole goes all round.
    """
    share = [i / 20.0 for i in range(21)]
    outline = [(s * width, e * height) for s in share for e in (0.0, 1.0)] + [
        (e * width, s * height) for s in share for e in (0.0, 1.0)
    ]
    x = np.array([transform.c + transform.a * col + transform.b * row for col, row in outline])
    y = np.array([transform.f + transform.d * col + transform.e * row for col, row in outline])
    if is_latitude_longitude(crs):
        return float(x.min()), float(y.min()), float(x.max()), float(y.max())
    back = Transformer.from_crs(crs, "EPSG:4326", always_xy=True)
    lon, lat = (np.asarray(v, dtype=np.float64) for v in back.transform(x, y))
    south, north = float(lat.min()), float(lat.max())
    middle_lon, _ = back.transform(
        transform.c + transform.a * width / 2.0 + transform.b * height / 2.0,
        transform.f + transform.d * width / 2.0 + transform.e * height / 2.0,
    )
    for pole in (-90.0, 90.0):
        px, py = from_wgs84(crs.to_wkt()).transform(0.0, pole)
        if math.isfinite(px) and math.isfinite(py):
            column, row = ~transform @ (px, py)
            if 0.0 <= column <= width and 0.0 <= row <= height and not crs.is_geographic:
                return -180.0, min(south, pole), 180.0, max(north, pole)
    if not (math.isfinite(middle_lon) and np.isfinite(lon).all()):
        return math.nan, south, math.nan, north
    away = np.mod(lon - middle_lon + 180.0, 360.0) - 180.0
    return float(middle_lon + away.min()), south, float(middle_lon + away.max()), north


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


def describe(candidate: Candidate, elevation_unit: str) -> TileInfo:
    """Open one raster and read its description.

    Raises : RasterioError when GDAL cannot open it; _UnknownUnit; InputProblem when it holds no elevation or
        shows what cannot be vouched for.
    """
    name = candidate.name

    def refuse(problem: str, fix: str) -> InputProblem:
        return InputProblem(Fault(problem, fix, file=name))

    opened = open_raster(candidate.path, name)
    with opened.data as data:
        kind = data.dtypes[0] if data.count else "nothing"
        if data.count != 1 or kind in NOT_HEIGHTS:
            raise refuse(
                f"this raster holds {data.count} band(s) of {kind}: a picture or classes, no elevation",
                "move it out of the terrain folder",
            )
        if data.width * data.height > MOST_PIXELS:
            raise refuse(
                f"this raster has {data.width} x {data.height} pixels, more than a country needs",
                "cut out the part you need (gdalwarp -te)",
            )
        if data.crs is None:
            raise refuse(
                "this raster does not say its coordinate system",
                "add it (gdal_translate -a_srs) or remove the file",
            )
        try:
            crs, vertical = split_crs(data.crs.to_wkt())
            if not (crs.is_geographic or crs.is_projected):
                raise refuse(
                    f'the coordinate system of this raster ("{crs.name[:60]}") is a local one, '
                    "with no place on the Earth",
                    "give it the right one (gdal_translate -a_srs)",
                )
            unit, unit_from = _unit_of(data, opened, name, vertical, elevation_unit)
            bounds = lonlat_bounds(crs, data.transform, data.width, data.height)
        except (CRSError, ProjError) as error:
            told = " ".join(str(error).split())[:120]
            raise refuse(
                f"the coordinate system of this raster is not understood ({told})",
                "give it another (gdalwarp)",
            ) from error
        pixel_m = pixel_size_m(crs, data.transform, (bounds[1] + bounds[3]) / 2.0)
        area = abs(data.transform.determinant)  # of a pixel, in the raster's own units
        if not (all(math.isfinite(v) for v in (*bounds, pixel_m)) and math.isfinite(area) and area > 0.0):
            raise refuse(
                "the position of this raster cannot be worked out from its coordinate system",
                "give it another (gdalwarp)",
            )
        straight = data.transform.b == 0.0 and data.transform.d == 0.0
        tags = [*data.tags().values(), *data.tags(1).values(), *(d for d in data.descriptions if d)]
        return TileInfo(
            path=candidate.path,
            name=name,
            bounds=bounds,
            resolution_m=pixel_m,
            crs=crs.to_wkt() if crs.to_epsg() is None else f"EPSG:{crs.to_epsg()}",
            unit=unit,
            unit_from=unit_from,
            transform=data.transform,
            width=data.width,
            height=data.height,
            scale=float(data.scales[0]),
            offset=float(data.offsets[0]),
            opened_as=opened.opened_as,
            driver=opened.driver,
            heights=_heights_of(candidate, tags, opened),
            has_holes=opened.has_holes,
            is_plain=straight and is_latitude_longitude(crs),
        )


def _heights_of(candidate: Candidate, tags: list[str], opened: Opened) -> Heights:
    """What a raster's heights are of; a VRT that does not say follows what it shows."""
    if COPERNICUS_NAME.search(candidate.name):
        return Heights.SURFACE
    stem = candidate.name.rpartition(": ")[2]
    said = heights_of(name=stem, tags=tags, folders=candidate.folders, driver=opened.driver)
    if said is Heights.UNSAID and opened.sources:
        of_sources = {
            heights_of(
                name=Path(source).name,
                tags=(),
                folders=(Path(source).parent.name,),
                driver="SRTMHGT" if source.lower().endswith(".hgt") else "",
            )
            for source in opened.sources
        }
        return Heights.SURFACE if Heights.SURFACE in of_sources else said
    return said


def _unit_of(
    data: Any, opened: Opened, name: str, vertical: str | None, elevation_unit: str
) -> tuple[str, str]:
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
    if COPERNICUS_NAME.search(name):
        return "m", "the Copernicus DEM specification"
    if (unit := _unit_of_sources(opened)) is not None:
        return unit, "the rasters it is made of"
    if elevation_unit:
        return elevation_unit, "terrain.elevation_unit in net.toml"
    raise _UnknownUnit


def _unit_of_sources(view: Opened) -> str | None:
    """The unit all rasters of a plain VRT share; None when one does not say or the VRT alters values.

    gdalbuildvrt does not carry the unit over.
    """
    if view.rescales:
        return None
    units = set()
    for path in view.sources:
        try:
            opened = open_raster(path, path)
            with opened.data as source:
                if opened.sources:
                    return None
                _, vertical = split_crs(source.crs.to_wkt()) if source.crs else (None, None)
                units.add(_unit_of(source, opened, Path(path).name, vertical, "")[0])
        except (RasterioError, CRSError, InputProblem, _UnknownUnit):
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
        for found in candidates(folders):
            if isinstance(found, Fault):
                faults.append(found)
                continue
            try:
                tiles.append(describe(found, elevation_unit))
            except _UnknownUnit:
                silent.append(found.name)
            except InputProblem as problem:
                faults += problem.faults if found.is_promised else ()
            except RasterioError as error:
                if found.is_promised:
                    faults.append(_unreadable(found.path, found.name, error))
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

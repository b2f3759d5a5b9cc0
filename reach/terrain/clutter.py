"""What covers the ground: land-cover classes, their P.1812 categories and representative heights.

Class codes are those of ESA WorldCover (10..100) and of CORINE Land Cover level 3 (111..523). Categories and
the terminal reference height R are those of Rec. ITU-R P.1812 (same R in Rec. ITU-R P.2108, 3.1); which class
goes to which category is this package's own judgement. Along the path the height added to the ground is the
category's, and zero over water and open land.

An antenna among trees or houses: P.1812 from edition 6 on has no loss of its own for that; the terminals
stand on bare ground and what stands beside them acts through the profile, as an edge. How far beside then
decides: an edge 15 m high at 10, 30 or 100 m adds some 15, 11 or 5 dB at a handheld's end. So that this does
not hang on how fine the elevation tiles are, nothing is added within 27 m of either end, the separation of
terminal and clutter in P.2108, 3.1 (from memory). On 30 m tiles an end under 15 m of forest then costs about
as much as the most that Rec. ITU-R P.833 lets woodland take at 146 MHz, 11 dB. It replaces the woodland line
of the budget.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum
from itertools import pairwise
from pathlib import Path
from types import TracebackType
from typing import Any

import numpy as np
import rasterio
from affine import Affine
from numpy.typing import ArrayLike, NDArray
from pyproj import Transformer
from pyproj.exceptions import CRSError, ProjError
from rasterio.errors import RasterioError
from rasterio.warp import Resampling, reproject
from rasterio.windows import Window

from reach.errors import Fault, InputProblem
from reach.terrain.local_files import GDAL_OPTIONS, shown_path
from reach.terrain.opening import open_raster
from reach.terrain.profile import ZONE_COASTAL, ZONE_INLAND, ZONE_SEA
from reach.terrain.rasters import is_latitude_longitude, split_crs
from reach.units import metres_in_words

FloatArray = NDArray[np.float64]

BLOCK_PX = 512
BLOCKS_KEPT = 256  # of uint16: 134 MB at most
SEA_LEVEL_M = 1.0  # water no higher than this is taken for sea where the class does not tell sea from lake
COASTAL_HEIGHT_M, COASTAL_DISTANCE_M = (
    100.0,
    50_000.0,
)  # Rec. ITU-R P.1812: coastal land, below 100 m and within 50 km of sea


class Clutter(Enum):
    """Clutter categories of Rec. ITU-R P.1812."""

    WATER = "water/sea"
    OPEN = "open/rural"
    SUBURBAN = "suburban"
    URBAN_TREES = "urban/trees/forest"
    DENSE_URBAN = "dense urban"

    @property
    def terminal_height_m(self) -> float:
        """Default representative height R at a terminal, m."""
        return {"urban/trees/forest": 15.0, "dense urban": 20.0}.get(self.value, 10.0)

    @property
    def path_height_m(self) -> float:
        """Default height added to the ground along the path, m: R, and zero over water and open land."""
        return 0.0 if self in (Clutter.WATER, Clutter.OPEN) else self.terminal_height_m


WORLDCOVER: dict[int, Clutter] = {
    10: Clutter.URBAN_TREES,  # tree cover
    95: Clutter.URBAN_TREES,  # mangroves
    **dict.fromkeys(
        (20, 30, 40, 60, 70, 90, 100), Clutter.OPEN
    ),  # shrub, grass, crop, bare, snow, wetland, moss
    50: Clutter.SUBURBAN,  # built-up
    80: Clutter.WATER,
}
CORINE: dict[int, Clutter] = {
    111: Clutter.DENSE_URBAN,  # continuous urban fabric
    112: Clutter.SUBURBAN,  # discontinuous urban fabric
    121: Clutter.URBAN_TREES,  # industrial or commercial units: halls about as tall as trees
    123: Clutter.SUBURBAN,  # port areas
    133: Clutter.SUBURBAN,  # construction sites
    141: Clutter.URBAN_TREES,  # green urban areas
    **dict.fromkeys(
        (122, 124, 131, 132, 142), Clutter.OPEN
    ),  # roads and rail, airports, mines, dumps, sports grounds
    **dict.fromkeys(
        (211, 212, 213, 221, 231, 241, 242, 243), Clutter.OPEN
    ),  # arable, rice, vineyards, pasture, mixed fields
    **dict.fromkeys((222, 223, 244), Clutter.URBAN_TREES),  # fruit trees, olive groves, agro-forestry
    **dict.fromkeys((311, 312, 313), Clutter.URBAN_TREES),  # broad-leaved, coniferous, mixed forest
    **dict.fromkeys(
        (321, 322, 323, 331, 332, 333, 334, 335), Clutter.OPEN
    ),  # grass, moor, scrub, sand, rock, sparse, burnt, ice
    324: Clutter.URBAN_TREES,  # transitional woodland
    **dict.fromkeys((411, 412, 421, 422, 423), Clutter.OPEN),  # marsh, bog, salt marsh, salines, tidal flats
    **dict.fromkeys((511, 512, 521, 522, 523), Clutter.WATER),  # rivers, lakes, lagoons, estuaries, sea
}
CORINE_SEA = frozenset({521, 522, 523})
CORINE_GRID_ONLY = frozenset(range(1, 45)) - WORLDCOVER.keys()  # rasters also come numbered 1 to 44 in order
CATEGORY_OF_CODE: dict[int, Clutter] = {**WORLDCOVER, **CORINE}
NO_CLASS = 65_535
TERMINAL_CLEARING_M = 27.0  # Rec. ITU-R P.2108, 3.1, w_s (from memory)


class Zones(Enum):
    """How radio-climatic zones along a path are told."""

    INLAND = "all inland"
    FROM_WATER = "sea and coast from the water classes"


@dataclass(frozen=True)
class ClassHeight:
    """Heights of one class code. category None: unknown to the tables, height from the user."""

    code: int
    category: Clutter | None
    terminal_height_m: float
    path_height_m: float


def class_table(overrides: Iterable[tuple[str | int, float]] = ()) -> dict[int, ClassHeight]:
    """Heights of every known class, with the user's heights (code, m) put in place of the defaults.

    A user's height counts both at the terminal and along the path.
    Raises : InputProblem for every code that is not a whole number or height outside 0..200 m.
    """
    table = {
        code: ClassHeight(code, c, c.terminal_height_m, c.path_height_m)
        for code, c in CATEGORY_OF_CODE.items()
    }
    faults: list[Fault] = []
    for code, height_m in overrides:
        try:
            number = int(code)
        except ValueError:
            number = -1
        if not 0 <= number < NO_CLASS:
            faults.append(
                Fault(
                    f'"{code}" is not a land-cover class code',
                    "write the number used in the raster, e.g. 10",
                    file="net.toml",
                    column="terrain.clutter_heights_m",
                )
            )
        elif not 0.0 <= height_m <= 200.0:
            faults.append(
                Fault(
                    f"{metres_in_words(height_m)} for class {code} is outside 0 to 200 m",
                    "give a height in metres",
                    file="net.toml",
                    column="terrain.clutter_heights_m",
                )
            )
        else:
            table[number] = ClassHeight(
                number, CATEGORY_OF_CODE.get(number), float(height_m), float(height_m)
            )
    if faults:
        raise InputProblem(faults)
    return table


class LandCover:
    """A land-cover raster, nearest sampling. Close it, or use it in `with`. One instance serves one thread.

    unknown_codes : codes met so far that no table knows; they count as open ground (see `warnings`).
    """

    def __init__(
        self,
        path: str | Path,
        *,
        overrides: Iterable[tuple[str | int, float]] = (),
        zones: Zones = Zones.INLAND,
    ) -> None:
        self.path = str(path)
        self.zones = zones
        self.table = class_table(overrides)
        self.unknown_codes: set[int] = set()
        self._path_height_m = np.zeros(NO_CLASS + 1)
        self._terminal_height_m = np.full(NO_CLASS + 1, Clutter.OPEN.terminal_height_m)
        self._known = np.zeros(NO_CLASS + 1, dtype=np.bool_)
        self._known[NO_CLASS] = True
        for code, row in self.table.items():
            self._path_height_m[code], self._terminal_height_m[code], self._known[code] = (
                row.path_height_m,
                row.terminal_height_m,
                True,
            )
        self._blocks: OrderedDict[int, NDArray[np.uint16]] = OrderedDict()
        name = shown_path(Path(self.path).name)
        try:
            with rasterio.Env(**GDAL_OPTIONS):
                self._data: Any = open_raster(self.path, name).data
        except RasterioError as error:
            raise InputProblem(
                Fault(
                    "the land-cover raster cannot be read",
                    "correct land_cover under [terrain] in net.toml",
                    file=shown_path(path),
                )
            ) from error
        if (
            not self._data.count
            or self._data.crs is None
            or not np.issubdtype(np.dtype(self._data.dtypes[0]), np.integer)
        ):
            self._data.close()
            raise InputProblem(
                Fault(
                    "the land-cover raster needs a coordinate system and whole-number classes",
                    "use another file",
                    file=name,
                )
            )
        try:
            crs, _ = split_crs(self._data.crs.to_wkt())
            self._transformer = (
                None if is_latitude_longitude(crs) else Transformer.from_crs("EPSG:4326", crs, always_xy=True)
            )
        except (CRSError, ProjError):
            self._data.close()
            raise InputProblem(
                Fault(
                    "the coordinate system of the land-cover raster has no place on the Earth",
                    "give it the right one (gdal_translate -a_srs)",
                    file=name,
                )
            ) from None

    def __enter__(self) -> LandCover:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file."""
        self._data.close()

    @property
    def warnings(self) -> tuple[str, ...]:
        """Plain sentences on unknown codes met so far."""
        if not self.unknown_codes:
            return ()
        codes = ", ".join(str(code) for code in sorted(self.unknown_codes))
        name = Path(self.path).name
        if self.unknown_codes & CORINE_GRID_ONLY:
            return (
                f"{name}: class {codes} is not known and looks like CORINE's grid codes 1 to 44, whose 10 "
                "and 20 mean other things here; translate the raster to the level-3 codes 111 to 523.",
            )
        return (
            f"{name}: class {codes} is not known; taken as open ground; "
            "give its height under [terrain.clutter_heights_m] in net.toml.",
        )

    def codes(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> NDArray[np.int64]:
        """Class code of the pixel under each point, broadcast shape; NO_CLASS where the raster has none."""
        lat, lon = np.broadcast_arrays(
            np.asarray(latitude_deg, dtype=np.float64), np.asarray(longitude_deg, dtype=np.float64)
        )
        x, y = (
            (lon.ravel(), lat.ravel())
            if self._transformer is None
            else self._transformer.transform(lon.ravel(), lat.ravel())
        )
        inverse = ~self._data.transform
        with np.errstate(invalid="ignore"):
            col = np.floor(inverse.a * x + inverse.b * y + inverse.c)
            row = np.floor(inverse.d * x + inverse.e * y + inverse.f)
        inside = np.isfinite(col) & np.isfinite(row)
        inside &= (col >= 0) & (col < self._data.width) & (row >= 0) & (row < self._data.height)
        out = np.full(lat.size, NO_CLASS, dtype=np.int64)
        where = np.flatnonzero(inside)
        c, r = col[where].astype(np.int64), row[where].astype(np.int64)
        across = -(-self._data.width // BLOCK_PX)
        block = (r // BLOCK_PX) * across + c // BLOCK_PX
        by_block = np.argsort(block, kind="stable")
        edges = np.flatnonzero(np.diff(block[by_block], prepend=-1, append=-1))
        for a, b in pairwise(edges):
            part = by_block[a:b]
            values = self._block(int(block[part[0]]), across)
            out[where[part]] = values[r[part] % BLOCK_PX, c[part] % BLOCK_PX]
        found = np.unique(out)
        self.unknown_codes.update(int(code) for code in found[~self._known[found]])
        return out.reshape(lat.shape)

    def terminal_height_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
        """Representative height R at terminals, m; open ground's where the class is unknown."""
        heights: FloatArray = self._terminal_height_m[self.codes(latitude_deg, longitude_deg)]
        return heights

    def surrounding_height_m(self, latitude_deg: ArrayLike, longitude_deg: ArrayLike) -> FloatArray:
        """Height that counts along paths, m, of the class under each place: 0 in open land and on water."""
        heights: FloatArray = self._path_height_m[self.codes(latitude_deg, longitude_deg)]
        return heights

    def window_m(
        self, bounds: tuple[float, float, float, float], crs: str, resolution_m: float
    ) -> NDArray[np.float32]:
        """(rows, columns) height that counts along paths, m, of the class nearest to the middle of each pixel
        of a box of any coordinate system; 0 where the raster has none.

        bounds : (left, bottom, right, top) in crs; the grid starts at left and top.
        """
        left, bottom, right, top = bounds
        shape = (max(1, round((top - bottom) / resolution_m)), max(1, round((right - left) / resolution_m)))
        codes = np.full(shape, NO_CLASS, dtype=np.uint16)
        nodata = self._data.nodata
        try:
            with rasterio.Env(**GDAL_OPTIONS):
                reproject(
                    rasterio.band(self._data, 1),
                    codes,
                    dst_crs=crs,
                    dst_transform=Affine(resolution_m, 0.0, left, 0.0, -resolution_m, top),
                    src_nodata=0 if nodata is None else nodata,
                    dst_nodata=NO_CLASS,
                    resampling=Resampling.nearest,
                )
        except RasterioError as error:
            raise self._unreadable() from error
        found = np.flatnonzero(np.bincount(codes.ravel(), minlength=NO_CLASS + 1))
        self.unknown_codes.update(int(code) for code in found[~self._known[found]])
        heights: NDArray[np.float32] = self._path_height_m.astype(np.float32)[codes]
        return heights

    def category_at(self, latitude_deg: float, longitude_deg: float) -> Clutter | None:
        """Category under a place; None outside the raster or for a class no table knows."""
        return CATEGORY_OF_CODE.get(int(self.codes(latitude_deg, longitude_deg)))

    def along(
        self,
        latitude_deg: FloatArray,
        longitude_deg: FloatArray,
        *,
        start: NDArray[np.int64],
        distance_m: FloatArray,
        ground_m: FloatArray,
    ) -> tuple[FloatArray, NDArray[np.int8]]:
        """Clutter height above ground, m, and zone of every point of a ragged batch of paths.

        start : (paths + 1,) as in ProfileBatch; the rest (start[-1],). No clutter within TERMINAL_CLEARING_M
        of either end.
        """
        codes = self.codes(latitude_deg, longitude_deg)
        to_go_m = np.repeat(distance_m[start[1:] - 1], np.diff(start)) - distance_m
        clear = np.minimum(distance_m, to_go_m) < TERMINAL_CLEARING_M
        clutter: FloatArray = np.where(clear, 0.0, self._path_height_m[codes])
        zone = np.full(codes.shape, ZONE_INLAND, dtype=np.int8)
        if self.zones is Zones.FROM_WATER:
            sea = np.isin(codes, sorted(CORINE_SEA)) | ((codes == 80) & (ground_m <= SEA_LEVEL_M))
            for p in range(start.size - 1):
                part = slice(int(start[p]), int(start[p + 1]))
                zone[part] = _zones_of_path(sea[part], distance_m[part], ground_m[part])
        return clutter, zone

    def _unreadable(self) -> InputProblem:
        name = Path(self.path).name
        return InputProblem(
            Fault("the land-cover raster cannot be read to its end", "fetch it again", file=name)
        )

    def _block(self, number: int, across: int) -> NDArray[np.uint16]:
        if number in self._blocks:
            self._blocks.move_to_end(number)
            return self._blocks[number]
        r, c = divmod(number, across)
        window = Window(
            c * BLOCK_PX,
            r * BLOCK_PX,
            min(BLOCK_PX, self._data.width - c * BLOCK_PX),
            min(BLOCK_PX, self._data.height - r * BLOCK_PX),
        )
        try:
            read = self._data.read(1, window=window, masked=True)
        except RasterioError as error:
            raise self._unreadable() from error
        values = np.clip(read.astype(np.int64).filled(NO_CLASS), 0, NO_CLASS)
        values[values == 0] = NO_CLASS  # 0 is 'no data' in WorldCover
        block: NDArray[np.uint16] = values.astype(np.uint16)
        if len(self._blocks) >= BLOCKS_KEPT:
            self._blocks.popitem(last=False)
        self._blocks[number] = block
        return block


def _zones_of_path(sea: NDArray[np.bool_], distance_m: FloatArray, ground_m: FloatArray) -> NDArray[np.int8]:
    zone = np.full(sea.shape, ZONE_INLAND, dtype=np.int8)
    if not sea.any():
        return zone
    at_sea = distance_m[sea]
    after = np.clip(np.searchsorted(at_sea, distance_m), 0, at_sea.size - 1)
    nearest = np.minimum(
        np.abs(at_sea[after] - distance_m), np.abs(distance_m - at_sea[np.maximum(after - 1, 0)])
    )
    zone[(nearest <= COASTAL_DISTANCE_M) & (ground_m < COASTAL_HEIGHT_M)] = ZONE_COASTAL
    zone[sea] = ZONE_SEA
    return zone

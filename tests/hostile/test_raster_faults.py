"""Broken, half-written and lying rasters: ground is right, a gap, or refused by name; never made up.

The land is a plane, so the right height of any place is known without a tile. Each case makes one folder of
tiles; what then comes out is compared with the plane.
"""

from __future__ import annotations

import os
import zipfile
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import rasterio
from numpy.typing import NDArray
from rasterio.transform import Affine, from_origin
from rasterio.windows import Window

from reach.errors import InputProblem, MissingTerrain
from reach.stations import Position
from reach.terrain.sampling import path_gaps, sample_profile
from reach.terrain.tiles import Terrain

SIDE = 256
STEP_DEG = 1.0 / 1200.0
WEST, NORTH = -72.0, 42.0
LON, LAT = np.meshgrid(WEST + (np.arange(SIDE) + 0.5) * STEP_DEG, NORTH - (np.arange(SIDE) + 0.5) * STEP_DEG)


def plane(latitude: NDArray[np.float64], longitude: NDArray[np.float64]) -> NDArray[np.float64]:
    """Heights of the land, m: 120 to 700, so that 0 is wrong everywhere."""
    return 300.0 + 1000.0 * (latitude - 41.9) + 1500.0 * (longitude + 71.9)


HEIGHTS = np.round(plane(LAT, LON))


def tif(
    path: Path,
    *,
    heights: NDArray[np.float64] = HEIGHTS,
    dtype: str = "int16",
    unit: str = "m",
    west: float = WEST,
    windows: tuple[tuple[int, int, int, int], ...] = ((0, 0, SIDE, SIDE),),
    driver: str = "GTiff",
    **options: object,
) -> Path:
    """A tile of the land; windows (column, row, columns, rows) are what is written of it."""
    profile = {
        "driver": driver, "width": SIDE, "height": SIDE, "count": 1, "dtype": dtype, "crs": "EPSG:4326",
        "transform": from_origin(west, NORTH, STEP_DEG, STEP_DEG),
    }  # fmt: skip
    path.parent.mkdir(parents=True, exist_ok=True)
    with rasterio.open(path, "w", **(profile | options)) as data:
        for column, row, columns, rows in windows:
            part = heights[row : row + rows, column : column + columns].astype(dtype)
            data.write(part, 1, window=Window(column, row, columns, rows))
        if unit and driver == "GTiff":
            data.set_band_unit(1, unit)
    return path


def cut(path: Path, *, by: int = 0, to_share: float = 1.0) -> None:
    content = path.read_bytes()
    path.write_bytes(content[: int(len(content) * to_share) - by])


def vrt(path: Path, inside: str, *, band: str = "", unit: str = "m", extra: str = "") -> None:
    path.write_text(
        f'<VRTDataset rasterXSize="{SIDE}" rasterYSize="{SIDE}"><SRS>EPSG:4326</SRS>'
        f"<GeoTransform>{WEST},{STEP_DEG},0,{NORTH},0,{-STEP_DEG}</GeoTransform>"
        f'<VRTRasterBand dataType="Int16" band="1" {band}><UnitType>{unit}</UnitType>{inside}</VRTRasterBand>'
        f"{extra}</VRTDataset>",
        encoding="utf-8",
    )


def source(
    name: str, *, kind: str = "SimpleSource", columns: int = SIDE, inside: str = "", relative: int = 1
) -> str:
    return (
        f'<{kind}><SourceFilename relativeToVRT="{relative}">{name}</SourceFilename>'
        f'<SourceBand>1</SourceBand><SrcRect xOff="0" yOff="0" xSize="{columns}" ySize="{SIDE}"/>'
        f'<DstRect xOff="0" yOff="0" xSize="{columns}" ySize="{SIDE}"/>{inside}</{kind}>'
    )


def holed(value: float) -> NDArray[np.float64]:
    """The land with a band of a value across it from west to east."""
    heights = HEIGHTS.copy()
    heights[100:140, :] = value
    return heights


CASES: dict[str, Callable[[Path], object]] = {}
NEEDS_REFUSAL: set[str] = set()
NEEDS_READING: set[str] = set()


def case(*, refused: bool = False) -> Callable[[Callable[[Path], object]], Callable[[Path], object]]:
    def add(build: Callable[[Path], object]) -> Callable[[Path], object]:
        CASES[build.__name__] = build
        (NEEDS_REFUSAL if refused else NEEDS_READING).add(build.__name__)
        return build

    return add


# pixels that GDAL makes up ---------------------------------------------------------------------------------


@case()
def vrt_with_an_uncovered_half(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif")
    vrt(folder / "a.vrt", source("../data/a.tif", columns=SIDE // 2))


@case()
def vrt_without_any_source(folder: Path) -> None:
    vrt(folder / "a.vrt", "")


@case()
def vrt_over_a_source_with_voids_of_zero(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif", heights=holed(0), nodata=0)
    vrt(folder / "a.vrt", source("../data/a.tif"))


@case()
def vrt_over_a_source_with_a_mask(folder: Path) -> None:
    path = tif(folder.parent / "data" / "a.tif", heights=holed(0))
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as data:
        data.write_mask(holed(0) == HEIGHTS)
    vrt(folder / "a.vrt", source("../data/a.tif"))


@case()
def vrt_that_hides_its_nodata(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif", heights=holed(-32768), nodata=-32768)
    inside = source("../data/a.tif", kind="ComplexSource", inside="<NODATA>-32768</NODATA>")
    vrt(folder / "a.vrt", f"<NoDataValue>0</NoDataValue><HideNoDataValue>1</HideNoDataValue>{inside}")


@case()
def vrt_of_a_vrt_with_an_uncovered_half(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif")
    vrt(folder.parent / "data" / "inner.vrt", source("a.tif", columns=SIDE // 2))
    vrt(folder / "a.vrt", source("../data/inner.vrt"))


@case(refused=True)
def vrt_of_itself(folder: Path) -> None:
    vrt(folder / "a.vrt", source("a.vrt"))


@case(refused=True)
def vrt_over_a_source_that_is_not_there(folder: Path) -> None:
    vrt(folder / "a.vrt", source("gone.tif"))


@case(refused=True)
def vrt_over_a_source_cut_short(folder: Path) -> None:
    cut(tif(folder.parent / "data" / "a.tif"), to_share=0.5)
    vrt(folder / "a.vrt", source("../data/a.tif"))


@case(refused=True)
def vrt_over_a_source_never_written_in_full(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif", windows=((0, 0, 128, 128),), tiled=True, blockxsize=128,
        blockysize=128, SPARSE_OK=True)  # fmt: skip
    vrt(folder / "a.vrt", source("../data/a.tif"))


@case(refused=True)
def raw_vrt_over_a_short_file(folder: Path) -> None:
    data = folder.parent / "data"
    data.mkdir(parents=True)
    (data / "a.bin").write_bytes(HEIGHTS.astype("<i2").tobytes()[: SIDE * SIDE])
    vrt(folder / "a.vrt", '<SourceFilename relativeToVRT="1">../data/a.bin</SourceFilename>',
        band='subClass="VRTRawRasterBand"')  # fmt: skip


@case()
def raw_vrt_over_a_whole_file(folder: Path) -> None:
    data = folder.parent / "data"
    data.mkdir(parents=True)
    (data / "a.bin").write_bytes(HEIGHTS.astype("<i2").tobytes())
    vrt(folder / "a.vrt", '<SourceFilename relativeToVRT="1">../data/a.bin</SourceFilename>',
        band='subClass="VRTRawRasterBand"')  # fmt: skip


@case(refused=True)
def raw_vrt_that_reads_backwards(folder: Path) -> None:
    data = folder.parent / "data"
    data.mkdir(parents=True)
    (data / "a.bin").write_bytes(HEIGHTS.astype("<i2").tobytes())
    vrt(folder / "a.vrt", '<SourceFilename relativeToVRT="1">../data/a.bin</SourceFilename>'
        "<LineOffset>-512</LineOffset>", band='subClass="VRTRawRasterBand"')  # fmt: skip


@case(refused=True)
def warped_vrt(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif")
    (folder / "a.vrt").write_text(
        f'<VRTDataset rasterXSize="{SIDE}" rasterYSize="{SIDE}" subClass="VRTWarpedDataset">'
        f"<SRS>EPSG:4326</SRS><GeoTransform>{WEST},{2 * STEP_DEG},0,{NORTH},0,{-STEP_DEG}</GeoTransform>"
        '<VRTRasterBand dataType="Int16" band="1" subClass="VRTWarpedRasterBand"/><GDALWarpOptions>'
        '<SourceDataset relativeToVRT="1">../data/a.tif</SourceDataset></GDALWarpOptions></VRTDataset>',
        encoding="utf-8",
    )


@case(refused=True)
def vrt_with_a_script_in_it(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif")
    vrt(
        folder / "a.vrt",
        "<PixelFunctionType>f</PixelFunctionType><PixelFunctionLanguage>Python</PixelFunctionLanguage>"
        f"<PixelFunctionCode>import os</PixelFunctionCode>{source('../data/a.tif')}",
        band='subClass="VRTDerivedRasterBand"',
    )


@case(refused=True)
def vrt_with_entities(folder: Path) -> None:
    bomb = "".join(f'<!ENTITY e{i} "{f"&e{i - 1};" * 10 if i else "x" * 10}">' for i in range(9))
    (folder / "a.vrt").write_text(
        f'<!DOCTYPE v [{bomb}]><VRTDataset rasterXSize="2" rasterYSize="2">&e8;</VRTDataset>',
        encoding="utf-8",
    )


@case(refused=True)
def envi_with_half_its_data(folder: Path) -> None:
    cut(tif(folder / "a.img", driver="ENVI"), to_share=0.5)


@case(refused=True)
def envi_cut_by_100_bytes(folder: Path) -> None:
    cut(tif(folder / "a.img", driver="ENVI"), by=100)


@case(refused=True)
def envi_behind_a_header_offset(folder: Path) -> None:
    tif(folder / "a.img", driver="ENVI")
    header = folder / "a.hdr"
    header.write_text(header.read_text().replace("header offset = 0", "header offset = 4096"))


@case()
def sparse_geotiff(folder: Path) -> None:
    tif(folder / "a.tif", windows=((0, 0, 128, 128),), tiled=True, blockxsize=128, blockysize=128,
        SPARSE_OK=True)  # fmt: skip


@case()
def sparse_geotiff_in_strips(folder: Path) -> None:
    tif(folder / "a.tif", windows=((0, 0, SIDE, 64),), blockysize=16, SPARSE_OK=True)


@case()
def sparse_geotiff_in_a_zip(folder: Path) -> None:
    path = tif(folder.parent / "data" / "a.tif", windows=((0, 0, 128, 128),), tiled=True, blockxsize=128,
               blockysize=128, SPARSE_OK=True)  # fmt: skip
    with zipfile.ZipFile(folder / "a.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.write(path, "a.tif")


@case(refused=True)
def imagine_file_never_written_in_full(folder: Path) -> None:
    tif(folder / "a.img", driver="HFA", windows=((0, 0, 128, 128),), COMPRESSED="YES")


@case()
def imagine_file_written_in_full(folder: Path) -> None:
    tif(folder / "a.img", driver="HFA", COMPRESSED="YES")
    tif(folder / "b.img", driver="HFA")


# voids that the file does not declare ----------------------------------------------------------------------

for _name, _value, _dtype in (
    ("undeclared_minus_9999", -9999.0, "int16"),
    ("undeclared_minus_32768", -32768.0, "int16"),
    ("undeclared_minus_32767", -32767.0, "float32"),
    ("undeclared_lowest_float", -3.4e38, "float32"),
    ("undeclared_minus_infinity", -np.inf, "float32"),
    ("undeclared_plus_infinity", np.inf, "float32"),
    ("undeclared_nan", np.nan, "float32"),
    ("undeclared_largest_float", 3.4e38, "float32"),
    ("undeclared_100_km", 1e5, "float32"),
    ("undeclared_minus_100_km", -1e5, "float32"),
    ("undeclared_32767", 32767.0, "int16"),
    ("undeclared_65535", 65535.0, "uint16"),
):

    def _build(folder: Path, value: float = _value, dtype: str = _dtype) -> None:
        tif(folder / "a.tif", heights=holed(value), dtype=dtype)

    CASES[_name] = _build

for _name, _value, _nodata in (
    ("declared_zero", 0.0, 0),
    ("declared_minus_9999", -9999.0, -9999),
    ("declared_500", 500.0, 500),
):

    def _declared(folder: Path, value: float = _value, nodata: int = _nodata) -> None:
        heights = HEIGHTS.copy()
        heights[100:140] = value
        tif(folder / "a.tif", heights=heights, nodata=nodata)

    CASES[_name] = _declared


@case()
def all_nan(folder: Path) -> None:
    tif(folder / "a.tif", heights=np.full_like(HEIGHTS, np.nan), dtype="float32")


@case()
def with_a_mask(folder: Path) -> None:
    path = tif(folder / "a.tif", heights=holed(0))
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=True), rasterio.open(path, "r+") as data:
        data.write_mask(holed(0) == HEIGHTS)


@case()
def with_a_mask_beside(folder: Path) -> None:
    path = tif(folder / "a.tif", heights=holed(0))
    with rasterio.Env(GDAL_TIFF_INTERNAL_MASK=False), rasterio.open(path, "r+") as data:
        data.write_mask(holed(0) == HEIGHTS)


# damaged files ---------------------------------------------------------------------------------------------

for _share, _by in ((0.9, 0), (0.5, 0), (0.1, 0), (1.0, 100), (1.0, 1)):
    for _options in ({}, {"compress": "deflate"}, {"tiled": True, "blockxsize": 128, "blockysize": 128},
                     {"BIGTIFF": "YES"}):  # fmt: skip

        def _cut(
            folder: Path, share: float = _share, by: int = _by, options: dict[str, object] = _options
        ) -> None:
            cut(tif(folder / "a.tif", **options), to_share=share, by=by)  # type: ignore[arg-type]

        _label = (
            f"geotiff_{'_'.join(str(v) for v in _options.values()) or 'plain'}_cut_to_{_share:g}_less_{_by}"
        )
        CASES[_label] = _cut

for _driver, _suffix in (("EHdr", "bil"), ("AAIGrid", "asc"), ("HFA", "img"), ("XYZ", "xyz"), ("GSBG", "grd"),
                         ("JP2OpenJPEG", "jp2")):  # fmt: skip
    for _share, _by in ((0.5, 0), (1.0, 100)):

        def _other(
            folder: Path, driver: str = _driver, suffix: str = _suffix, share: float = _share, by: int = _by
        ) -> None:
            import rasterio.shutil

            made = tif(folder.parent / "data" / "a.tif")
            extra = {"QUALITY": "100", "REVERSIBLE": "YES"} if driver == "JP2OpenJPEG" else {}
            rasterio.shutil.copy(made, folder / f"a.{suffix}", driver=driver, **extra)
            cut(folder / f"a.{suffix}", to_share=share, by=by)

        CASES[f"{_driver}_cut_to_{_share:g}_less_{_by}"] = _other


@case(refused=True)
def hgt_cut_short(folder: Path) -> None:
    (folder / "N41W072.hgt").write_bytes(b"\1\2" * 1201 * 600)


@case(refused=True)
def empty_file(folder: Path) -> None:
    (folder / "a.tif").write_bytes(b"")


@case(refused=True)
def a_page_saved_as_a_tile(folder: Path) -> None:
    (folder / "a.tif").write_text("<html>404 not found</html>", encoding="utf-8")


@case(refused=True)
def a_zip_with_a_damaged_member(folder: Path) -> None:
    path = tif(folder.parent / "data" / "a.tif", compress="deflate")
    with zipfile.ZipFile(folder / "a.zip", "w", zipfile.ZIP_STORED) as archive:
        archive.write(path, "a.tif")
    content = bytearray((folder / "a.zip").read_bytes())
    content[40:80] = b"\xff" * 40
    (folder / "a.zip").write_bytes(content)


# absurd ones -----------------------------------------------------------------------------------------------


@case(refused=True)
def two_billion_by_two_billion(folder: Path) -> None:
    (folder / "a.vrt").write_text(
        '<VRTDataset rasterXSize="2000000000" rasterYSize="2000000000"><SRS>EPSG:4326</SRS>'
        "<GeoTransform>-72,1e-9,0,42,0,-1e-9</GeoTransform>"
        '<VRTRasterBand dataType="Int16" band="1"><UnitType>m</UnitType></VRTRasterBand></VRTDataset>',
        encoding="utf-8",
    )


@case(refused=True)
def a_number_of_5000_digits(folder: Path) -> None:
    (folder / "a.vrt").write_text(
        f'<VRTDataset rasterXSize="{"9" * 5000}" rasterYSize="2"><SRS>EPSG:4326</SRS></VRTDataset>',
        encoding="utf-8",
    )


@case(refused=True)
def a_local_coordinate_system(folder: Path) -> None:
    tif(folder / "a.tif", crs='LOCAL_CS["site grid",UNIT["metre",1]]')


@case(refused=True)
def an_engineering_system(folder: Path) -> None:
    wkt = (
        'ENGCRS["works",EDATUM["here"],CS[Cartesian,2],AXIS["x",east],AXIS["y",north],LENGTHUNIT["metre",1]]'
    )
    vrt(folder / "a.vrt", "")
    text = (folder / "a.vrt").read_text().replace("EPSG:4326", wkt.replace('"', "&quot;"))
    (folder / "a.vrt").write_text(text)


@case(refused=True)
def no_coordinate_system(folder: Path) -> None:
    tif(folder / "a.tif", crs=None)


@case(refused=True)
def pixels_of_no_size(folder: Path) -> None:
    vrt(folder / "a.vrt", "")
    text = (folder / "a.vrt").read_text().replace(str(STEP_DEG), "0")
    (folder / "a.vrt").write_text(text)


@case(refused=True)
def pixels_of_nan(folder: Path) -> None:
    vrt(folder / "a.vrt", "")
    text = (folder / "a.vrt").read_text().replace(str(STEP_DEG), "nan")
    (folder / "a.vrt").write_text(text)


@case(refused=True)
def outside_its_projection(folder: Path) -> None:
    tif(folder / "a.tif", crs="EPSG:32619", transform=Affine(1e9, 0, 1e15, 0, -1e9, 1e15))


@case()
def a_scale_of_nan(folder: Path) -> None:
    tif(folder.parent / "data" / "a.tif")
    vrt(folder / "a.vrt", f"<Scale>nan</Scale>{source('../data/a.tif')}")


# what is no file -------------------------------------------------------------------------------------------


@case(refused=True)
def a_pipe(folder: Path) -> None:
    os.mkfifo(folder / "a.tif")


@case(refused=True)
def a_device(folder: Path) -> None:
    (folder / "a.tif").symlink_to("/dev/zero")


@case(refused=True)
def a_link_to_itself(folder: Path) -> None:
    (folder / "a.tif").symlink_to(folder / "a.tif")


@case(refused=True)
def a_vrt_over_a_pipe(folder: Path) -> None:
    os.mkfifo(folder.parent / "pipe")
    vrt(folder / "a.vrt", source("../pipe"))


@case(refused=True)
def a_raw_vrt_over_a_device(folder: Path) -> None:
    vrt(folder / "a.vrt", '<SourceFilename relativeToVRT="0">/dev/zero</SourceFilename>',
        band='subClass="VRTRawRasterBand"')  # fmt: skip


@case(refused=True)
def a_name_that_is_no_text(folder: Path) -> None:
    tif(folder / "a.tif").rename(os.fsdecode(bytes(folder) + b"/\xff\xfe.tif"))


@case()
def a_link_to_a_tile_elsewhere(folder: Path) -> None:
    (folder / "a.tif").symlink_to(tif(folder.parent / "data" / "a.tif"))


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "tiles"
    made.mkdir()
    return made


@pytest.mark.skipif(os.name == "nt", reason="pipes and devices are made the POSIX way")
@pytest.mark.parametrize("name", CASES)
@pytest.mark.filterwarnings("ignore::rasterio.errors.NotGeoreferencedWarning")
def test_ground_is_right_or_a_gap_or_refused(name: str, folder: Path) -> None:
    CASES[name](folder)
    try:
        with Terrain.open([folder], elevation_unit="m") as terrain:
            found = terrain.sample(LAT, LON)
            north, south = Position(41.99, -71.9), Position(41.80, -71.9)
            gaps = list(path_gaps(terrain, [(north, south)]))
            try:
                sample_profile(terrain, north, south)
            except MissingTerrain:
                assert gaps, "what a plan stops at was not told beforehand"
            else:
                assert not gaps
    except InputProblem as problem:
        assert name not in NEEDS_READING, problem
        lines = str(problem).splitlines()
        assert lines and all(len(line) < 600 and line.isprintable() for line in lines)
        return
    assert name not in NEEDS_REFUSAL
    known = np.isfinite(found)
    np.testing.assert_allclose(found[known], plane(LAT, LON)[known], atol=2.0)


def test_the_right_reason_for_a_raster_cut_by_100_bytes(folder: Path) -> None:
    cut(tif(folder / "a.tif", compress="deflate"), by=100)
    with pytest.raises(InputProblem, match=r"a\.tif: this raster is cut short: at least \d+ bytes"):
        Terrain.open([folder], elevation_unit="m")

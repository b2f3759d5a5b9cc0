"""Rasters described by others (GDAL's VRT): read only when every file they name can be vouched for.

Where a VRT says nothing GDAL invents pixels: zero outside its sources, zero for what a source marks as void
but the VRT does not, zero past the end of a raw file. So a VRT is not opened as it stands. Its plain mosaics
are written anew in memory, with a void mark of their own, every source's own voids kept out and every source
a regular local raster; anything else a VRT can say (warping, scripts, filters, addresses) is refused.
"""

from __future__ import annotations

import copy
import xml.etree.ElementTree as ET
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from xml.sax.saxutils import quoteattr

from reach.errors import Fault, InputProblem
from reach.terrain.local_files import head, is_regular, is_utf8, is_view, open_local, shown_path, size_bytes

LARGEST_VIEW_BYTES = 20_000_000
MOST_SOURCES = 50_000
DEEPEST = 3  # views of views

_VOID_MARK = {"Byte": "0", "Int16": "-32768", "UInt16": "65535", "Int32": "-2147483648",
              "UInt32": "4294967295", "Float32": "nan", "Float64": "nan",
              "Int64": "-9223372036854775808"}  # fmt: skip
_BYTES_OF = {
    "Byte": 1,
    "Int16": 2,
    "UInt16": 2,
    "Int32": 4,
    "UInt32": 4,
    "Float32": 4,
    "Float64": 8,
    "Int64": 8,
}
_KEPT_OF_BAND = ("UnitType", "Offset", "Scale", "Description")
_KEPT_OF_SOURCE = ("SourceBand", "SourceProperties", "SrcRect", "DstRect", "NODATA", "ScaleOffset",
                   "ScaleRatio", "LUT")  # fmt: skip
_NO_PART = frozenset({"Histograms", "ColorInterp", "ColorTable", "CategoryNames", "HideNoDataValue",
                      "Metadata", "NoDataValue", "Overview", "NodataValue"})  # fmt: skip
_TO_GEOTIFF = "write it out as one GeoTIFF (gdal_translate), or put its rasters here themselves"


@dataclass(frozen=True)
class View:
    """A VRT that can be vouched for. text : what to give GDAL instead; sources : the rasters it shows.

    rescales : it alters its sources' values.
    """

    text: str
    sources: tuple[str, ...]
    rescales: bool


def read_view(path: str, name: str, *, check_source: Callable[[Any, str, str], None]) -> View:
    """A VRT file as it may be opened.

    check_source : called with each source raster (opened), its driver and its path; raises InputProblem for
        one whose pixels cannot be vouched for.
    Raises : InputProblem naming the VRT and what in it stands in the way.
    """
    return _Reader(name, check_source).view(path, depth=1)


class _Reader:
    def __init__(self, name: str, check_source: Callable[[Any, str, str], None]) -> None:
        self.name = name
        self.check_source = check_source
        self.sources: dict[str, str] = {}  # path -> what to write in its place
        self.rescales = False

    def refuse(self, problem: str, fix: str = _TO_GEOTIFF) -> InputProblem:
        return InputProblem(Fault(problem, fix, file=self.name))

    def view(self, path: str, *, depth: int) -> View:
        text = self.rewritten(path, depth=depth)
        return View(text, tuple(self.sources), self.rescales)

    def rewritten(self, path: str, *, depth: int) -> str:
        if depth > DEEPEST:
            raise self.refuse(f"this VRT shows VRTs more than {DEEPEST} deep")
        root = self.parsed(path)
        if root.get("subClass"):
            raise self.refuse(
                f"this VRT is a {_plain(root.get('subClass'))}, whose pixels cannot be vouched for",
                "rasters are read here in any coordinate system, so put its own rasters here, "
                "or write it out as one GeoTIFF (gdalwarp -dstnodata -9999)",
            )
        columns, rows = self.whole(root, "rasterXSize"), self.whole(root, "rasterYSize")
        bands = root.findall("VRTRasterBand")
        if len(bands) != 1:
            raise self.refuse(
                f"this VRT holds {len(bands)} bands: no elevation", "move it out of the terrain folder"
            )
        parts = [f'<VRTDataset rasterXSize="{columns}" rasterYSize="{rows}">']
        parts += [_copy(child) for child in root if child.tag in ("SRS", "GeoTransform", "Metadata")]
        masks = {s for mask in root.findall("MaskBand") for s in self.named(mask, Path(path).parent)}
        if not masks <= set(self.named(bands[0], Path(path).parent)):
            raise self.refuse("this VRT has a mask from other rasters")
        parts.append(self.band(bands[0], Path(path).parent, columns=columns, rows=rows, depth=depth))
        parts.append("</VRTDataset>")
        return "".join(parts)

    def parsed(self, path: str) -> ET.Element:
        size = size_bytes(path)
        if size is None or size > LARGEST_VIEW_BYTES:
            raise self.refuse(f"this VRT has more than {LARGEST_VIEW_BYTES / 1e6:.0f} MB")
        raw = Path(path).read_bytes()
        if b"<!DOCTYPE" in raw or b"<!ENTITY" in raw:
            raise self.refuse("this VRT defines XML entities", "remove them")
        try:
            root = ET.fromstring(raw)
        except (ET.ParseError, ValueError, LookupError) as error:
            raise self.refuse(f"this VRT is not XML ({error})", "make it again (gdalbuildvrt)") from None
        if root.tag != "VRTDataset":
            raise self.refuse("this file is no VRT", "remove it")
        return root

    def whole(self, element: ET.Element, key: str, default: int | None = None) -> int:
        text = element.get(key) if element.get(key) is not None else element.findtext(key)
        if text is None and default is not None:
            return default
        try:
            return int(str(text)[:30])
        except ValueError:
            raise self.refuse(f"this VRT does not say its {key}", "make it again (gdalbuildvrt)") from None

    def named(self, band: ET.Element, folder: Path) -> list[str]:
        """Paths of a band's sources."""
        return [self.path_of(element, folder) for element in band.iter("SourceFilename")]

    def path_of(self, element: ET.Element, folder: Path) -> str:
        text = (element.text or "").strip()
        if not text or "\0" in text or not is_utf8(text):
            raise self.refuse("this VRT names no file for one of its sources", "make it again (gdalbuildvrt)")
        if text.startswith("/vsizip/"):
            return text
        return str(folder / text)  # an absolute one stays as it is

    def band(self, band: ET.Element, folder: Path, *, columns: int, rows: int, depth: int) -> str:
        kind = band.get("dataType", "Byte")
        if kind not in _VOID_MARK:
            raise self.refuse(
                f"this VRT holds {_plain(kind)}: no elevation", "move it out of the terrain folder"
            )
        sub_class = band.get("subClass", "VRTSourcedRasterBand")
        declared = band.findtext("NoDataValue") or band.findtext("NodataValue")
        parts = [_copy(child) for child in band if child.tag in (*_KEPT_OF_BAND, "Metadata")]
        parts.append(_element("NoDataValue", (declared or _VOID_MARK[kind]).strip()))
        if sub_class == "VRTRawRasterBand":
            parts.append(self.raw(band, folder, kind, columns=columns, rows=rows))
            head_tag = f'<VRTRasterBand dataType="{kind}" band="1" subClass="VRTRawRasterBand">'
            return f"{head_tag}{''.join(parts)}</VRTRasterBand>"
        if sub_class != "VRTSourcedRasterBand":
            raise self.refuse(f"this VRT has a {_plain(sub_class)}, whose pixels cannot be vouched for")
        for child in band:
            if child.tag in ("SimpleSource", "ComplexSource"):
                parts.append(self.source(child, folder, depth=depth))
            elif child.tag not in _NO_PART and child.tag not in _KEPT_OF_BAND:
                raise self.refuse(f"this VRT has a part {_plain(child.tag)} that is not read here")
        return f'<VRTRasterBand dataType="{kind}" band="1">{"".join(parts)}</VRTRasterBand>'

    def source(self, source: ET.Element, folder: Path, *, depth: int) -> str:
        named = source.findall("SourceFilename")
        if len(named) != 1:
            raise self.refuse(
                "a source of this VRT names no file, or several", "make it again (gdalbuildvrt)"
            )
        path = self.path_of(named[0], folder)
        if path not in self.sources:
            if len(self.sources) >= MOST_SOURCES:
                raise self.refuse(f"this VRT names more than {MOST_SOURCES} rasters")
            self.sources[path] = self.vouched(path, depth=depth)
        known = {*_KEPT_OF_SOURCE, "SourceFilename", "UseMaskBand", "OpenOptions", "ColorTableComponent"}
        if unknown := [child.tag for child in source if child.tag not in known]:
            raise self.refuse(f"a source of this VRT has a part {_plain(unknown[0])} that is not read here")
        kept = [child for child in source if child.tag in _KEPT_OF_SOURCE]
        self.rescales |= any(child.tag in ("ScaleOffset", "ScaleRatio", "LUT") for child in kept)
        properties = "".join(_copy(child) for child in kept)
        shown = _escaped(self.sources[path])
        return (
            f'<ComplexSource><SourceFilename relativeToVRT="0">{shown}</SourceFilename>'
            f"{properties}<UseMaskBand>true</UseMaskBand></ComplexSource>"
        )

    def vouched(self, path: str, *, depth: int) -> str:
        """What to write for a source: its path, or the text of a view rewritten in turn."""
        if size_bytes(path) is None:
            raise self.refuse(
                f"this VRT shows {shown_path(path)!r}, which is no file here; only local files are read",
                "put that raster there, or make the VRT again from the rasters that are",
            )
        if not path.startswith("/vsi") and is_view(head(path)):
            return self.rewritten(path, depth=depth + 1)
        from rasterio.errors import RasterioError

        try:
            data, driver = open_local(path, self.name)
        except RasterioError as error:
            raise self.refuse(
                f"this VRT shows {shown_path(path)!r}, which cannot be read ({' '.join(str(error).split())})",
                "fetch that raster again",
            ) from None
        with data:
            self.check_source(data, driver, path)
        return path

    def raw(self, band: ET.Element, folder: Path, kind: str, *, columns: int, rows: int) -> str:
        path = self.path_of(next(band.iter("SourceFilename"), ET.Element("SourceFilename")), folder)
        size = size_bytes(path)
        if size is None or path.startswith("/vsi") or not is_regular(path):
            raise self.refuse(
                f"this VRT shows {shown_path(path)!r}, which is no file here; only local files are read",
                "put that file there",
            )
        offset = self.whole(band, "ImageOffset", 0)
        pixel = self.whole(band, "PixelOffset", _BYTES_OF[kind])
        line = self.whole(band, "LineOffset", pixel * columns)
        corners = [offset + i * pixel * (columns - 1) + j * line * (rows - 1) for i in (0, 1) for j in (0, 1)]
        if min(corners) < 0 or max(corners) + _BYTES_OF[kind] > size:
            raise self.refuse(
                f"this VRT reads to byte {max(corners) + _BYTES_OF[kind]} of {shown_path(Path(path).name)}, "
                f"which has {size}: it is cut short",
                "fetch that file again",
            )
        self.sources[path] = path
        order = (band.findtext("ByteOrder") or "LSB").strip().upper()
        return (
            f'<SourceFilename relativeToVRT="0">{_escaped(path)}</SourceFilename>'
            f"<ImageOffset>{offset}</ImageOffset><PixelOffset>{pixel}</PixelOffset><LineOffset>{line}</LineOffset>"
            f"<ByteOrder>{'MSB' if order == 'MSB' else 'LSB'}</ByteOrder>"
        )


def _plain(text: str | None) -> str:
    return "".join(c if c.isprintable() else "?" for c in (text or ""))[:40]


def _escaped(text: str) -> str:
    # line ends in a text of XML would be turned into others
    return quoteattr(text, {"'": "&apos;", '"': "&quot;"})[1:-1]


def _element(tag: str, text: str) -> str:
    return f"<{tag}>{_escaped(text)}</{tag}>"


def _copy(element: ET.Element) -> str:
    copied = copy.deepcopy(element)
    copied.tail = None
    return ET.tostring(copied, encoding="unicode")

"""Which files below the terrain folders may be elevation rasters."""

from __future__ import annotations

import os
import re
import zipfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from reach.errors import Fault
from reach.terrain.local_files import (
    LARGEST_ZIP_MEMBER_BYTES,
    MOST_ZIP_MEMBERS,
    is_regular,
    is_utf8,
    shown_path,
)

MOST_FILES = 200_000

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


@dataclass(frozen=True)
class Candidate:
    """A file that may be a raster.

    path : what GDAL opens; name : for messages; is_promised : the file's name promises a raster.
    folders : names of the folders it lies in below and with the given one, the nearest first.
    """

    path: str
    name: str
    is_promised: bool
    folders: tuple[str, ...] = ()


def candidates(folders: Sequence[str | Path]) -> Iterator[Candidate | Fault]:
    """Candidate rasters below folders (or single files), in a fixed order; files that begin with a dot and
    those that only come along with rasters are passed over.

    Yields : candidates, and a Fault for a folder that is not there, a zip that cannot be read, a file named
        as a raster that is none or whose name GDAL cannot be given.
    """
    for given in folders:
        root = Path(given)
        if root.is_dir():
            files = sorted(Path(base) / name for base, _, names in os.walk(root) for name in names)
        elif root.exists():
            files = [root]
        else:
            yield Fault(
                f"the terrain folder {shown_path(given)} does not exist",
                "make it, or correct folders under [terrain] in net.toml",
            )
            continue
        if len(files) > MOST_FILES:
            yield Fault(
                f"the terrain folder {shown_path(given)} holds {len(files)} files, more than {MOST_FILES}",
                "name the folder that holds the tiles",
            )
            continue
        for file in files:
            yield from _of_file(file, root)


def _of_file(file: Path, root: Path) -> Iterator[Candidate | Fault]:
    suffix = file.suffix.lower()
    if file.name.startswith(".") or suffix in SIDE_FILES:
        return
    is_promised = suffix in RASTER_SUFFIXES or suffix == ".zip"
    name = shown_path(file.name)
    if not is_regular(file):
        if is_promised:
            yield Fault("is not a regular file", "remove it, or put the raster itself there", file=name)
        return
    if not is_utf8(file):
        if is_promised:
            yield Fault("the name of this file or of its folder is not UTF-8 text", "rename it", file=name)
        return
    inside = file.parent.relative_to(root).parts if root.is_dir() else ()
    folders = (*reversed(inside), root.name) if root.is_dir() else (file.parent.name,)
    if suffix != ".zip":
        yield Candidate(str(file), name, is_promised, folders)
        return
    for member in _members(file):
        if isinstance(member, Fault):
            yield member
        else:
            path = f"/vsizip/{{{file.resolve()}}}/{member}"
            yield Candidate(path, f"{name}: {shown_path(member)}", True, (file.stem, *folders))


def _members(file: Path) -> Iterator[str | Fault]:
    """Names of the rasters in a zip."""
    name = shown_path(file.name)
    try:
        with zipfile.ZipFile(file) as archive:
            members = archive.infolist()
    except (zipfile.BadZipFile, OSError, ValueError, NotImplementedError):
        yield Fault(
            "this zip file cannot be read; it is damaged or not fully downloaded",
            "fetch it again or remove it",
            file=name,
        )
        return
    if len(members) > MOST_ZIP_MEMBERS:
        yield Fault(
            f"this zip holds {len(members)} files; at most {MOST_ZIP_MEMBERS} are read",
            "unpack it",
            file=name,
        )
        return
    for member in sorted(members, key=lambda info: info.filename):
        inner = Path(member.filename)
        # what a VRT in there shows lies beside it and is read itself
        if inner.suffix.lower() not in RASTER_SUFFIXES - {".vrt"} or member.filename.startswith("__MACOSX"):
            continue
        if any(c in member.filename for c in "{}\0\\") or ".." in inner.parts or not is_utf8(member.filename):
            yield Fault(
                f"holds a file with the odd name {shown_path(member.filename)!r}", "unpack it", file=name
            )
        elif member.file_size > LARGEST_ZIP_MEMBER_BYTES:
            yield Fault(
                f"{shown_path(member.filename)!r} in it has {member.file_size / 1e9:.0f} GB",
                "unpack it, if that is right",
                file=name,
            )
        elif member.flag_bits & 0x1:
            yield Fault(
                f"{shown_path(member.filename)!r} in it is locked with a password", "unpack it", file=name
            )
        else:
            yield member.filename

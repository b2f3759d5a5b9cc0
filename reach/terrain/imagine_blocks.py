"""Whether an ERDAS Imagine raster (.img) was written in full; GDAL shows zeros for blocks that were not.

Layout of the file's tree and of a layer's block table (Edms_State) after the vendor's description of
the HFA format (from memory; checked against files GDAL writes).
"""

from __future__ import annotations

import os
import struct
from typing import BinaryIO

_START = b"EHFA_HEADER_TAG\0"
_MOST_NODES, _MOST_BLOCKS = 20_000, 20_000_000
_TABLE = b"RasterDMS"


def has_unwritten_blocks(path: str | os.PathLike[str]) -> bool:
    """True when the first layer's block table marks blocks as never written; False when it has no such table.

    A layer kept in a file of its own (.ige) has none here.
    """
    with open(path, "rb") as file:
        if file.read(16) != _START:
            return False
        try:
            (header,) = struct.unpack("<I", file.read(4))
            file.seek(header)
            _, _, root = struct.unpack("<iII", file.read(12))
            where = _first_table(file, root)
            return where is not None and _has_unwritten(file, *where)
        except struct.error:  # runs past the end; GDAL tells that itself
            return False


def _first_table(file: BinaryIO, root: int) -> tuple[int, int] | None:
    """(place, bytes) of the block table nearest to the root."""
    level, seen = [root], 0
    while level:
        below: list[int] = []
        for first in level:
            node = first
            while node:
                seen += 1
                if seen > _MOST_NODES:
                    return None
                file.seek(node)
                following, _, _, child, data, size = struct.unpack("<6I", file.read(24))
                if file.read(64).split(b"\0")[0] == _TABLE:
                    return data, size
                if child:
                    below.append(child)
                node = following
        level = below
    return None


def _has_unwritten(file: BinaryIO, place: int, size: int) -> bool:
    file.seek(place)
    blocks, _, _, _, count, _ = struct.unpack("<IIIHII", file.read(22))
    if blocks != count or count > _MOST_BLOCKS or 22 + 14 * count > size:
        return False
    table = file.read(14 * count)
    # of each block: file, offset, size, whether it was written, compression
    return any(not valid for _, _, _, valid, _ in struct.iter_unpack("<hIIhh", table))

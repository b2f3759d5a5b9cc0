"""Whether a TIFF file is as long as its own directory says, and whether all of its image was ever written.

TIFF 6.0, section 2 (image file directories) and the BigTIFF layout; field numbers from the same.
"""

from __future__ import annotations

import os
import struct
from dataclasses import dataclass
from typing import BinaryIO

_SIZE_OF_TYPE = {
    1: 1,
    2: 1,
    3: 2,
    4: 4,
    5: 8,
    6: 1,
    7: 1,
    8: 2,
    9: 4,
    10: 8,
    11: 4,
    12: 8,
    13: 4,
    16: 8,
    17: 8,
    18: 8,
}
_INTEGER = {1: "B", 3: "H", 4: "I", 13: "I", 16: "Q", 18: "Q"}
_STRIP_OFFSETS, _STRIP_BYTES, _TILE_OFFSETS, _TILE_BYTES = 273, 279, 324, 325
_BLOCK_FIELDS = (_STRIP_OFFSETS, _STRIP_BYTES, _TILE_OFFSETS, _TILE_BYTES)
_MOST_ENTRIES, _MOST_BLOCKS = 4096, 20_000_000


@dataclass(frozen=True)
class TiffEnds:
    """missing_bytes : how many at least its first image lacks; has_holes : blocks were never written."""

    missing_bytes: int = 0
    has_holes: bool = False


def tiff_ends(path: str | os.PathLike[str]) -> TiffEnds:
    """What the directory of a TIFF file promises against what is there; nothing found for no plain TIFF."""
    length = os.path.getsize(path)
    with open(path, "rb") as file:
        try:
            end, has_holes = _first_image(file, length)
        except struct.error:  # the directory itself runs past the end
            return TiffEnds(1)
    return TiffEnds(max(0, end - length), has_holes)


def _first_image(file: BinaryIO, length: int) -> tuple[int, bool]:
    """(byte after the last one the first image needs, whether blocks of it were never written)."""
    start = file.read(16)
    order = {b"II": "<", b"MM": ">"}.get(start[:2])
    if order is None:
        return 0, False
    (version,) = struct.unpack(order + "H", start[2:4])
    if version == 43:
        (directory,) = struct.unpack(order + "Q", start[8:16])
        count_code, entry_code, inline = "Q", "HHQ", 8
    elif version == 42:
        (directory,) = struct.unpack(order + "I", start[4:8])
        count_code, entry_code, inline = "H", "HHI", 4
    else:
        return 0, False
    head_size = struct.calcsize(order + count_code)
    if directory + head_size > length:
        return directory + head_size, False
    file.seek(directory)
    (count,) = struct.unpack(order + count_code, file.read(head_size))
    if count > _MOST_ENTRIES:
        return 0, False
    entry_size = struct.calcsize(order + entry_code) + inline
    end = directory + head_size + count * entry_size
    if end > length:
        return end, False
    entries = file.read(count * entry_size)
    blocks: dict[int, tuple[int, ...]] = {}
    for i in range(count):
        entry = entries[i * entry_size : (i + 1) * entry_size]
        field, kind, values = struct.unpack(order + entry_code, entry[:-inline])
        size = _SIZE_OF_TYPE.get(kind, 1) * values
        raw = entry[-inline:][:size]
        if size > inline:
            (offset,) = struct.unpack(order + ("Q" if inline == 8 else "I"), entry[-inline:])
            end = max(end, offset + size)
            if end > length:
                return end, False
        if field in _BLOCK_FIELDS and kind in _INTEGER and values <= _MOST_BLOCKS:
            if size > inline:
                file.seek(offset)
                raw = file.read(size)
            blocks[field] = struct.unpack(f"{order}{values}{_INTEGER[kind]}", raw)
    has_holes = False
    for offsets, sizes in ((_STRIP_OFFSETS, _STRIP_BYTES), (_TILE_OFFSETS, _TILE_BYTES)):
        for offset, size in zip(blocks.get(offsets, ()), blocks.get(sizes, ())):
            if offset and size:
                end = max(end, offset + size)
            else:
                has_holes = True
    return end, has_holes

"""How this process keeps its memory: a command is short, makes many records and large arrays, and ends."""

from __future__ import annotations

import ctypes
import gc
import sys

RECORDS_BEFORE_A_LOOK_FOR_CYCLES = 100_000  # usually 700: next to nothing here lies in cycles
# parameters of mallopt(3) in GNU's C library
_TRIM_THRESHOLD, _TOP_PAD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -2, -3, -8
_GROWS_BY_BYTES, _NEVER_BYTES = 64 * 2**20, 2**30


def keep_memory() -> None:
    """Use memory that was given back again rather than ask the system for it anew.

    Cycles of records are looked for seldom. With GNU's C library every array comes out of one heap, which is
    not handed back in between: else each large one is mapped, cleared page by page and unmapped again, a
    fifth of the time of an area. The most memory in use stays the same.
    """
    gc.set_threshold(RECORDS_BEFORE_A_LOOK_FOR_CYCLES, 50, 50)
    if not sys.platform.startswith("linux"):
        return
    mallopt = getattr(ctypes.CDLL(None), "mallopt", None)  # other C libraries of Linux have none
    if mallopt is None:
        return
    mallopt(_ARENA_MAX, 1)
    mallopt(_TOP_PAD, _GROWS_BY_BYTES)
    mallopt(_TRIM_THRESHOLD, _NEVER_BYTES)
    mallopt(_MMAP_THRESHOLD, _NEVER_BYTES)

"""How much memory an area plan takes, said before it starts, and refused when it would not fit."""

from __future__ import annotations

import os
from pathlib import Path

from reach.coverage.grid import radius_in_cells
from reach.errors import ReachError

# measured with every output written: 77 bytes a cell from 1.8 to 10.2 million cells
BYTES_A_CELL = 80
SHARE_USED = 0.8  # of what is free
_MEMORY_FILE = Path("/proc/meminfo")
_LIMIT_FILE = Path("/sys/fs/cgroup/memory.max")


def area_memory_bytes(*, radius_m: float, cell_m: float, sites_at_once: int = 1) -> int:
    """Peak memory of an area plan, bytes, without what the program itself takes. Raises : OutOfRange."""
    side = 2 * radius_in_cells(radius_m=radius_m, cell_m=cell_m) + 1
    return side * side * BYTES_A_CELL * sites_at_once


def available_memory_bytes() -> int | None:
    """Memory that can be had without pushing anything out; None where the system does not say."""
    found: list[int] = []
    if _MEMORY_FILE.exists():
        for line in _MEMORY_FILE.read_text(encoding="ascii").splitlines():
            if line.startswith("MemAvailable:"):
                found.append(int(line.split()[1]) * 1024)
    elif hasattr(os, "sysconf") and "SC_PHYS_PAGES" in os.sysconf_names:
        found.append(os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE"))
    if _LIMIT_FILE.exists():
        limit = _LIMIT_FILE.read_text(encoding="ascii").strip()
        if limit.isdecimal():
            found.append(int(limit))
    return min(found, default=None)


def check_memory(*, radius_m: float, cell_m: float, sites_at_once: int = 1) -> int:
    """The memory needed, bytes. Raises : ReachError when it would not fit, naming a cell that would."""
    needed = area_memory_bytes(radius_m=radius_m, cell_m=cell_m, sites_at_once=sites_at_once)
    available = available_memory_bytes()
    if available is not None and needed > available * SHARE_USED:
        fits_m = cell_m * (needed / (available * SHARE_USED)) ** 0.5
        raise ReachError(
            f"{radius_m / 1000.0:g} km on {cell_m:g} m cells takes about {megabytes(needed)}, and "
            f"{megabytes(available)} is free; take cells of {_rounded_up(fits_m):g} m, or a smaller radius."
        )
    return needed


def megabytes(size: int) -> str:
    """'580 MB' or '2.3 GB'."""
    return f"{size / 1e9:.1f} GB" if size >= 1e9 else f"{max(1, round(size / 1e6))} MB"


def _rounded_up(cell_m: float) -> float:
    step = 5.0 if cell_m > 10.0 else 1.0
    return step * -(-cell_m // step)

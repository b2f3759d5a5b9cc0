"""How much memory an area plan takes, said before it starts, and refused when it would not fit."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path

from reach.coverage.sweep.grid import radius_in_cells
from reach.errors import OutOfRange, ReachError
from reach.geodesy import METRES_PER_DEGREE
from reach.stations import Position
from reach.units import length_in_words

# measured with every output written (share of pages held in common counted once), 0.01 to 11 million cells:
PROGRAM_BYTES = 400_000_000  # 390 MB with all libraries loaded
BYTES_A_CELL = 105  # of a site being swept and written: 85 to 104
BYTES_A_SITE_CELL = 24  # of every finished site held while others are swept, and all are laid together
BYTES_A_REGION_CELL = 65  # of the region they are laid on: 58
SHARE_USED = 0.8  # of what is free
_MEMORY_FILE = Path("/proc/meminfo")
_LIMIT_FILE = Path("/sys/fs/cgroup/memory.max")
_USED_FILE = Path("/sys/fs/cgroup/memory.stat")


def cell_memory_bytes(sites: Sequence[Position], *, radius_m: float, cell_m: float, beside: int) -> int:
    """Peak memory of the cells of an area plan, bytes: either of the sweeps or of laying the sites together.

    beside : sites swept here at the same time; 0 where a cluster sweeps them.

    Raises : OutOfRange; ValueError without a site.
    """
    side = 2 * radius_in_cells(radius_m=radius_m, cell_m=cell_m) + 1
    cells = side * side
    latitudes = [site.latitude_deg for site in sites]
    longitudes = [site.longitude_deg for site in sites]
    high_m = (max(latitudes) - min(latitudes)) * METRES_PER_DEGREE
    wide_m = (max(longitudes) - min(longitudes)) * METRES_PER_DEGREE
    wide_m *= math.cos(math.radians(min(latitudes, key=abs)))
    region = (side + math.ceil(high_m / cell_m)) * (side + math.ceil(wide_m / cell_m))
    sweeping = cells * (beside * BYTES_A_CELL + (len(sites) - beside) * BYTES_A_SITE_CELL)
    together = len(sites) * cells * BYTES_A_SITE_CELL + region * BYTES_A_REGION_CELL
    return max(sweeping, together)


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
            found.append(max(0, int(limit) - _used_in_container_bytes()))
    return min(found, default=None)


def _used_in_container_bytes() -> int:
    """What the container's processes hold, without files kept in memory, which make room when asked."""
    if not _USED_FILE.exists():
        return 0
    lines = (line.split() for line in _USED_FILE.read_text(encoding="ascii").splitlines())
    return next((int(words[1]) for words in lines if words[:1] == ["anon"]), 0)


def check_memory(sites: Sequence[Position], *, radius_m: float, cell_m: float, beside: int = 1) -> int:
    """The memory needed, bytes, the program itself included.

    sites : where they stand; beside : as `cell_memory_bytes`.
    Raises : ReachError when it would not fit, naming a cell and a radius that would.
    """
    cells = cell_memory_bytes(sites, radius_m=radius_m, cell_m=cell_m, beside=beside)
    needed = PROGRAM_BYTES + cells
    available = available_memory_bytes()
    if available is None or needed <= available * SHARE_USED:
        return needed
    left = available * SHARE_USED - PROGRAM_BYTES
    fix = "free some first: the program alone takes most of that"
    if left > 0.0:
        larger_m = _rounded_up(cell_m * (cells / left) ** 0.5)
        fix = f"take cells of {length_in_words(larger_m)}"
        nearer_m = _radius_that_fits_m(sites, left, radius_m=radius_m, cell_m=cell_m, beside=beside)
        if nearer_m is not None:
            fix += f", or a radius of {length_in_words(nearer_m)}"
    raise ReachError(
        f"{length_in_words(radius_m)} on {length_in_words(cell_m)} cells takes about "
        f"{megabytes(needed)}, and {megabytes(available)} is free; {fix}."
    )


def _radius_that_fits_m(
    sites: Sequence[Position], left: float, *, radius_m: float, cell_m: float, beside: int
) -> float | None:
    """The largest radius, in whole kilometres, whose cells fit into what is left; None where none does."""
    for km in range(math.ceil(radius_m / 1000.0) - 1, 0, -1):
        nearer_m = km * 1000.0
        try:
            if cell_memory_bytes(sites, radius_m=nearer_m, cell_m=cell_m, beside=beside) <= left:
                return nearer_m
        except OutOfRange:
            return None
    return None


def megabytes(size: int) -> str:
    """'580 MB' or '2.3 GB'."""
    return f"{size / 1e9:.1f} GB" if size >= 1e9 else f"{max(1, round(size / 1e6))} MB"


def _rounded_up(cell_m: float) -> float:
    step = 5.0 if cell_m > 10.0 else 1.0
    return step * -(-cell_m // step)

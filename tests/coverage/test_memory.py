"""Memory said beforehand."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.coverage import memory
from reach.coverage.memory import (
    BYTES_A_CELL,
    area_memory_bytes,
    available_memory_bytes,
    check_memory,
    megabytes,
)
from reach.errors import OutOfRange, ReachError


def test_memory_goes_with_the_cells_and_the_sites_at_once() -> None:
    one = area_memory_bytes(radius_m=50_000.0, cell_m=30.0)
    assert one == (2 * 1667 + 1) ** 2 * BYTES_A_CELL
    assert area_memory_bytes(radius_m=50_000.0, cell_m=30.0, sites_at_once=3) == 3 * one
    with pytest.raises(OutOfRange):
        area_memory_bytes(radius_m=0.0, cell_m=30.0)


def test_what_would_not_fit_is_refused_with_a_cell_that_would(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 500_000_000)
    with pytest.raises(
        ReachError, match=r"50 km on 30 m cells takes about .* MB, and 500 MB is free; take cells of"
    ):
        check_memory(radius_m=50_000.0, cell_m=30.0)
    try:
        check_memory(radius_m=50_000.0, cell_m=30.0)
    except ReachError as error:
        cell = float(str(error).split("cells of ")[1].split(" m")[0])
    assert check_memory(radius_m=50_000.0, cell_m=cell) <= 400_000_000
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: None)
    assert check_memory(radius_m=50_000.0, cell_m=30.0) > 0


def test_a_container_limit_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    limit, free = tmp_path / "memory.max", tmp_path / "meminfo"
    free.write_text("MemTotal: 99 kB\nMemAvailable:    2000 kB\n", encoding="ascii")
    monkeypatch.setattr(memory, "_MEMORY_FILE", free)
    monkeypatch.setattr(memory, "_LIMIT_FILE", limit)
    assert available_memory_bytes() == 2000 * 1024
    limit.write_text("max\n", encoding="ascii")
    assert available_memory_bytes() == 2000 * 1024
    limit.write_text("1000000\n", encoding="ascii")
    assert available_memory_bytes() == 1_000_000


def test_sizes_are_said_in_words() -> None:
    assert (megabytes(5), megabytes(580_200_000), megabytes(2_340_000_000)) == ("1 MB", "580 MB", "2.3 GB")

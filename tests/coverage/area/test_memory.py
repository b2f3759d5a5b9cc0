"""Memory said beforehand."""

from __future__ import annotations

from pathlib import Path

import pytest

from reach.coverage.area import memory
from reach.coverage.area.memory import (
    BYTES_A_CELL,
    BYTES_A_REGION_CELL,
    BYTES_A_SITE_CELL,
    PROGRAM_BYTES,
    available_memory_bytes,
    cell_memory_bytes,
    check_memory,
    megabytes,
)
from reach.errors import OutOfRange, ReachError
from reach.stations import Position

HERE = Position(41.2, -38.2)
CELLS = (2 * 1667 + 1) ** 2  # 50 km on 30 m cells


def test_memory_goes_with_the_cells_and_the_sites_at_once() -> None:
    one = cell_memory_bytes([HERE], radius_m=50_000.0, cell_m=30.0, beside=1)
    assert one == CELLS * BYTES_A_CELL
    two = cell_memory_bytes([HERE] * 2, radius_m=50_000.0, cell_m=30.0, beside=2)
    assert two == 2 * CELLS * BYTES_A_CELL
    many = cell_memory_bytes([HERE] * 40, radius_m=50_000.0, cell_m=30.0, beside=2)
    sweeping, together = (
        2 * BYTES_A_CELL + 38 * BYTES_A_SITE_CELL,
        40 * BYTES_A_SITE_CELL + BYTES_A_REGION_CELL,
    )
    assert many == CELLS * max(sweeping, together)
    side_by_side = cell_memory_bytes([HERE] * 4, radius_m=50_000.0, cell_m=30.0, beside=2)
    assert side_by_side == CELLS * 2 * (BYTES_A_CELL + BYTES_A_SITE_CELL)
    with pytest.raises(OutOfRange):
        cell_memory_bytes([HERE], radius_m=0.0, cell_m=30.0, beside=1)


def test_sites_far_apart_take_the_region_between_them() -> None:
    far = Position(HERE.latitude_deg + 2.0, HERE.longitude_deg)
    side = 2 * 334 + 1  # 10 km on 30 m cells
    found = cell_memory_bytes([HERE, far], radius_m=10_000.0, cell_m=30.0, beside=1)
    down = side + 222_640.0 / 30.0
    assert found == pytest.approx(
        2 * side**2 * BYTES_A_SITE_CELL + side * down * BYTES_A_REGION_CELL, rel=0.001
    )


def test_what_would_not_fit_is_refused_with_a_cell_that_would(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 1_000_000_000)
    with pytest.raises(
        ReachError, match=r"50 km on 30 m cells takes about 1\.6 GB, and 1\.0 GB is free; take cells of"
    ) as refused:
        check_memory([HERE], radius_m=50_000.0, cell_m=30.0)
    cell = float(str(refused.value).split("cells of ")[1].split(" m")[0])
    assert 30.0 < cell < 60.0
    assert check_memory([HERE], radius_m=50_000.0, cell_m=cell) <= 800_000_000
    radius_km = float(str(refused.value).split("radius of ")[1].split(" km")[0])
    assert 20.0 < radius_km < 50.0
    assert check_memory([HERE], radius_m=radius_km * 1000.0, cell_m=30.0) <= 800_000_000
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: None)
    assert check_memory([HERE], radius_m=50_000.0, cell_m=30.0) == PROGRAM_BYTES + CELLS * BYTES_A_CELL


def test_where_the_program_alone_does_not_fit_no_cell_is_offered(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(memory, "available_memory_bytes", lambda: 450_000_000)
    with pytest.raises(ReachError, match=r"450 MB is free; free some first") as refused:
        check_memory([HERE], radius_m=5_000.0, cell_m=90.0)
    assert "cells of" not in str(refused.value)


def test_a_container_limit_counts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    limit, free = tmp_path / "memory.max", tmp_path / "meminfo"
    free.write_text("MemTotal: 99 kB\nMemAvailable:    2000 kB\n", encoding="ascii")
    monkeypatch.setattr(memory, "_MEMORY_FILE", free)
    monkeypatch.setattr(memory, "_LIMIT_FILE", limit)
    used = tmp_path / "memory.stat"
    monkeypatch.setattr(memory, "_USED_FILE", used)
    assert available_memory_bytes() == 2000 * 1024
    limit.write_text("max\n", encoding="ascii")
    assert available_memory_bytes() == 2000 * 1024
    limit.write_text("1000000\n", encoding="ascii")
    assert available_memory_bytes() == 1_000_000
    used.write_text("anon 400000\nfile 500000\n", encoding="ascii")
    assert available_memory_bytes() == 600_000
    limit.write_text("300000\n", encoding="ascii")
    assert available_memory_bytes() == 0


def test_sizes_are_said_in_words() -> None:
    assert (megabytes(5), megabytes(580_200_000), megabytes(2_340_000_000)) == ("1 MB", "580 MB", "2.3 GB")

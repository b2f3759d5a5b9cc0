"""No cell belongs to two of the sweep's tasks, and none to nobody."""

from __future__ import annotations

import math

import numpy as np
import pytest

from reach.coverage.sweep import run
from reach.coverage.sweep._sweep_kernel import OCTANTS, border
from reach.coverage.sweep._tuples_kernel import SINH_SPAN, new_scratch
from reach.coverage.sweep._walk_kernel import owned_stretch
from reach.coverage.sweep.loss import area_loss
from reach.coverage.sweep.path import AreaPath
from reach.coverage.sweep.run import radial_layout
from tests.coverage.conftest import grid_of, ground_of

# numbers of radials where the last one's border is above 1, or below, unless rounding is kept out of it
ROUNDED_UP = [n for n in range(24, 800) if math.sinh(SINH_SPAN * n / n) > 1.0]
ROUNDED_DOWN = [n for n in range(24, 800) if math.sinh(SINH_SPAN * n / n) < 1.0]


def owners(radials: int, reach: int) -> tuple[int, ...]:
    """How many radials own each cell of an octant's diagonal, of both octants beside it."""
    owned = new_scratch(reach, 0, 0).owned
    found = np.zeros(reach + 1, dtype=np.int64)
    for owns_low in (True, False):
        for radial in range(radials):
            low, high = border(radial, radials), border(radial + 1, radials)
            count = owned_stretch((1, reach), low, high, owns_low, 4 * reach**2, 0, 1, 10_000, owned)
            columns, rows = owned.column[:count], (owned.cell[:count] - owned.column[:count]) // 10_000
            np.add.at(found, columns[rows == columns], 1)
    return tuple(found[1:].tolist())


def test_there_are_numbers_of_radials_that_rounding_would_spoil() -> None:
    assert ROUNDED_UP or ROUNDED_DOWN


@pytest.mark.parametrize("radials", [24, 47, *ROUNDED_UP[:3], *ROUNDED_DOWN[:3]])
def test_a_cell_on_the_diagonal_belongs_to_one_octant(radials: int) -> None:
    assert set(owners(radials, 200)) == {1}


def spoilt_radii() -> list[int]:
    """Radii, in cells, of which some level of radials would be spoilt by rounding."""
    spoilt = {*ROUNDED_UP, *ROUNDED_DOWN}
    radii = []
    for radius in range(60, 260):
        roots, levels = radial_layout(radius)
        if any(roots << level in spoilt for level in range(levels + 1)):
            radii.append(radius)
    return radii


@pytest.mark.parametrize("radius", [100, *spoilt_radii()[:3]])
def test_tasks_done_backwards_fill_the_same_cells_with_the_same_bits(
    radius: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    grid = grid_of(ground_of("rough", radius, seed=4))
    forwards = area_loss(grid, AreaPath(146.0, 30.0, 1.5)).loss_db

    def backwards(kernel, tasks, *arguments, **_) -> None:  # type: ignore[no-untyped-def]
        assert tasks % OCTANTS == 0
        for task in reversed(range(tasks)):
            kernel(task, task + 1, *arguments)

    monkeypatch.setattr(run, "over_tasks", backwards)
    loss_db = area_loss(grid, AreaPath(146.0, 30.0, 1.5)).loss_db
    np.testing.assert_array_equal(loss_db, forwards)
    assert not np.isnan(forwards[grid.inside()]).any()

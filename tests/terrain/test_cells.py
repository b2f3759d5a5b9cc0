"""Names of one-degree cells, and which of them a net needs."""

from __future__ import annotations

import pytest

from reach.stations import Position
from reach.terrain.cells import cell_name, needed_cells


@pytest.mark.parametrize(
    ("latitude", "longitude", "name"),
    [
        (42.5, -71.5, "N42W072"),  # the SRTM convention's own example: south-west corner
        (41.2, -38.1, "N41W039"),
        (-0.5, 10.5, "S01E010"),
        (0.0, 0.0, "N00E000"),
        (-33.9, 151.2, "S34E151"),
        (10.0, 180.0, "N10W180"),
        (90.0, 5.0, "N89E005"),
    ],
)
def test_cell_name(latitude: float, longitude: float, name: str) -> None:
    assert cell_name(latitude, longitude) == name


def test_cells_between_and_not_only_at_the_ends() -> None:
    ends = [Position(41.5, -72.5), Position(41.5, -70.5)]
    assert needed_cells(ends) == ("N41W071", "N41W072", "N41W073")
    assert needed_cells(ends[:1]) == ("N41W073",)
    assert needed_cells([]) == ()
